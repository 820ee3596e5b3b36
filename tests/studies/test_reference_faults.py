"""Faults of a reference against its checks: each is found by its own, healthy ones by none.

The faults are set by hand in simulated weeks, so that what must be found is known. The healthy
weeks here are few; `python -m trivet.studies.reference_faults --runs 0 --weeks 1000` makes the
full number.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from trivet.studies import reference_faults, weeks
from trivet.studies.reference_faults import CASES, CHECKS, HEALTHY, RUNS, Case, false_alarms

DOCUMENT = Path(__file__).resolve().parents[2] / "tests" / "STUDIES.md"
FEW = 30


@cache
def fired(case: Case, seed: int) -> frozenset[str]:
    """Checks that found something, computed once a week."""
    return original(case, seed=seed)


original = reference_faults.fired


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_fault_is_found_by_its_own_checks_and_no_other(case: Case) -> None:
    """Every check of the fault's own finds it in every week; no check outside its set does."""
    for seed in range(RUNS):
        found = fired(case, seed)
        assert set(case.own) <= found <= set(case.own) | set(case.also)


def test_every_check_has_a_fault_of_its_own() -> None:
    """Each check must find at least one fault, and no two faults may stand for the same week."""
    assert {check for case in CASES for check in case.own} == set(CHECKS)
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", HEALTHY, ids=lambda case: case.name)
def test_a_healthy_reference_raises_no_alarm(case: Case) -> None:
    """None in 30 weeks of each negative: an alarm in every tenth week would show at 1 - 0.9^30."""
    assert false_alarms(case, number=FEW) == 0
    assert 1.0 - 0.9**FEW > 0.95


def test_the_documented_table_is_the_computed_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """The table in the document for contributors is what the command prints."""
    monkeypatch.setattr(reference_faults, "fired", lambda case, *, seed: fired(case, seed))
    assert "\n".join(reference_faults.table()) in DOCUMENT.read_text(encoding="utf-8")


def test_a_week_closes_and_shows_its_resistances() -> None:
    """Cell = positive - negative against any reference, and 30 and 20 ohm at a step of 1 mA."""
    week = weeks.healthy_week("graphite")
    seen = weeks.off(12.0)(week, np.random.default_rng(1))
    assert seen.cell_V == pytest.approx(seen.positive_V - seen.negative_V, abs=1e-12)
    row = int(np.flatnonzero(np.diff(week.current_mA) == weeks.CURRENT_MA)[0])
    assert week.time_s[row] == week.time_s[row + 1]
    assert np.diff(week.positive_V)[row] == pytest.approx(0.030)
    assert np.diff(week.negative_V)[row] == pytest.approx(-0.020)
