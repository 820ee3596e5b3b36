"""Pack the results of a campaign with what they were made from into one bag.

Settings
--------
All, since the bag holds the settings used.

Reads
-----
report.pdf, summary.json, figures, tables (Parquet and text); settings file, build sheet and bench
log; the ledger for the raw files.

Writes
------
archive: a bag (RFC 8493) with all of these, the dictionary of columns, the versions of the
software, and the raw files or their checksums.
"""

from __future__ import annotations

import importlib.metadata
import json
import platform
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet import __version__
from trivet.io.bag import write_bag
from trivet.io.campaign_folder import SETTINGS_FILE
from trivet.io.store import csv_bytes, read_table
from trivet.records.settings import Archive, Campaign
from trivet.records.tables import TABLES
from trivet.stages.command import parse, spare_pandas

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


def run(
    *, settings: Mapping[str, Any], campaign_folder: Path, results: Path
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
    payload: dict[str, Path | bytes] = {
        name: results / name for name in ("report.pdf", "summary.json")
    }
    for name, table in TABLES.items():
        if table.archived:
            for ending in ("csv", "parquet"):
                payload[f"tables/{name}.{ending}"] = results / "tables" / f"{name}.{ending}"
    for path in sorted((results / "figures").iterdir()):
        payload[f"figures/{path.name}"] = path
    payload |= _sources(settings, campaign_folder)
    payload["raw-checksums.csv"] = csv_bytes(ledger.select(["cell", "file", "bytes", "sha256"]))
    if archive.raw_files == "copies":
        for name in sorted(set(ledger["file"].to_pylist())):
            payload[f"raw/{name}"] = campaign_folder / name
    payload["columns.csv"] = csv_bytes(_dictionary())
    payload["versions.json"] = json.dumps(versions(), indent=2, sort_keys=True).encode() + b"\n"
    return payload, _info(campaign, archive, ledger)


def _sources(settings: Mapping[str, Any], folder: Path) -> dict[str, Path | bytes]:
    """Settings file, build sheet and bench log as people wrote them, and the settings used."""
    names = (
        SETTINGS_FILE,
        settings["build_sheet"]["file"],
        settings["bench_log"]["file"],
        settings["lifetime"]["table"],
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
    return {"trivet": __version__, "python": platform.python_version(), **found}


def _info(campaign: Campaign, archive: Archive, ledger: pa.Table) -> dict[str, str]:
    """What the bag says of itself; its date is the last time in the data, never the clock."""
    times = [time for time in ledger["last_time_s"].to_pylist() if time is not None]
    info = {
        "Source-Organization": campaign.organisation or "not stated",
        "External-Description": f"{campaign.title}. {campaign.question}",
        "External-Identifier": campaign.id,
        "Bag-Software-Agent": f"trivet {__version__}",
        "Raw-Files": archive.raw_files,
        "Licence": campaign.licence or "not stated",
    }
    if times:
        info["Bagging-Date"] = datetime.fromtimestamp(max(times), UTC).date().isoformat()
    if campaign.invented:
        info["Data"] = "invented"
    return info


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, "Pack the results of a campaign into one bag.")
    payload, info = run(
        settings=command.settings, campaign_folder=command.campaign, results=command.inputs[0]
    )
    write_bag(command.out, payload, info)


if __name__ == "__main__":
    spare_pandas()
    main()
