"""The build: groups, batches, and what was built."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.printed import (
    MOST_ROWS_ON_PAPER,
    PrintedTable,
    figure,
    print_table,
    words,
)
from trivet.report.frame.section import Section
from trivet.report.frame.wording import count, is_missing, number

_MOST_COLUMNS = 8
"""Batches that stand beside each other."""
_NONE = "No cells were built."


def build(data: ReportData) -> dict[str, Any]:
    """Groups by batches, and every cell as built."""
    crossed = _by_batch(data) if len(data.batches) > _MOST_COLUMNS else _by_group(data)
    others = [name for name in data.settings.build_sheet.factors if name != data.factor]
    columns = [words("cell", "cell"), words("batch", "batch"), words(data.factor, "group")]
    sheet = data.rows["cells"][0] if data.rows["cells"] else {}
    columns += [words(name, name) for name in others if name in sheet]
    columns += [words("assembly fault", "assembly_fault")] if "assembly_fault" in sheet else []
    if any(not is_missing(row["mass_lost_mg_per_d"]) for row in data.rows["cells"]):
        columns.append(figure("mass lost [mg/d]", "mass_lost_mg_per_d", number))
    columns += [words("status", "status"), words("why excluded", "exclusion_reason")]
    ordered = [row for group in data.groups for row in data.rows["cells"] if row["group"] == group]
    return {
        "crossed": crossed,
        "cells": print_table(
            ordered,
            columns,
            caption="Cells as built. All columns of the build sheet stand in the table cells.",
            reason=_NONE,
            sources=("cells",),
            home=True,
            small=True,
        ),
        "entries": _index(data) if len(ordered) > MOST_ROWS_ON_PAPER else [],
        "once": _groups_in_one_batch(data),
    }


def _by_group(data: ReportData) -> PrintedTable:
    """Cells built, a line a group and a column a batch."""
    return print_table(
        [_group_row(data, group) for group in data.groups],
        [
            words(data.factor, "group"),
            *(figure(f"batch {batch}", f"batch {batch}", count) for batch in data.batches),
            figure("built", "built", count),
            figure("included", "included", count),
        ],
        caption=f"Cells built, by {data.factor} and batch. From cells.",
        reason=_NONE,
        sources=("cells",),
    )


def _by_batch(data: ReportData) -> PrintedTable:
    """Cells built, a line a batch and a column a group, where batches are many."""
    rows = [
        {"batch": batch, **{group: len(where(own, group=group)) for group in data.groups}}
        for batch, own in sorted(by(data.rows["cells"], "batch").items())
    ]
    return print_table(
        rows,
        [words("batch", "batch"), *(figure(group, group, count) for group in data.groups)],
        caption=f"Cells built, by batch and {data.factor}. From cells.",
        reason=_NONE,
        sources=("cells",),
        small=True,
    )


def _group_row(data: ReportData, group: str) -> Row:
    """Count the cells of a group by batch."""
    cells = where(data.rows["cells"], group=group)
    row: Row = {f"batch {batch}": len(where(cells, batch=batch)) for batch in data.batches}
    included = len(where(cells, included=1))
    return {"group": group, **row, "built": len(cells), "included": included}


def _index(data: ReportData) -> list[str]:
    """A line a cell where they are too many for a table on paper."""
    status = {row["cell"]: row["status"] for row in data.rows["cells"]}
    return [
        f"{cell} ({data.group_of[cell]}): {status[cell]}"
        + ("" if is_missing(data.lasted_h.get(cell)) else f", {number(data.lasted_h[cell])} h")
        for cell in data.cells
    ]


def _groups_in_one_batch(data: ReportData) -> list[str]:
    """Groups that were built in one batch only where there are several."""
    if len(data.batches) < 2:
        return []
    cells = data.rows["cells"]
    return [g for g in data.groups if len({r["batch"] for r in where(cells, group=g)}) == 1]


SECTION = Section("build", "The build", build, place=30)
