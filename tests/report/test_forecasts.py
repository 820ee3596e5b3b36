"""Forecasts in the report: who ends next, the table with intervals, and how past ones fared."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from report_campaign import with_rows

from trivet.report.frame.data import ReportData
from trivet.report.render import render_html
from trivet.report.sections.fading import forecast_sentences, forecast_table
from trivet.report.sections.summary import ends_next


def soon(number: int, **changed: object) -> dict[str, Any]:
    """A row of a cell that ends in so many days."""
    return {
        "cell": f"x{number}", "clock": "hours", "soon": 1, "reason": "", "cells_learnt_from": 2,
        "estimate_in_d": float(number), "lower_in_d": 0.5 * number, "upper_in_d": 2.0 * number,
    } | changed  # fmt: skip


def test_page_one_names_who_may_end_within_a_week(data: ReportData) -> None:
    """Cell, days and interval of those whose interval reaches into the week, the first first."""
    said = ends_next(with_rows(data, forecasts=[soon(4), soon(2), soon(9, soon=0)]))
    assert said == [
        "x2 in 2 days, about 2026-05-30 (1 to 4, 95\u00a0%).",
        "x4 in 4 days, about 2026-06-01 (2 to 8, 95\u00a0%).",
    ]


def test_page_one_has_five_lines_of_them_at_most(data: ReportData) -> None:
    """Of seven, four have a line of their own, and the fifth names the rest."""
    said = ends_next(with_rows(data, forecasts=[soon(n) for n in range(1, 8)]))
    assert len(said) == 5
    assert said[-1] == "And x5, x6 and x7."


def test_a_default_and_a_cell_at_the_limit_say_so(data: ReportData) -> None:
    """A cell below the limit has its reason in place of a number; a default is called one."""
    low = soon(1, reason="below the limit already", estimate_in_d=None)
    by_default, at_limit = soon(3, cells_learnt_from=0), low
    said = ends_next(with_rows(data, forecasts=[by_default, at_limit]))
    assert said[0] == "x1: below the limit already."
    assert "by default, since no cell has ended yet" in said[1]


def test_page_one_says_that_nobody_ends(data: ReportData) -> None:
    """Without such a cell it says so; without any forecast it does not reassure."""
    later = [row | {"soon": 0} for row in data.rows["forecasts"]]
    assert later
    html = render_html(with_rows(data, forecasts=later), defaultdict(list))
    assert "None of the running cells is expected to end within a week" in html
    html = render_html(with_rows(data, forecasts=[]), defaultdict(list))
    assert "No forecast: no running cell has ageing cycles" in html
    assert "None of the running cells is expected" not in render_html(data, defaultdict(list))


def test_the_section_has_every_running_cell_and_the_coverage(data: ReportData) -> None:
    """A line a running cell, with reason where there is no forecast; shares are those counted."""
    running = {row["cell"] for row in data.rows["cells"] if row["status"] == "running"}
    table = forecast_table(data)
    assert {row[0].text for row in table.rows} == running
    assert table.rows[-1][-1].text == "too few ageing cycles"
    assert table.rows[-1][5].text == "–"
    sentences = forecast_sentences(data)
    assert "Sudden ends" in sentences[0]
    assert "5 of 6 intervals" in sentences[-1]
    assert "3 of 3 once cells had ended" in sentences[-1]


def test_a_default_is_warned_of(data: ReportData) -> None:
    """Where nothing has ended the section says that the interval is a default, and unjudged."""
    rows = [row | {"cells_learnt_from": 0} for row in data.rows["forecasts"]]
    said = forecast_sentences(with_rows(data, forecasts=rows, forecast_coverage=[]))
    assert "with caution" in said[1]
    assert said[2].endswith("none could be judged.")
    assert forecast_sentences(with_rows(data, forecasts=[])) == []
