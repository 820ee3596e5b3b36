"""An outside validator of research object crates (roc-validator), without a network.

The validator fetches the context that crates name. Its cache is given, under that address, the
terms that our crate uses: those of schema.org as in the RO-Crate context, those of bioschemas as
in the shapes of the validator's Workflow Run Crate profile.
"""

from __future__ import annotations

import io
import json
import warnings
from pathlib import Path

import requests
import requests_cache
from rocrate_validator import services
from urllib3 import HTTPResponse

CONTEXT = "https://w3id.org/ro/crate/1.1/context"
_SCHEMA = """
ComputerLanguage CreateAction CreativeWork Dataset DefinedTerm Organization Person
SoftwareApplication SoftwareSourceCode about actionStatus additionalType affiliation author
contentSize datePublished description encodingFormat exampleOfWork hasPart instrument license
mainEntity mentions name object programmingLanguage publisher result softwareRequirements
softwareVersion version workExample
"""
TERMS = {
    **{term: f"http://schema.org/{term}" for term in _SCHEMA.split()},
    "File": "http://schema.org/MediaObject",
    "conformsTo": "http://purl.org/dc/terms/conformsTo",
    "ComputationalWorkflow": "https://bioschemas.org/ComputationalWorkflow",
    "FormalParameter": "https://bioschemas.org/FormalParameter",
    "input": "https://bioschemas.org/ComputationalWorkflow#input",
    "output": "https://bioschemas.org/ComputationalWorkflow#output",
}


class _Given(requests.adapters.BaseAdapter):
    """Answer with the terms, in place of the network."""

    def send(self, request: requests.PreparedRequest, **_: object) -> requests.Response:
        """Give the terms."""
        raw = HTTPResponse(
            body=io.BytesIO(json.dumps({"@context": TERMS}).encode()),
            headers={"Content-Type": "application/ld+json"},
            status=200,
            preload_content=False,
        )
        return requests.adapters.HTTPAdapter().build_response(request, raw)

    def close(self) -> None:
        """Nothing is open."""


def issues(bag: Path, cache: Path, *, severity: str = "REQUIRED") -> list[str]:
    """What the validator has against a bag, by the Workflow Run Crate profile and its parents."""
    with requests_cache.CachedSession(str(cache), backend="sqlite", expire_after=-1) as session:
        session.mount("https://", _Given())
        assert session.get(CONTEXT).ok
    settings = services.ValidationSettings(
        rocrate_uri=str(bag),
        profile_identifier="workflow-run-crate-0.5",
        requirement_severity=severity,
        offline=True,
        cache_path=cache,
    )
    with warnings.catch_warnings():
        # of the validator's own use of the library for graphs
        warnings.simplefilter("ignore", DeprecationWarning)
        result = services.validate(settings)
    assert len(result.executed_checks) > 40
    return [f"{one.check.identifier}: {one.message}" for one in result.get_issues()]


def unknown_terms(bag: Path) -> set[str]:
    """Properties and types of a crate that the context would silently drop."""
    graph = json.loads((bag / "data" / "ro-crate-metadata.json").read_bytes())["@graph"]
    used = {key for entity in graph for key in entity if not key.startswith("@")}
    for entity in graph:
        types = entity["@type"]
        used |= set(types if isinstance(types, list) else [types])
    return used - set(TERMS)
