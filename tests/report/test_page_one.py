"""Page one says what is else found too late: what groups differ in, what costs a cell."""

from __future__ import annotations

from typing import Any

import pytest
from report_campaign import with_rows

from trivet.reasons import Hand
from trivet.report.frame.data import ReportData
from trivet.report.sections.findings import Task
from trivet.report.sections.summary import built_unlike, summary, task_words


def soon(cell: str) -> dict[str, Any]:
    """A cell that may end within a week."""
    return {"cell": cell, "clock": "hours", "soon": 1, "reason": "", "estimate_in_d": 2.0}


def test_what_else_differs_stands_with_its_numbers(data: ReportData) -> None:
    """Both ranges, and that a difference may come from there; who is built alike is not named."""
    assert built_unlike(data) == [
        "Every cell of bead differs from every cell of tape also in the time from out_at to "
        "sealed_at (66 to 68 min; tape 18 to 20 min): what is found between them may come from "
        "that instead of the seal."
    ]
    assert summary(data)["unlike"] == built_unlike(data)


@pytest.mark.parametrize(
    ("ending", "said"),
    [
        ([], "Plate the reference anew: A and B."),
        (["B"], "Plate the reference anew: A. May end within a week, so plate only if still "
                "wanted: B."),
        (["A", "B"], "Plate the reference anew: A and B. May end within a week, so plate only if "
                     "still wanted: all of them."),
    ],
)  # fmt: skip
def test_plating_anew_is_not_asked_of_cells_that_end(
    ending: list[str], said: str, data: ReportData
) -> None:
    """Plating costs a cell its lithium: who ends within a week is told apart."""
    given = with_rows(data, forecasts=[soon(cell) for cell in ending])
    assert task_words(given, Task(Hand.REPLATE, ["A", "B"], [])) == said
    clip = task_words(given, Task(Hand.CLIP, ["A", "B"], []))
    assert clip == "Check the clips and contacts: A and B."


def test_what_became_of_each_group_is_told_once(data: ReportData) -> None:
    """Counts by group take the place of those of all."""
    told = summary(data)
    assert [name for name, _ in told["counts"]] == ["built", "included", "excluded"]
    assert told["by_group"].startswith("tape: ")
    assert "; bead: " in told["by_group"]
