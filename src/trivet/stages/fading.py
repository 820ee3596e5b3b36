"""What took the capacity of each group, and which electrode ends its half-cycles."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.schema.tables.dictionary import TABLES
from trivet.science.electrodes.attribution import TERMS
from trivet.science.electrodes.end_points import EndedBy
from trivet.science.electrodes.fading_summary import (
    LastCheckUp,
    LossOverTime,
    ended_share,
    group_fading,
    like_time_h,
    losses_at,
    middle,
)
from trivet.stages.job import Job
from trivet.store.tables import rows_table

Row = dict[str, Any]


def run(
    *, cells: pa.Table, attribution: pa.Table, end_points: pa.Table, cycles: pa.Table
) -> pa.Table:
    """Put the cells of each group together.

    Parameters
    ----------
    cells, attribution, end_points, cycles : pyarrow.Table
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
    known = _known(attribution.to_pylist())
    last = {cell: _last(rows[-1]) for cell, rows in known.items()}
    starts = _starts(cycles)
    over = {cell: _over_time(rows, starts) for cell, rows in known.items()}
    timed = {
        group: [over[cell] for cell in own if cell in over and over[cell].time_h.size]
        for group, own in members.items()
    }
    like_h = like_time_h(list(timed.values()))
    ends = end_points.to_pylist()
    lines = [
        _line(group, own, last, ends) | _at_like_time(timed[group], like_h)
        for group, own in sorted(members.items())
    ]
    return rows_table(TABLES["fading"], lines)


def _known(rows: list[Row]) -> dict[str, list[Row]]:
    """Check-ups of each cell that could be registered, in order."""
    found: dict[str, list[Row]] = {}
    for row in sorted(rows, key=lambda r: r["cycle"]):
        told = [term for term in TERMS if not np.isnan(_number(row[f"lost_to_{term}_mAh"]))]
        if row["lost_mAh"] is not None and told:
            found.setdefault(row["cell"], []).append(row)
    return found


def _last(row: Row) -> LastCheckUp:
    """What the last check-up of a cell says."""
    return LastCheckUp(
        row["lost_mAh"], {term: _number(row[f"lost_to_{term}_mAh"]) for term in TERMS}
    )


def _starts(cycles: pa.Table) -> dict[tuple[str, int], float | None]:
    """When each cycle of each cell began [h]."""
    columns = (cycles[name].to_pylist() for name in ("cell", "cycle", "start_h"))
    return {(cell, cycle): start for cell, cycle, start in zip(*columns, strict=True)}


def _over_time(rows: list[Row], starts: Mapping[tuple[str, int], float | None]) -> LossOverTime:
    """Loss over time of a cell, from the check-up that others are compared with on.

    Check-ups without a time are left out.
    """
    timed = [(row["time_h"], row["lost_mAh"]) for row in rows if row["time_h"] is not None]
    base_h = starts.get((rows[0]["cell"], rows[0]["base_cycle"]))
    if timed and base_h is not None and base_h < timed[0][0]:
        timed.insert(0, (base_h, 0.0))  # nothing is lost yet
    hours, lost = np.array(timed, dtype=float).reshape(-1, 2).T
    return LossOverTime(hours, lost)


def _at_like_time(cells: list[LossOverTime], like_h: float) -> Row:
    """When the last check-ups of a group were, and what it had lost when all can be compared."""
    lasts = np.array([cell.time_h[-1] for cell in cells], dtype=float)
    losses = losses_at(like_h, cells)
    return {
        "last_h": middle(lasts),
        "last_earliest_h": float(lasts.min()) if lasts.size else None,
        "last_latest_h": float(lasts.max()) if lasts.size else None,
        "like_h": like_h,
        "lost_at_like_mAh": middle(losses),
        "cells_at_like": int(losses.size),
    }


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
