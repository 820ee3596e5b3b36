"""Appendix: a page for each cell with its ends and its findings."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.printed import print_table, words
from trivet.report.frame.wording import plural, shown
from trivet.report.sections.lives import duration
from trivet.report.sections.record import SEVERITIES

_LISTED = 10
"""Findings that leave a cell on one page."""


def pages(data: ReportData) -> dict[str, Any]:
    """Heading, ends and findings of each cell, in the order of its figures."""
    order = [cell for group in data.groups for cell in data.cells_of(group)]
    built = {row["cell"]: row for row in data.rows["cells"]}
    return {"cells": [_cell(data, built[cell]) for cell in order]}


def _cell(data: ReportData, row: Row) -> dict[str, Any]:
    """What stands beside the figure of one cell."""
    cell = row["cell"]
    lives = where(data.rows["lifetimes"], cell=cell, clock="hours")
    own = where(data.rows["findings"], cell=cell)
    found = sorted(own, key=lambda finding: SEVERITIES.index(finding["severity"]))
    rest = len(found) - _LISTED
    more = f"; {plural(rest, 'further one')} of no higher severity" if rest > 0 else ""
    return {
        "heading": f"{cell}: {row['group']}, batch {row['batch']}, {row['status']}",
        "lives": [
            f"{life['endpoint']} life {duration([life])} h: {shown(life['evidence'])}"
            for life in lives
        ],
        "findings": print_table(
            found[:_LISTED],
            [
                words("severity", "severity"),
                words("check", "check"),
                words("what was noticed", "message"),
                words("what was done", "action"),
            ],
            caption=f"Findings on {cell}, the gravest first{more}. From findings.",
            reason=f"No findings on {cell}.",
            small=True,
        ),
    }
