"""Reference life: interval between two checks, competing end of the cell, first plating only.

Sources: known only between checks, a life is interval-censored on (last good, first bad]
(Turnbull 1976 notation); an offset beyond 20 mV or a common-mode jump beyond 20 mV counts as lost
by common practice, no source. The checks below are made so that the life can be read off.
"""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.lives.cell_life import Life, Span
from trivet.science.lives.cycle_record import CycleRecord, cycle_record
from trivet.science.lives.reference_life import deciding_checks, reference_life


def cycles_of(number: int) -> CycleRecord:
    """Complete ageing cycles of 10 h each from hour 10 on."""
    count = np.arange(1, number + 1)
    ones = np.ones(number)
    return cycle_record(
        {
            "cycle": count,
            "start_h": 10.0 * count,
            "end_h": 10.0 * count + 9.5,
            "charge_capacity_mAh": 2.0 * ones,
            "discharge_capacity_mAh": 2.0 * ones,
            "coulombic_efficiency": ones,
            "retention": ones,
            "kind": np.full(number, "ageing", dtype=object),
            "complete": ones,
        }
    )


def cell_of(hours: float, *, ended: bool = False, because: str = "running") -> Life:
    """Life of a cell that was seen for some hours."""
    span = Span(hours, hours, hours if ended else None)
    return Life(
        span, span, ended, "capacity" if ended else "", "" if ended else because, "rule", "x"
    )


def life_of(
    checks: list[tuple[float, str, float]],
    *,
    cell: Life | None = None,
    plated_h: float | None = 5.0,
    replated_h: float | None = None,
) -> Life:
    """Life of a reference from (hour, check, mV)."""
    return reference_life(
        cycles_of(20),
        checks=deciding_checks(
            {
                "time_h": np.array([row[0] for row in checks]),
                "value": np.array([row[2] for row in checks]),
                "check": np.array([row[1] for row in checks], dtype=object),
                "trust": np.array(["lost"] * len(checks), dtype=object),
            }
        ),
        states=("unknown",),
        cell=cell_of(209.5) if cell is None else cell,
        plated_h=plated_h,
        replated_h=replated_h,
        first_h=1.0,
        offset_limit_mV=20.0,
        jump_limit_mV=20.0,
        checks_to_lose=2,
    )


def test_two_offsets_in_a_row_lose_a_reference_at_the_first() -> None:
    """The first bad check is the end, the last good one the lower bound, hours since plating."""
    life = life_of([(50, "offset", 2.0), (100, "offset", -25.0), (150, "offset", -30.0)])
    assert (life.observed, life.cause, life.decided_by) == (True, "reference lost", "rule")
    assert (life.hours.duration, life.hours.lower, life.hours.upper) == (95.0, 45.0, 95.0)
    assert (life.cycles.duration, life.cycles.lower) == (10.0, 4.0)
    assert "offset -25.0 mV at 100.00 h, limit 20 mV, first of 2" in life.evidence


def test_one_bad_offset_between_good_ones_is_no_loss() -> None:
    """A single bad offset does not lose a reference whose rule asks for two in a row."""
    life = life_of([(50, "offset", 2.0), (100, "offset", 25.0), (150, "offset", 3.0)])
    assert (life.observed, life.censored_because) == (False, "running")
    assert (life.hours.duration, life.hours.lower, life.hours.upper) == (204.5, 145.0, None)
    assert (life.cycles.duration, life.cycles.lower) == (20.0, 14.0)


def test_an_offset_at_its_limit_is_good() -> None:
    """Beyond means greater than the limit."""
    checks = [(50, "offset", 20.0), (100, "offset", -20.0), (150, "offset", 20.0)]
    assert not life_of(checks).observed


def test_one_jump_loses_a_reference() -> None:
    """A jump beyond its limit suffices; a smaller one does not."""
    lost = life_of([(50, "offset", 2.0), (72, "jump", -310.0), (100, "offset", 1.0)])
    assert (lost.hours.upper, lost.hours.lower) == (67.0, 45.0)
    assert "common-mode jump -310.0 mV at 72.00 h" in lost.evidence
    assert not life_of([(50, "offset", 2.0), (72, "jump", -19.0)]).observed


def test_a_soft_short_loses_a_reference() -> None:
    """A soft short suffices although no offset shows it; it is known to the check."""
    life = life_of([(50, "offset", 0.5), (80, "soft short", 4.0), (100, "offset", 0.5)])
    assert (life.observed, life.hours.lower, life.hours.upper) == (True, 45.0, 75.0)
    assert "soft short at 80.00 h: no response to current for 4.0 h" in life.evidence


def test_without_a_good_check_the_plating_is_the_lower_bound() -> None:
    """A reference found lost at its first checks was good at most from the plating."""
    life = life_of([(50, "offset", 200.0), (100, "offset", 210.0)])
    assert (life.hours.lower, life.hours.upper) == (0.0, 45.0)
    assert (life.cycles.lower, life.cycles.upper) == (0.0, 5.0)


def test_checks_before_plating_and_other_checks_do_not_count() -> None:
    """Before it is plated a reference can't be lost; drift and closure do not lose it."""
    checks = [
        (1, "offset", 900.0),
        (2, "jump", 900.0),
        (50, "offset", 1.0),
        (60, "drift", 99.0),
        (61, "closure", 99.0),
    ]
    life = life_of(checks)
    assert not life.observed
    assert life.hours.lower == 45.0


def test_a_cell_that_ends_first_is_a_competing_event() -> None:
    """The end of the cell censors its reference with that reason; later checks do not count."""
    life = life_of([(50, "offset", 1.0), (150, "jump", 400.0)], cell=cell_of(120.0, ended=True))
    assert (life.observed, life.censored_because) == (False, "cell ended first")
    assert (life.hours.duration, life.hours.lower) == (115.0, 45.0)


def test_a_loss_does_not_wait_for_the_end_of_the_cell() -> None:
    """A reference lost before its cell ends is lost, and the cell is not asked."""
    life = life_of([(50, "offset", 1.0), (80, "jump", 400.0)], cell=cell_of(120.0, ended=True))
    assert life.cause == "reference lost"


def test_without_a_check_nothing_is_known() -> None:
    """A reference that can't be checked is censored at its start, not counted as lasting."""
    life = life_of([])
    assert (life.censored_because, life.hours.duration) == ("no check possible", 0.0)
    assert "its trust: unknown" in life.evidence
    ended = life_of([], cell=cell_of(120.0, ended=True))
    assert (ended.censored_because, ended.hours.duration) == ("no check possible", 0.0)


def test_a_small_jump_does_not_show_a_reference_as_good() -> None:
    """Only an offset within its limit is a last good moment; a small jump says that it moved."""
    checks = [(50, "offset", 1.0), (80, "jump", 9.0), (100, "offset", 90.0), (150, "offset", 95.0)]
    assert life_of(checks).hours.lower == 45.0
    assert life_of(checks[:2]).hours.lower == 45.0
    assert life_of(checks[1:2]).censored_because == "no check possible"
    assert life_of([(80, "jump", 90.0)]).cause == "reference lost"


def test_without_a_logged_plating_time_counts_from_the_first_row() -> None:
    """The origin is named in the evidence."""
    life = life_of([(50, "offset", 1.0), (80, "jump", 400.0)], plated_h=None)
    assert life.hours.duration == 79.0
    assert "first row (no plating logged)" in life.evidence


def test_only_the_first_plating_counts() -> None:
    """Plating again censors the first plating; its loss before that is still a loss."""
    checks = [(50, "offset", 1.0), (150, "jump", 400.0)]
    censored = life_of(checks, replated_h=100.0)
    assert (censored.censored_because, censored.decided_by) == ("re-plated", "bench log")
    assert censored.hours.duration == 95.0
    assert life_of(checks, replated_h=160.0).cause == "reference lost"


def test_a_cell_without_data_keeps_that_reason() -> None:
    """No row read is no row read, for the reference too."""
    nothing = Life(Span(0, 0, None), Span(0, 0, None), False, "", "no data", "rule", "no row")
    assert life_of([], cell=nothing).censored_because == "no data"


@pytest.mark.parametrize("because", ["stopped by a person", "removed", "data end, not explained"])
def test_a_censored_cell_censors_its_reference_alike(because: str) -> None:
    """Where the cell is last seen its reference is last seen."""
    life = life_of([(50, "offset", 1.0)], cell=cell_of(120.0, because=because))
    assert (life.censored_because, life.hours.duration) == (because, 115.0)
