"""Join the tables of all cells into the tables of the campaign."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa

from trivet.rawfiles.ledger import ledger_by_cell
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import cell_stages
from trivet.stages.job import Job
from trivet.store.tables import join_tables, make_table


def run(*, folder: Path, cells: Sequence[str]) -> dict[str, pa.Table]:
    """Join the tables of cells.

    Parameters
    ----------
    folder : Path
        Folder with one folder a cell.
    cells : sequence of str
        Ids of the cells.

    Returns
    -------
    dict of str to pyarrow.Table
        Tables by file name without ending.
    """
    joined = {}
    findings: list[Path] = []
    for stage in cell_stages():
        for name in stage.writes:
            paths = [folder / cell / stage.name / f"{name}.parquet" for cell in cells]
            if name == "findings":
                findings += paths
            elif TABLES[name].archived:
                joined[name] = join_tables(TABLES[name], paths)
    joined["ledger_by_cell"] = make_table(
        TABLES["ledger_by_cell"], ledger_by_cell(joined["ledger"])
    )
    joined["findings_cells"] = join_tables(TABLES["findings"], findings)
    return joined


def work(job: Job) -> dict[str, pa.Table]:
    """Join the tables of all cells."""
    return run(folder=job.results / "cells", cells=job.cells)
