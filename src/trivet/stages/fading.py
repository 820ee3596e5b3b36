"""What took the capacity of each group, and which electrode ends its half-cycles."""

from __future__ import annotations

from typing import Any

import pyarrow as pa

from trivet.schema.tables.dictionary import TABLES
from trivet.science.electrodes.attribution import TERMS
from trivet.science.electrodes.end_points import EndedBy
from trivet.science.electrodes.fading_summary import LastCheckUp, ended_share, group_fading
from trivet.stages.job import Job
from trivet.store.tables import rows_table

Row = dict[str, Any]


def run(*, cells: pa.Table, attribution: pa.Table, end_points: pa.Table) -> pa.Table:
    """Put the cells of each group together.

    Parameters
    ----------
    cells, attribution, end_points : pyarrow.Table
        Tables of these names; cells that do not count are left out.

    Returns
    -------
    pyarrow.Table
        Table `fading`.
    """
    members: dict[str, list[str]] = {}
    for row in cells.to_pylist():
        if row["included"]:
            members.setdefault(row["group"], []).append(row["cell"])
    last = _last(attribution.to_pylist())
    ends = end_points.to_pylist()
    table = TABLES["fading"]
    lines = [_line(group, own, last, ends) for group, own in sorted(members.items())]
    return rows_table(table, lines)


def _last(rows: list[Row]) -> dict[str, LastCheckUp]:
    """The last check-up of each cell that could be registered."""
    found = {}
    for row in sorted(rows, key=lambda r: r["cycle"]):
        terms = {term: _number(row[f"lost_to_{term}_mAh"]) for term in TERMS}
        if row["lost_mAh"] is not None and any(value == value for value in terms.values()):  # noqa: PLR0124
            found[row["cell"]] = LastCheckUp(row["lost_mAh"], terms)
    return found


def _number(value: float | None) -> float:
    """A number, NaN for none."""
    return float("nan") if value is None else value


def _line(group: str, own: list[str], last: dict[str, LastCheckUp], ends: list[Row]) -> Row:
    """One group."""
    known = [last[cell] for cell in own if cell in last]
    fading = group_fading(known)
    of_group = [row for row in ends if row["cell"] in own]
    line: Row = {
        "group": group,
        "cells": fading.cells,
        "cells_without": len(own) - fading.cells,
        "lost_mAh": fading.lost_mAh,
    }
    for term in TERMS:
        line |= {f"share_{term}": fading.shares[term], f"cells_{term}": fading.told_by[term]}
    for half in ("charge", "discharge"):
        who = [row["ended_by"] for row in of_group if row["half"] == half]
        for electrode in (EndedBy.POSITIVE, EndedBy.NEGATIVE):
            line[f"{half}s_ended_by_{electrode}"] = ended_share(who, electrode)
    return line


def work(job: Job) -> dict[str, pa.Table]:
    """Put the groups of the campaign together."""
    return {"fading": run(**job.tables())}
