"""What the groups at hand could have shown, and how many cells are needed."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData
from trivet.report.frame.printed import figure, made, print_table, words
from trivet.report.frame.wording import as_set, count, interval, number


def planning(data: ReportData) -> dict[str, Any]:
    """Power of the groups at hand, and the cells needed."""
    c = data.settings.comparison
    rows = [row for row in data.rows["planning"] if not row["purpose"].endswith("cells planned")]
    return {
        "power_wanted": as_set(c.planned_power),
        "table": print_table(
            rows,
            [
                made("contrast", lambda r: f"{r['group']} / {r['control']}"),
                words("what", "purpose"),
                figure("cells", "cells", count),
                figure("control cells", "control_cells", count),
                figure("true time ratio", "time_ratio", number),
                figure("spread", "spread", lambda v: number(v, 2)),
                figure("censored", "censored_share", lambda v: number(v, 2)),
                figure("power", "power", lambda v: number(v, 2)),
                made("limits", lambda r: interval(r["lower"], r["upper"], 2), numeric=True),
                words("remark", "reason"),
            ],
            caption="What the cells at hand could show, and the cells of each group that the next "
            "campaign needs, at the spread of log time and the share of censored cells seen here. "
            "From planning.",
            reason="No planning: there is no group to compare with the control.",
            small=True,
        ),
    }
