"""`trivet check` says what the plan could show, by the rule of its campaign, before any data."""

from __future__ import annotations

from dataclasses import replace

from trivet.cli.plan_words import plan_lines
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.inference import Comparison
from trivet.stages.planning.before import power_before_data
from trivet.stages.planning.design import Calendar

COMPARISON = Comparison.model_validate({"factors": [{"factor": "seal", "control": "tape"}]})
START_S = 1.77e9
WEEK_S = 7 * 86400.0


def cells(each: int, *groups: str) -> list[CellFacts]:
    """So many cells a group in two batches, a week apart."""
    return [
        replace(
            CellFacts(f"{group}{number}", "AB"[number % 2]),
            values={"seal": group},
            clock_start_s=START_S + WEEK_S * (number % 2),
        )
        for group in groups
        for number in range(each)
    ]


def test_few_cells_are_told_to_show_little_and_no_equivalence() -> None:
    """Eight cells a group find twice the life often, a quarter more hardly ever."""
    found = power_before_data(
        cells(8, "tape", "epoxy"),
        comparison=COMPARISON,
        calendar=Calendar("2026-04-15", "Europe/Berlin"),
        seed=1,
    )
    (plan,) = found
    assert (plan.cells, plan.control_cells) == (8, 8)
    assert plan.looks > 1
    powers = [power.power for power in plan.difference.values()]
    assert powers == sorted(powers)
    assert powers[0] < 0.4 < powers[-1]
    first, line = plan_lines(found, COMPARISON)
    assert f"{plan.looks} looks" in first
    assert "seal, epoxy (8) against tape (8): a time ratio of 1.25 0." in line
    assert "equivalence within 1.25 can't be shown with so few cells" in line


def test_more_cells_show_more_and_equivalence_with_enough() -> None:
    """Forty cells a group of narrow spread show both."""
    narrow = COMPARISON.model_copy(update={"planned_spread": 0.1, "planned_censored_share": 0.0})
    found = power_before_data(
        cells(40, "tape", "epoxy"), comparison=narrow, calendar=Calendar(None, "UTC"), seed=1
    )
    assert found[0].looks == 1
    assert found[0].difference[1.25].power > 0.95
    assert found[0].same.power > 0.95
    assert "one look" in next(plan_lines(found, narrow))


def test_a_group_without_its_control_has_no_power() -> None:
    """Nothing to compare, nothing said."""
    found = power_before_data(
        cells(4, "epoxy"), comparison=COMPARISON, calendar=Calendar(None, "UTC"), seed=1
    )
    assert found == []
    assert list(plan_lines(found, COMPARISON)) == []
