"""Every difference of a per-cell measure."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row
from trivet.report.frame.printed import figure, made, print_table
from trivet.report.frame.section import FILES, Section
from trivet.report.frame.wording import (
    MISSING,
    count,
    listed,
    p_value,
    quantity,
)
from trivet.report.sections.measures import by_strength, draw_other_measures, effect_columns


def measure_table(data: ReportData) -> dict[str, Any]:
    """Differences of per-cell measures."""
    every = by_strength(data)
    rows = [row for row in every if row["cells"] or row["control_cells"]]
    valued = {row["measure"] for row in rows}
    none = list(dict.fromkeys(row["measure"] for row in every if row["measure"] not in valued))
    remarks = list(dict.fromkeys(row["reason"] for row in rows if row["reason"]))
    number = {reason: f"({place})" for place, reason in enumerate(remarks, start=1)}
    return {
        "remarks": [f"{number[reason]} {reason}" for reason in remarks],
        "without": listed([quantity(measure) for measure in none], len(none)),
        "table": print_table(
            rows,
            [
                *effect_columns(),
                made("cells", lambda r: f"{r['cells']} v {r['control_cells']}", numeric=True),
                made("missing", _missing, numeric=True),
                figure("p", "p", p_value),
                figure("adjusted", "p_adjusted", p_value),
                figure("smallest p", "smallest_attainable_p", p_value),
                *([made("remark", lambda r: number.get(r["reason"], MISSING))] if remarks else []),
            ],
            caption="Differences of per-cell measures, group less control, with "
            f"{data.confidence} intervals. 'Missing': cells of both "
            "groups without a value, in brackets those withheld because the reference was not "
            "trusted. The table also has the spread within groups (standard deviation, n − 1) and "
            "how far withheld cells, as extreme as any seen, could move a difference. "
            "Holm's correction covers the contrasts of one measure and "
            "factor; by chance alone up to one p in twenty lies below 0.05. "
            "From measures.",
            reason="No differences: no measure has a value in any cell.",
            sources=("measures",),
            small=True,
        ),
    }


def _missing(row: Row) -> str:
    """Cells without a value, and how many of them are withheld."""
    held = row["withheld_cells"]
    return count(row["missing_cells"]) + (f" ({count(held)})" if held else "")


SECTION = Section(
    "measure_table",
    "Differences of per-cell measures",
    measure_table,
    {"other_measures": draw_other_measures},
    place=80,
    needs=FILES,
)
