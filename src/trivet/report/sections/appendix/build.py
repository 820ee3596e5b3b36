"""The build: groups, batches, and what was built."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.printed import figure, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import count


def build(data: ReportData) -> dict[str, Any]:
    """Groups by batches, and every cell as built."""
    rows = [_group_row(data, group) for group in data.groups]
    crossed = print_table(
        rows,
        [
            words(data.factor, "group"),
            *(figure(f"batch {batch}", f"batch {batch}", count) for batch in data.batches),
            figure("built", "built", count),
            figure("included", "included", count),
        ],
        caption=f"Cells built, by {data.factor} and batch. From cells.",
        reason="No cells were built.",
        sources=("cells",),
    )
    others = [name for name in data.settings.build_sheet.factors if name != data.factor]
    columns = [words("cell", "cell"), words("batch", "batch"), words(data.factor, "group")]
    sheet = data.rows["cells"][0] if data.rows["cells"] else {}
    columns += [words(name, name) for name in others if name in sheet]
    columns += [words("assembly fault", "assembly_fault")] if "assembly_fault" in sheet else []
    columns += [words("status", "status"), words("why excluded", "exclusion_reason")]
    ordered = [row for group in data.groups for row in data.rows["cells"] if row["group"] == group]
    return {
        "crossed": crossed,
        "cells": print_table(
            ordered,
            columns,
            caption="Cells as built. All columns of the build sheet stand in the table cells.",
            reason="No cells were built.",
            sources=("cells",),
            home=True,
            small=True,
        ),
        "once": _groups_in_one_batch(data),
    }


def _group_row(data: ReportData, group: str) -> Row:
    """Count the cells of a group by batch."""
    cells = where(data.rows["cells"], group=group)
    row: Row = {f"batch {batch}": len(where(cells, batch=batch)) for batch in data.batches}
    included = len(where(cells, included=1))
    return {"group": group, **row, "built": len(cells), "included": included}


def _groups_in_one_batch(data: ReportData) -> list[str]:
    """Groups that were built in one batch only where there are several."""
    if len(data.batches) < 2:
        return []
    cells = data.rows["cells"]
    return [g for g in data.groups if len({r["batch"] for r in where(cells, group=g)}) == 1]


SECTION = Section("build", "The build", build)
