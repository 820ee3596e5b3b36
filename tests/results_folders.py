"""Folders of results made of finished invented tables, without any run."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pyarrow as pa
from report_campaign import SETTINGS, make

from trivet.archive.bag import write_bag
from trivet.report.frame.data import ReportSettings, gather
from trivet.report.summary import summary
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import write_table


def write_results(
    folder: Path,
    *,
    campaign: dict[str, Any] | None = None,
    tables: dict[str, pa.Table] | None = None,
) -> Path:
    """Write a folder as a run leaves it: tables, summary, and the file of the report's job."""
    blocks = {**SETTINGS, "campaign": {**SETTINGS["campaign"], **(campaign or {})}}
    settings = ReportSettings.model_validate(blocks)
    made = {**make(), **(tables or {})}
    for name, data in made.items():
        write_table(TABLES[name], data, folder / "tables" / f"{name}.parquet")
    found = summary(gather(settings=settings, tables=made))
    (folder / "summary.json").write_text(json.dumps(found), encoding="utf-8")
    (folder / "jobs").mkdir()
    job = {"stage": "report", "settings": settings.model_dump(mode="json")}
    (folder / "jobs" / "report.json").write_text(json.dumps(job), encoding="utf-8")
    return folder


def write_archive(results: Path, folder: Path) -> Path:
    """Write the same as a bag, with the parts that an archive has of them."""
    job = json.loads((results / "jobs" / "report.json").read_text(encoding="utf-8"))
    payload: dict[str, Path | bytes] = {
        f"tables/{path.name}": path for path in sorted((results / "tables").iterdir())
    }
    payload["summary.json"] = results / "summary.json"
    payload["config/settings-used.json"] = json.dumps(job["settings"]).encode()
    write_bag(folder, payload, {"External-Identifier": "seal-trial"})
    return folder
