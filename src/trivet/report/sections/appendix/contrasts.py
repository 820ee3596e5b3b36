"""Every contrast on the other clock, and what may turn a verdict."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import number, p_value
from trivet.report.sections.comparison import contrasts, doubts, pooled


def other_contrasts(data: ReportData) -> dict[str, Any]:
    """Contrasts on the clock that decides nothing, and tests that may turn a verdict."""
    rows = [row for row in data.rows["comparisons"] if row["clock"] != data.clock]
    caption = (
        "The same contrasts on the clock that decides nothing: where it says otherwise than the "
        "primary one, lives in hours and in cycles do not tell the same. From comparisons."
    )
    tests = contrasts(data, rows, caption=caption, judged=False)
    other = [row for row in data.rows["pooled"] if row["clock"] != data.clock]
    return {
        "tests": tests,
        "doubts": doubts(data),
        "looks": looks(data),
        "pooled": pooled(data, other),
    }


def looks(data: ReportData) -> PrintedTable:
    """Looks at which something could have been shown, with what each was allowed."""
    rows = [row for row in data.rows["looks"] if row["boundary"] is not None]
    return print_table(
        rows,
        [
            words("life of", "endpoint"),
            made("contrast", lambda row: f"{row['groups']} / {row['control']}"),
            words("look", "look"),
            figure("share of the planned time", "fraction", number),
            figure("p of this look", "p", p_value),
            figure("shows a difference up to p", "nominal_level", p_value),
            figure("level spent", "spent", p_value),
            figure("level to spend", "may_spend", p_value),
            made("", lambda row: "crossed" if row["crossed"] else ""),
        ],
        caption="Weekly looks, each with the p up to which it shows a difference; several groups "
        "together are tested for closed testing. Looks at which nothing could have been shown are "
        "left out. From looks.",
        reason="No looks: no planned end is set, it is the planned end alone that counts and has "
        "not come, or nothing could have been shown yet.",
        sources=("looks",),
        small=True,
    )


SECTION = Section("contrasts", "Further contrasts", other_contrasts)
