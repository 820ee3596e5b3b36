"""Run one job as the workflow does: its file, its tables, the runner."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from copy import deepcopy
from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.marked import given_to
from trivet.stages.command import main
from trivet.stages.contract import STAGES, writer_of
from trivet.stages.job import shape_of
from trivet.store.paths import cell_table_path, table_path
from trivet.store.tables import read_table, write_table


def run_job(
    results: Path,
    stage: str,
    *,
    settings: Mapping[str, Any] | None = None,
    cell: Mapping[str, Any] | None = None,
    tables: Mapping[str, pa.Table] | None = None,
    campaign: Path = Path(),
    raw_files: Sequence[str] = (),
) -> dict[str, pa.Table]:
    """Write what a job reads, run it from its command line, read what it wrote."""
    name = "" if cell is None else str(cell["cell"])
    for table, data in (tables or {}).items():
        path = (
            table_path(results, table)
            if cell is None
            else cell_table_path(results, writer_of(table).name, table, name)
        )
        write_table(shape_of(table), data, path)
    file = results / "jobs" / f"{stage}.json"
    file.parent.mkdir(parents=True, exist_ok=True)
    content = {
        "stage": stage,
        "settings": with_defaults(stage, settings or {}),
        "cell": cell,
        "raw_files": list(raw_files),
    }
    file.write_text(json.dumps(content), encoding="utf-8")
    main([str(file), "--campaign", str(campaign)])
    return {table: read_table(shape_of(table), written(results, stage, table, name))
            for table in STAGES[stage].writes}  # fmt: skip


def with_defaults(stage: str, settings: Mapping[str, Any]) -> dict[str, Any]:
    """Settings with the defaults of single ones that the stage is given besides its blocks."""
    filled = deepcopy(dict(settings))
    for path in given_to(stage):
        *blocks, name = path.split(".")
        model, inside = Settings, filled
        for block in blocks:
            model = model.model_fields[block].annotation
            inside = inside.setdefault(block, {})
        if not model.model_fields[name].is_required():
            inside.setdefault(name, model.model_fields[name].default)
    return filled


def written(results: Path, stage: str, table: str, cell: str = "") -> Path:
    """Path of a table that a stage writes."""
    return cell_table_path(results, stage, table, cell) if cell else table_path(results, table)
