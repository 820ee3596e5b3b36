"""Check that a bag of this program holds its parts, and that its crate describes each file."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from trivet.archive.crate import CRATE_PROFILE, METADATA_FILE, RUN_PROFILES, WORKFLOW_FILE
from trivet.archive.csvw import DESCRIPTION_FILE
from trivet.campaign.paths import SETTINGS_FILE
from trivet.store.checksums import sha256
from trivet.store.differences import Difference
from trivet.store.tables import harmless

PARTS = (
    "columns.csv",
    f"config/{SETTINGS_FILE}",
    "config/settings-used.json",
    "raw-checksums.csv",
    "report.pdf",
    METADATA_FILE,
    "summary.json",
    f"tables/{DESCRIPTION_FILE}",
    "versions.json",
    WORKFLOW_FILE,
)
"""Files that every bag of this program holds below `data/`."""


def check_crate(data: Path) -> list[Difference]:
    """Check the parts of the bag, the crate and the raw files.

    Parameters
    ----------
    data : Path
        Payload folder of the bag.
    """
    differences = [
        Difference(f"data/{name}", "file", "one", "none")
        for name in PARTS
        if not (data / name).is_file()
    ]
    if (data / METADATA_FILE).is_file():
        differences += _described(data)
    if (data / "raw-checksums.csv").is_file():
        differences += _raw(data)
    return differences


def _described(data: Path) -> Iterator[Difference]:
    """What the crate lacks of its profiles, and where files and descriptions differ.

    References
    ----------
    RO-Crate 1.1, 'Root Data Entity': descriptor, root of type Dataset, date of publication.
    Workflow Run Crate 0.5: main entity, and an action whose instrument it is.
    """
    place = f"data/{METADATA_FILE}"
    try:
        graph = json.loads((data / METADATA_FILE).read_bytes())["@graph"]
        entities: dict[str, dict[str, Any]] = {str(entity["@id"]): entity for entity in graph}
    except (ValueError, KeyError, TypeError) as error:
        yield Difference(place, "content", "a description of the crate", repr(error))
        return
    conforms = _ids(entities.get(METADATA_FILE, {}).get("conformsTo"))
    if CRATE_PROFILE not in conforms:
        yield Difference(place, "conformsTo", CRATE_PROFILE, ", ".join(conforms) or "none")
    root = entities.get("./", {})
    for key in ("name", "description", "datePublished", "license", "mainEntity"):
        if key not in root:
            yield Difference(place, f"root, {key}", "a value", "none")
    for profile in sorted(set(RUN_PROFILES) - set(_ids(root.get("conformsTo")))):
        yield Difference(place, "root, conformsTo", profile, "none")
    main = _ids(root.get("mainEntity"))
    if not any(main and _ids(entity.get("instrument")) == main for entity in graph):
        yield Difference(place, "action", "one whose instrument is the main entity", "none")
    files = {unquote(name) for name, entity in entities.items() if "File" in _types(entity)}
    present = {
        path.relative_to(data).as_posix() for path in sorted(data.rglob("*")) if path.is_file()
    } - {METADATA_FILE}
    for name in sorted(present - files):
        yield Difference(f"data/{name}", "description in the crate", "one", "none")
    for name in sorted(files - present):
        yield Difference(f"data/{name}", "file", "as the crate describes", "none")


def _ids(value: Any) -> list[str]:  # noqa: ANN401
    """Addresses that a property refers to."""
    values = value if isinstance(value, list) else [value]
    return [str(one["@id"]) for one in values if isinstance(one, dict) and "@id" in one]


def _types(entity: dict[str, Any]) -> list[str]:
    """Types of an entity."""
    types = entity.get("@type", [])
    return types if isinstance(types, list) else [types]


def _raw(data: Path) -> Iterator[Difference]:
    """Where copies of raw files are not those that were read."""
    copies = {
        harmless(path.relative_to(data / "raw").as_posix()): path
        for path in sorted((data / "raw").rglob("*"))
        if path.is_file() and not path.is_symlink()
    }
    with (data / "raw-checksums.csv").open(encoding="utf-8", errors="replace", newline="") as file:
        for row in csv.DictReader(file):
            name, expected = row.get("file") or "", row.get("sha256") or ""
            if copies and expected:
                found = sha256(copies[name]) if name in copies else "none"
                if found != expected:
                    yield Difference(f"data/raw/{name}", "sha256 when it was read", expected, found)
