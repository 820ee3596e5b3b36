"""Steps and rates as printed: the figure holds the tables' numbers, absence is a sentence."""

from __future__ import annotations

import numpy as np
import pytest
from report_campaign import with_rows

from trivet.report.frame.data import ReportData
from trivet.report.frame.style import Absent, Drawing, look
from trivet.report.sections.appendix.rates import rates, steps


def without(data: ReportData, name: str) -> ReportData:
    """The same with an empty table."""
    return with_rows(data, **{name: []})


def test_resistances_are_drawn_by_state_of_charge(data: ReportData) -> None:
    """Two rows of panels, a cell a group; every point is a number of the table."""
    with look():
        (drawing,) = steps(data)
    assert isinstance(drawing, Drawing)
    known = {row["positive_ohm"] for row in data.rows["step_resistances"]}
    columns = len({row["cell"] for row in drawing.numbers})
    assert columns == len(data.groups)
    assert len(drawing.figure.axes) == 2 * columns
    for axes in drawing.figure.axes[:columns]:
        for container in axes.containers:
            points = container.lines[0]
            assert set(points.get_ydata()) <= known
            assert np.ptp(points.get_xdata()) == pytest.approx(1.0)


def test_two_states_of_charge_are_not_drawn(data: ReportData) -> None:
    """A beginning and an end alone make no line, and the reason names the delay."""
    few = [row for row in data.rows["step_resistances"] if row["step"] != "within"]
    (absent,) = steps(with_rows(data, step_resistances=few))
    assert isinstance(absent, Absent)
    assert "10 s (within 2 s)" in absent.reason


def test_rate_tests_are_a_table_or_a_sentence(data: ReportData) -> None:
    """A line a rate where there is a test; else one sentence and no empty table."""
    found = rates(data)
    assert len(found["table"].rows) == len(data.rows["rate_capability"]) == 6
    assert not found["untested"]
    texts = [cell.text for cell in found["table"].rows[1]]
    assert "30 ± 0.50" in texts
    assert "75 %" in texts
    none = rates(without(data, "rate_capability"))
    assert none["table"] is None
    assert "No rate test was found" in none["untested"]
