"""Pack the results of a campaign with what they were made from into one bag."""

from __future__ import annotations

import importlib.metadata
import json
import platform
from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pyarrow as pa

import trivet
from trivet.archive.bag import write_bag
from trivet.archive.crate import (
    METADATA_FILE,
    README_FILE,
    WORKFLOW_FILE,
    CrateFacts,
    crate_metadata,
)
from trivet.archive.csvw import DESCRIPTION_FILE
from trivet.campaign.earlier.files import earlier_files
from trivet.campaign.paths import SETTINGS_FILE
from trivet.errors import InputError, Problem
from trivet.schema.settings.campaign import Archive, Campaign
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.archive.texts import README, descriptions
from trivet.stages.job import Job
from trivet.store.checksums import sha256
from trivet.store.register_file import REGISTER_FILE
from trivet.store.tables import csv_bytes, read_table
from trivet.version import VERSION

_LIBRARIES = (
    "numpy",
    "scipy",
    "pyarrow",
    "matplotlib",
    "weasyprint",
    "jinja2",
    "pydantic",
    "snakemake",
)

RULES = Path(trivet.__file__).parent / "workflow" / "rules.smk"
"""The rules that made the results."""


def run(
    *, settings: Mapping[str, Any], campaign_folder: Path, results: Path, rules: Path
) -> tuple[dict[str, Path | bytes], dict[str, str]]:
    """List what the bag holds.

    Parameters
    ----------
    settings : mapping
        All settings, by block.
    campaign_folder : Path
        The campaign folder.
    results : Path
        Folder with the report, tables and figures.
    rules : Path
        The rules that made them.

    Returns
    -------
    payload : dict of str to Path or bytes
        Files of the bag.
    info : dict of str to str
        What the bag says of itself.
    """
    campaign = Campaign.model_validate(settings["campaign"])
    archive = Archive.model_validate(settings["archive"])
    ledger = read_table(TABLES["ledger"], results / "tables" / "ledger.parquet")
    cells = read_table(TABLES["cells"], results / "tables" / "cells.parquet")
    sources = _sources(settings, campaign_folder)
    payload = _results(results) | sources
    payload["raw-checksums.csv"] = csv_bytes(ledger.select(["cell", "file", "bytes", "sha256"]))
    if archive.raw_files == "copies":
        payload |= _raw_files(settings, campaign_folder, ledger)
    payload["columns.csv"] = csv_bytes(_dictionary())
    payload["versions.json"] = json.dumps(versions(), indent=2, sort_keys=True).encode() + b"\n"
    payload[WORKFLOW_FILE] = rules
    payload[README_FILE] = README.encode()
    dated = _date(campaign, ledger, cells)
    facts = CrateFacts(
        title=campaign.title,
        question=campaign.question,
        organisation=campaign.organisation,
        licence=campaign.licence,
        people=tuple(campaign.people),
        date=dated,
        invented=campaign.invented,
        versions=versions(),
        descriptions=descriptions(settings),
        inputs=_inputs(settings, payload),
    )
    payload[METADATA_FILE] = crate_metadata(payload, facts)
    return payload, _info(campaign, archive, dated)


def _results(results: Path) -> dict[str, Path | bytes]:
    """Report, summary, tables and figures."""
    payload: dict[str, Path | bytes] = {
        name: results / name
        for name in ("report.pdf", "report.html", "summary.json", REGISTER_FILE)
    }
    names = [
        f"{name}.{ending}"
        for name, table in TABLES.items()
        if table.archived
        for ending in ("csv", "parquet")
    ]
    for name in (*names, DESCRIPTION_FILE):
        payload[f"tables/{name}"] = results / "tables" / name
    for path in sorted((results / "figures").iterdir()):
        if not path.name.startswith("."):  # the workflow leaves a mark of its own
            payload[f"figures/{path.name}"] = path
    return payload


def _raw_files(
    settings: Mapping[str, Any], folder: Path, ledger: pa.Table
) -> dict[str, Path | bytes]:
    """Raw files that could be read, and the frequencies of wide tables."""
    read = dict(zip(ledger["file"].to_pylist(), ledger["sha256"].to_pylist(), strict=True))
    names = {file for file, checksum in read.items() if checksum}
    _unchanged(folder, {name: read[name] for name in names})
    layouts = ((settings["raw"] or {}).get("layouts") or {}).values()
    names |= {layout["frequencies_file"] for layout in layouts if layout["frequencies_file"]}
    return {f"raw/{name}": folder / name for name in sorted(names)}


def _inputs(settings: Mapping[str, Any], payload: Mapping[str, Path | bytes]) -> dict[str, str]:
    """What the run was made from, by name, as it stands in the bag."""
    files = {
        "settings": SETTINGS_FILE,
        "build-sheet": settings["build_sheet"]["file"],
        "bench-log": settings["bench_log"]["file"],
        "lives": settings["lifetime"]["table"],
    }
    inputs = {name: f"config/{file}" for name, file in files.items() if file is not None}
    for number, one in enumerate(settings["comparison"]["earlier"], start=1):
        for place, file in enumerate(earlier_files([one])):
            inputs[f"earlier-{number}-{place + 1}"] = f"config/{file}"
    if "lives" not in inputs:
        copied = any(name.startswith("raw/") for name in payload)
        inputs["raw-files"] = "raw/" if copied else "raw-checksums.csv"
    return inputs


def _unchanged(folder: Path, read: Mapping[str, str]) -> None:
    """Make sure that raw files still are what was read, so that the bag holds just that.

    Raises
    ------
    InputError
        With every file that has grown, changed or gone since it was read.
    """
    problems = []
    for name in sorted(read):
        try:
            changed = sha256(folder / name) != read[name]
            what = "has changed since this run read it"
        except OSError as error:
            changed, what = True, f"can't be read any more: {error.strerror}"
        if changed:
            hint = "Run again: the same command reads it anew. The archive before stays until then."
            problems.append(Problem(name, f"{what}.", hint=hint))
    if problems:
        raise InputError(problems)


def _sources(settings: Mapping[str, Any], folder: Path) -> dict[str, Path | bytes]:
    """Files that people keep and those of earlier campaigns that were read; the settings used."""
    names = (
        SETTINGS_FILE,
        settings["build_sheet"]["file"],
        settings["bench_log"]["file"],
        settings["lifetime"]["table"],
        *earlier_files(settings["comparison"]["earlier"]),
    )
    used = json.dumps(settings, indent=2, sort_keys=True, ensure_ascii=False) + "\n"
    files: dict[str, Path | bytes] = {
        f"config/{name}": folder / name for name in names if name is not None
    }
    return {**files, "config/settings-used.json": used.encode()}


def _dictionary() -> pa.Table:
    """Give every column of the results with unit, meaning and the function that computes it."""
    rows = [
        {
            "table": table.name,
            "one row is": table.row,
            "column": column.name,
            "unit": column.unit,
            "type": column.type,
            "meaning": column.meaning,
            "computed by": column.computed_by,
        }
        for table in TABLES.values()
        if table.archived
        for column in table.columns
    ]
    return pa.Table.from_pylist(rows)


def versions() -> dict[str, str]:
    """Versions of this program, of Python and of the libraries that results rest on."""
    found = {name: importlib.metadata.version(name) for name in _LIBRARIES}
    return {"trivet": VERSION, "python": platform.python_version(), **found}


def _date(campaign: Campaign, ledger: pa.Table, cells: pa.Table) -> str | None:
    """Date of the data cut: as set, else the last in the data, else the last in the build sheet.

    Never the clock; None where nothing of these has a date.
    """
    if campaign.data_cut is not None:
        return campaign.data_cut[:10]
    times = [
        time
        for time, absolute in zip(
            ledger["last_time_s"].to_pylist(), ledger["absolute_time"].to_pylist(), strict=True
        )
        if time is not None and absolute == "yes"
    ]
    if times:
        return datetime.fromtimestamp(max(times), UTC).date().isoformat()
    written = [
        text[:10]
        for name in cells.column_names
        if name.endswith("_at")
        for text in cells[name].to_pylist()
        if text and _is_date(text[:10])
    ]
    return max(written, default=None)


def _is_date(text: str) -> bool:
    """Whether a text is a date as 2026-05-15."""
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _info(campaign: Campaign, archive: Archive, dated: str | None) -> dict[str, str]:
    """What the bag says of itself."""
    info = {
        "Source-Organization": campaign.organisation or "not stated",
        "External-Description": f"{campaign.title}. {campaign.question}",
        "External-Identifier": campaign.id,
        "Bag-Software-Agent": f"trivet {VERSION}",
        "Raw-Files": archive.raw_files,
        "Licence": campaign.licence or "not stated",
    }
    if dated is not None:
        info["Bagging-Date"] = dated
    if campaign.invented:
        info["Data"] = "invented"
    return info


def work(job: Job) -> dict[str, pa.Table]:
    """Pack the results into the bag."""
    payload, info = run(
        settings=job.settings,
        campaign_folder=job.campaign,
        results=job.results,
        rules=RULES,
    )
    write_bag(job.results / "archive", payload, info)
    return {}
