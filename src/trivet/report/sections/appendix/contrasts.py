"""Every contrast on the other clock, and what may turn a verdict."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData
from trivet.report.frame.section import Section
from trivet.report.sections.comparison import contrasts, doubts


def other_contrasts(data: ReportData) -> dict[str, Any]:
    """Contrasts on the clock that decides nothing, and tests that may turn a verdict."""
    rows = [row for row in data.rows["comparisons"] if row["clock"] != data.clock]
    caption = (
        "The same contrasts on the clock that decides nothing: where it says otherwise than the "
        "primary one, lives in hours and in cycles do not tell the same. From comparisons."
    )
    tests = contrasts(data, rows, caption=caption, judged=False)
    return {"tests": tests, "doubts": doubts(data)}


SECTION = Section("contrasts", "Further contrasts", other_contrasts)
