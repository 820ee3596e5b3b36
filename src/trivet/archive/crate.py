"""Describe a bag as a research object crate: what each file is, and which run made it from what.

References
----------
RO-Crate 1.1, sections 'Root Data Entity', 'Data Entities' and 'Contextual Entities'; Workflow
RO-Crate 1.0; Process Run Crate 0.5 and Workflow Run Crate 0.5.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from urllib.parse import quote

from trivet.schema.tables.vocabulary import OBJECTS

METADATA_FILE = "ro-crate-metadata.json"
README_FILE = "README.md"
WORKFLOW_FILE = "workflow/Snakefile"
CONTEXT = "https://w3id.org/ro/crate/1.1/context"
CRATE_PROFILE = "https://w3id.org/ro/crate/1.1"
WORKFLOW_PROFILE = "https://w3id.org/workflowhub/workflow-ro-crate/1.0"
RUN_PROFILES = {
    "https://w3id.org/ro/wfrun/process/0.5": ("Process Run Crate", "0.5"),
    "https://w3id.org/ro/wfrun/workflow/0.5": ("Workflow Run Crate", "0.5"),
    WORKFLOW_PROFILE: ("Workflow RO-Crate", "1.0"),
}
"""Name and version by address of the profiles that the crate follows."""

_BIOSCHEMAS = "https://bioschemas.org/profiles/"
_SNAKEMAKE = "https://w3id.org/workflowhub/workflow-ro-crate#snakemake"
_FORMATS = {
    ".csv": "text/csv",
    ".html": "text/html",
    ".json": "application/json",
    ".parquet": "application/vnd.apache.parquet",
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".txt": "text/plain",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".yaml": "application/yaml",
}
_FOLDERS = {
    "config": "settings, build sheet, bench log and layouts as people wrote them, and as used",
    "figures": "figures, each with the numbers it was drawn from",
    "raw": "copies of the raw files",
    "tables": "every table of the results as text and as Parquet",
    "workflow": "the rules that made the results",
}

Entity = dict[str, object]


@dataclass(frozen=True)
class CrateFacts:
    """What the crate says of the campaign.

    Attributes
    ----------
    title, question, organisation, licence : str
        As in the settings; empty where not stated.
    people : tuple of str
        Who answers for the campaign.
    date : str or None
        Date of the data cut; None where neither data nor sheet have any date.
    invented : bool
        Whether the data are invented.
    versions : mapping of str to str
        Version by name of the program, of Python and of the libraries.
    descriptions : mapping of str to str
        What a file is, by its path in the bag.
    inputs : mapping of str to str
        Path in the bag by name of each input of the run.
    """

    title: str
    question: str
    organisation: str
    licence: str
    people: tuple[str, ...]
    date: str | None
    invented: bool
    versions: Mapping[str, str]
    descriptions: Mapping[str, str]
    inputs: Mapping[str, str]


def crate_metadata(payload: Mapping[str, Path | bytes], facts: CrateFacts) -> bytes:
    """Give `ro-crate-metadata.json` of a bag's payload, the same for the same payload.

    The run has no time and no agent, since neither the clock nor a login name is ever read; its
    results are dated with the data cut.

    Parameters
    ----------
    payload : mapping of str to Path or bytes
        Files of the bag without this one.
    facts : CrateFacts
        What the crate says of the campaign.
    """
    outputs = {"report": "report.pdf", "tables": "tables/", "figures": "figures/"}
    parameters = {f"input-{name}": path for name, path in facts.inputs.items()}
    parameters |= {f"output-{name}": path for name, path in outputs.items()}
    entities = [
        {
            "@id": METADATA_FILE,
            "@type": "CreativeWork",
            "about": {"@id": "./"},
            "conformsTo": [{"@id": CRATE_PROFILE}, {"@id": WORKFLOW_PROFILE}],
        },
        _root(payload, facts),
        *_folders(payload, parameters),
        *[_file(name, payload[name], facts, parameters) for name in sorted(payload)],
        *_run(facts, outputs),
        *_parameters(parameters),
        *_context(facts),
    ]
    crate = {"@context": CONTEXT, "@graph": entities}
    return (json.dumps(crate, indent=1, ensure_ascii=False) + "\n").encode()


def identifier(path: str) -> str:
    """Path in the bag as a relative address."""
    return quote(path, safe="/")


def _links(identifiers: list[str]) -> list[dict[str, str]] | dict[str, str]:
    """References to entities; a single one stands alone."""
    links = [{"@id": name} for name in identifiers]
    return links[0] if len(links) == 1 else links


def _root(payload: Mapping[str, Path | bytes], facts: CrateFacts) -> Entity:
    """The crate itself."""
    top = sorted({PurePosixPath(name).parts[0] for name in payload})
    parts = [f"{name}/" if name not in payload else identifier(name) for name in top]
    invented = "All data are invented. " if facts.invented else ""
    root: Entity = {
        "@id": "./",
        "@type": "Dataset",
        "name": facts.title,
        "description": f"{invented}{facts.question} Dated with the data cut.",
        "conformsTo": _links(list(RUN_PROFILES)),
        "license": {"@id": _licence(facts.licence)} if facts.licence else "not stated",
        "mainEntity": {"@id": WORKFLOW_FILE},
        "mentions": {"@id": "#run"},
        "about": _links(list(OBJECTS)),
        "hasPart": _links(parts),
    }
    if facts.date is not None:
        root["datePublished"] = facts.date
    if facts.people:
        root["author"] = _links(_person_ids(facts))
    if facts.organisation:
        root["publisher"] = {"@id": "#organisation"}
    return root


def _folders(payload: Mapping[str, Path | bytes], parameters: Mapping[str, str]) -> list[Entity]:
    """Folders of the first level with everything below them."""
    inside: dict[str, list[str]] = {}
    for name in sorted(payload):
        first, slash, _ = name.partition("/")
        if slash:
            inside.setdefault(first, []).append(identifier(name))
    return [
        {
            "@id": f"{folder}/",
            "@type": "Dataset",
            "name": folder,
            "description": _FOLDERS[folder],
            **_example_of(f"{folder}/", parameters),
            "hasPart": _links(inside[folder]),
        }
        for folder in sorted(inside)
    ]


def _file(
    name: str, content: Path | bytes, facts: CrateFacts, parameters: Mapping[str, str]
) -> Entity:
    """One file; the rules are the workflow that ran."""
    size = content.stat().st_size if isinstance(content, Path) else len(content)
    entity: Entity = {
        "@id": identifier(name),
        "@type": "File",
        "name": PurePosixPath(name).name,
        "contentSize": str(size),
        **_example_of(name, parameters),
    }
    if (form := _FORMATS.get(PurePosixPath(name).suffix.lower())) is not None:
        entity["encodingFormat"] = form
    if name == README_FILE:
        entity |= {"about": {"@id": "./"}, "encodingFormat": "text/markdown"}
    if name in facts.descriptions:
        entity["description"] = facts.descriptions[name]
    if name == WORKFLOW_FILE:
        entity |= {
            "@type": ["File", "SoftwareSourceCode", "ComputationalWorkflow"],
            "name": "Trivet",
            "conformsTo": {"@id": f"{_BIOSCHEMAS}ComputationalWorkflow/1.0-RELEASE"},
            "encodingFormat": "text/plain",
            "programmingLanguage": {"@id": _SNAKEMAKE},
            "version": facts.versions["trivet"],
            "license": {"@id": _licence("Apache-2.0")},
            "softwareRequirements": _links([f"#software-{name}" for name in facts.versions]),
            "input": _links([f"#{key}" for key in parameters if key.startswith("input-")]),
            "output": _links([f"#{key}" for key in parameters if key.startswith("output-")]),
        }
    return entity


def _example_of(path: str, parameters: Mapping[str, str]) -> Entity:
    """Reference from a file or folder to the parameter of the workflow that it was."""
    keys = [key for key, value in parameters.items() if value == path]
    return {"exampleOfWork": {"@id": f"#{keys[0]}"}} if keys else {}


def _run(facts: CrateFacts, outputs: Mapping[str, str]) -> list[Entity]:
    """The run that made the results, and the software it needed."""
    run: Entity = {
        "@id": "#run",
        "@type": "CreateAction",
        "name": f"Run of Trivet {facts.versions['trivet']}",
        "description": "Made the results from the settings, the build sheet, the bench log and "
        "the raw files. No time is recorded, so that the same input gives the same bytes.",
        "instrument": {"@id": WORKFLOW_FILE},
        "actionStatus": "http://schema.org/CompletedActionStatus",
        "object": _links([identifier(path) for path in dict.fromkeys(facts.inputs.values())]),
        "result": _links([identifier(path) for path in outputs.values()]),
    }
    software: list[Entity] = [
        {
            "@id": f"#software-{name}",
            "@type": "SoftwareApplication",
            "name": name,
            "softwareVersion": version,
        }
        for name, version in facts.versions.items()
    ]
    return [run, *software]


def _parameters(parameters: Mapping[str, str]) -> list[Entity]:
    """What the workflow takes and gives."""
    return [
        {
            "@id": f"#{key}",
            "@type": "FormalParameter",
            "conformsTo": {"@id": f"{_BIOSCHEMAS}FormalParameter/1.0-RELEASE"},
            "name": key.partition("-")[2],
            "additionalType": "Dataset" if path.endswith("/") else "File",
            "workExample": {"@id": identifier(path)},
        }
        for key, path in parameters.items()
    ]


def _context(facts: CrateFacts) -> list[Entity]:
    """People, laboratory, licences, profiles, vocabulary terms, language of the rules."""
    entities: list[Entity] = []
    for key, name in zip(_person_ids(facts), facts.people, strict=True):
        person: Entity = {"@id": key, "@type": "Person", "name": name}
        if facts.organisation:
            person["affiliation"] = {"@id": "#organisation"}
        entities.append(person)
    if facts.organisation:
        entities.append(
            {"@id": "#organisation", "@type": "Organization", "name": facts.organisation}
        )
    for licence in sorted({facts.licence, "Apache-2.0"} - {""}):
        entities.append({"@id": _licence(licence), "@type": "CreativeWork", "name": licence})
    for address, (name, version) in RUN_PROFILES.items():
        entities.append({"@id": address, "@type": "CreativeWork", "name": name, "version": version})
    entities += [
        {"@id": address, "@type": "DefinedTerm", "name": label}
        for address, label in OBJECTS.items()
    ]
    language = {"name": "Snakemake", "version": facts.versions["snakemake"]}
    return [*entities, {"@id": _SNAKEMAKE, "@type": "ComputerLanguage", **language}]


def _person_ids(facts: CrateFacts) -> list[str]:
    """Addresses of the people within the crate."""
    return [f"#person-{position}" for position in range(1, len(facts.people) + 1)]


def _licence(name: str) -> str:
    """Address of a licence; one that is no SPDX name is described in the crate."""
    if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.+-]*", name):
        return f"https://spdx.org/licenses/{name}"
    return f"#licence-{quote(name, safe='')}"
