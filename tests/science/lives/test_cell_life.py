"""The rules that end a cell, and what the bench log makes of them.

Sources: end of life is a rule written in full, with a threshold of 70 to 80 % of the reference
capacity (term `EndOfLifeCapacityThreshold` of the Electrochemistry domain ontology, ECHEM);
consecutive cycles, sudden ends and their limits are common practice, no source. The cycles below
are made so that the end can be counted by hand.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trivet.science.lives.cell_clock import cell_clock, latest_time_s
from trivet.science.lives.cell_life import BenchEvent, Life, cell_life, final_stop, status
from trivet.science.lives.cycle_record import CycleRecord, cycle_record
from trivet.science.lives.ends import (
    EndRules,
    capacity_end,
    cut_off_at_once,
    first_run,
    internal_short,
    open_circuit,
    rule_end,
)

RULES = EndRules(
    retention_below=0.8,
    consecutive=3,
    short_efficiency_below=0.8,
    short_consecutive=2,
    open_circuit_lasting_s=60.0,
    cut_off_capacity_below=0.05,
    cut_off_consecutive=3,
)
NO_SPANS = {
    "excursion_start_h": np.empty(0),
    "excursion_end_h": np.empty(0),
    "extreme_voltage_V": np.empty(0),
}


def record(
    retention: list[float],
    *,
    efficiency: dict[int, float] | None = None,
    kind: dict[int, str] | None = None,
    charge: dict[int, float] | None = None,
) -> CycleRecord:
    """Cycles of 4 h each, 2 mAh at first; `kind`, `efficiency`, `charge` by cycle number."""
    number = np.arange(1, len(retention) + 1)
    kinds = np.array([(kind or {}).get(int(n), "ageing") for n in number], dtype=object)
    share = np.array(retention)
    return cycle_record(
        {
            "cycle": number,
            "start_h": 4.0 * (number - 1),
            "end_h": 4.0 * number - 0.2,
            "charge_capacity_mAh": np.array(
                [(charge or {}).get(int(n), 2.0 * s) for n, s in zip(number, share, strict=True)]
            ),
            "discharge_capacity_mAh": 2.0 * share,
            "coulombic_efficiency": np.array(
                [(efficiency or {}).get(int(n), 0.999) for n in number]
            ),
            "retention": np.where(kinds == "ageing", share, np.nan),
            "kind": kinds,
            "complete": np.where(kinds == "partial", 0, 1),
        }
    )


def end_of(cycles: CycleRecord) -> tuple[str, int] | None:
    """Cause and cycle by all rules."""
    end = rule_end(cycles, rules=RULES, **NO_SPANS)
    return None if end is None else (end.cause, end.cycle)


def life_of(cycles: CycleRecord, *bench: BenchEvent, running: bool | None = True) -> Life:
    """Life of a cell whose last row is the end of its last cycle."""
    return cell_life(
        cycles,
        end=rule_end(cycles, rules=RULES, **NO_SPANS),
        bench=bench,
        last_h=float(cycles.end_h[-1]),
        running=running,
    )


def test_capacity_ends_a_cell_at_the_first_of_three_low_cycles() -> None:
    """The first of three low ageing cycles in a row is the end; the one before was good."""
    end = capacity_end(record([1.0, 0.9, 0.81, 0.79, 0.78, 0.77, 0.76]), rules=RULES)
    assert end is not None
    assert (end.cycle, end.lower_cycle) == (4, 3)
    assert (end.time_h, end.lower_h) == pytest.approx((15.8, 11.8))
    assert "cycle 4, retention 0.7900 below 0.8" in end.evidence


def test_retention_equal_to_the_limit_is_not_below_it() -> None:
    """The comparison is `below`, not `at most`."""
    assert end_of(record([1.0, 0.8, 0.8, 0.8, 0.8])) is None


@pytest.mark.parametrize("low", [[0.79], [0.79, 0.78], [0.5, 0.5]])
def test_fewer_low_cycles_than_asked_for_do_not_end_a_cell(low: list[float]) -> None:
    """One low cycle, or two, between good ones never end a cell whose rule asks for three."""
    assert end_of(record([1.0, 0.9, *low, 0.9, 0.9])) is None


def test_low_cycles_at_the_end_of_the_record_wait_for_the_third() -> None:
    """Two low cycles at the last sight are no end yet."""
    assert end_of(record([1.0, 0.9, 0.79, 0.78])) is None
    assert end_of(record([1.0, 0.9, 0.79, 0.78, 0.77])) == ("capacity", 3)


@pytest.mark.parametrize("kind", ["check-up", "rate test", "partial", "formation"])
def test_cycles_of_another_kind_neither_count_nor_break_the_row(kind: str) -> None:
    """Only ageing cycles are judged: others low do not kill, others high do not save."""
    low = record([1.0, 0.9, 0.3, 0.3, 0.3, 0.3, 0.9], kind=dict.fromkeys((3, 4, 5, 6), kind))
    assert capacity_end(low, rules=RULES) is None
    high = record([1.0, 0.9, 0.79, 0.99, 0.78, 0.77], kind={4: kind})
    assert end_of(high) == ("capacity", 3)


def test_a_truncated_last_cycle_does_not_end_a_cell() -> None:
    """The last cycle of a running cell is partial and its small capacity means nothing."""
    cycles = record([1.0, 0.95, 0.9, 0.01], kind={4: "partial"}, charge={4: 1.2})
    assert end_of(cycles) is None


def test_internal_short_needs_two_cycles_in_a_row() -> None:
    """One inefficient cycle is no short; two in a row are, and the first of them is the end."""
    fine = [1.0] * 8
    assert end_of(record(fine, efficiency={4: 0.5})) is None
    assert end_of(record(fine, efficiency={4: 0.5, 6: 0.5})) is None
    assert end_of(record(fine, efficiency={5: 0.7, 6: 0.6})) == ("internal short", 5)


def test_a_rate_test_is_no_short() -> None:
    """Unlike rates of charge and discharge give a low quotient in a sound cell."""
    cycles = record([1.0] * 6, efficiency={3: 0.4, 4: 0.3}, kind={3: "rate test", 4: "rate test"})
    assert internal_short(cycles, rules=RULES) is None


def test_a_short_outranks_the_capacity_it_takes_away() -> None:
    """Of two ends in one cycle the sudden one is the cause."""
    share = [1.0, 0.95, 0.7, 0.6, 0.5]
    cycles = record(share, efficiency={3: 0.7, 4: 0.6, 5: 0.5})
    assert capacity_end(cycles, rules=RULES) is not None
    assert end_of(cycles) == ("internal short", 3)


def test_cut_off_at_once_holds_to_the_last_cycle_and_counts_partial_ones() -> None:
    """Three last cycles without charge end a cell, partial or not; a recovery saves it."""
    dry = dict.fromkeys((4, 5, 6), "partial")
    end = cut_off_at_once(record([1.0, 0.95, 0.94, 0.01, 0.01, 0.01], kind=dry), rules=RULES)
    assert end is not None
    assert (end.cycle, end.lower_cycle) == (4, 3)
    assert "0.02 mAh below 0.1 mAh" in end.evidence
    recovered = record([1.0, 0.95, 0.94, 0.01, 0.01, 0.01, 0.9], kind=dry)
    assert cut_off_at_once(recovered, rules=RULES) is None
    assert end_of(record([1.0, 0.95, 0.94, 0.01, 0.01, 0.01])) == ("cut-off at once", 4)


def test_cut_off_at_once_is_not_judged_without_a_reference_capacity() -> None:
    """A cell without an ageing cycle has no capacity to take a share of."""
    cycles = record([0.001] * 4, kind=dict.fromkeys((1, 2, 3, 4), "partial"))
    assert cut_off_at_once(cycles, rules=RULES) is None


def spans(start_h: float, lasting_s: float) -> dict[str, np.ndarray]:
    """One excursion."""
    return {
        "excursion_start_h": np.array([start_h]),
        "excursion_end_h": np.array([start_h + lasting_s / 3600.0]),
        "extreme_voltage_V": np.array([4.8]),
    }


def test_open_circuit_lasts_and_no_cycle_completes_afterwards() -> None:
    """Only a long excursion that no complete cycle follows is an end."""
    cycles = record([1.0, 0.95, 0.94, 0.2], kind={4: "partial"})
    end = open_circuit(cycles, rules=RULES, **spans(13.0, 60.0))
    assert end is not None
    assert (end.cause, end.cycle, end.lower_cycle) == ("open circuit", 4, 3)
    assert (end.time_h, end.lower_h) == pytest.approx((13.0, 11.8))
    assert "4.800 V for 60 s" in end.evidence
    assert open_circuit(cycles, rules=RULES, **spans(13.0, 59.0)) is None
    assert open_circuit(cycles, rules=RULES, **spans(9.0, 600.0)) is None


def test_the_earliest_end_wins() -> None:
    """A short in cycle 3 comes before a loss of capacity in cycle 5."""
    share = [1.0, 1.0, 1.0, 1.0, 0.7, 0.7, 0.7]
    assert end_of(record(share, efficiency={3: 0.5, 4: 0.5})) == ("internal short", 3)
    assert end_of(record(share, efficiency={6: 0.5, 7: 0.5})) == ("capacity", 5)


def test_an_end_by_rule_carries_both_clocks() -> None:
    """Duration is the first bad moment, lower the last good one, on hours and on cycles."""
    life = life_of(record([1.0, 0.9, 0.79, 0.78, 0.77]))
    assert (life.observed, life.cause, life.decided_by) == (True, "capacity", "rule")
    assert (life.cycles.duration, life.cycles.lower, life.cycles.upper) == (3.0, 2.0, 3.0)
    assert (life.hours.duration, life.hours.lower) == pytest.approx((11.8, 7.8))
    assert status(life, included=True) == "ended (capacity)"


def test_the_bench_log_outranks_the_rule_and_keeps_its_answer() -> None:
    """`failed` in the log is the end, with its cause; what the rule saw stays in the evidence."""
    cycles = record([1.0, 0.9, 0.79, 0.78, 0.77])
    life = life_of(cycles, BenchEvent("failed", 13.0, "leak"))
    assert (life.cause, life.decided_by, life.hours.duration) == ("leak", "bench log", 13.0)
    assert life.cycles.duration == 4.0
    assert "the rule saw capacity: cycle 3" in life.evidence
    assert life.hours.lower == pytest.approx(7.8)


def test_a_failure_in_the_log_without_a_rule_ends_the_cell() -> None:
    """A leak that no rule can see ends the cell at its time, after the last complete cycle."""
    life = life_of(record([1.0, 0.95, 0.94]), BenchEvent("failed", 11.9, "leak"))
    assert (life.cause, life.cycles.duration, life.cycles.lower) == ("leak", 4.0, 3.0)
    assert status(life, included=True) == "ended (leak)"


@pytest.mark.parametrize(
    ("event", "because", "word"),
    [("stopped", "stopped by a person", "stopped"), ("removed", "removed", "removed")],
)
def test_stopped_and_removed_cells_are_censored(event: str, because: str, word: str) -> None:
    """What a person does to a cell is not an end of the cell."""
    life = life_of(record([1.0, 0.95, 0.94]), BenchEvent(event, 9.0))
    assert (life.observed, life.censored_because, life.decided_by) == (False, because, "bench log")
    assert (life.hours.duration, life.hours.upper, life.cycles.duration) == (9.0, None, 2.0)
    assert status(life, included=True) == word


def test_a_rule_before_a_stop_is_the_end_and_after_it_is_not() -> None:
    """A cell that had ended before it was stopped has ended."""
    cycles = record([1.0, 0.9, 0.79, 0.78, 0.77])
    assert life_of(cycles, BenchEvent("stopped", 20.0)).cause == "capacity"
    early = life_of(cycles, BenchEvent("stopped", 9.0))
    assert early.censored_because == "stopped by a person"
    assert "the rule saw, after that, capacity" in early.evidence


def test_a_resumed_cell_was_not_stopped() -> None:
    """A stop that was taken back does not censor; a later one does."""
    back = [BenchEvent("stopped", 4.0), BenchEvent("resumed", 5.0)]
    assert final_stop(back) is None
    assert final_stop([*back, BenchEvent("removed", 9.0)]) == BenchEvent("removed", 9.0)


def test_cells_without_an_end_say_why() -> None:
    """Running, paused, and unexplained ends of data are told apart."""
    cycles = record([1.0, 0.95, 0.94])
    assert life_of(cycles).censored_because == "running"
    paused = life_of(cycles, BenchEvent("paused", 11.0), running=False)
    assert (paused.censored_because, paused.decided_by) == ("paused", "bench log")
    open_end = life_of(cycles, running=False)
    assert open_end.censored_because == "data end, not explained"
    assert status(open_end, included=True) == "data end, not explained"
    assert "no calendar time" in life_of(cycles, running=None).evidence


def test_a_cell_without_data_is_censored_at_zero() -> None:
    """A cell that was never seen counts, without a moment of observation."""
    life = cell_life(record([]), end=None, bench=[], last_h=None, running=None)
    assert (life.hours.duration, life.cycles.duration, life.observed) == (0.0, 0.0, False)
    assert status(life, included=True) == "no data"
    assert status(life, included=False) == "excluded"
    failed = BenchEvent("failed", 30.0, "other")
    log = cell_life(record([]), end=None, bench=[failed], last_h=None, running=None)
    assert (log.cause, log.hours.duration, log.cycles.duration) == ("other", 30.0, 1.0)


def test_first_run_needs_an_unbroken_row() -> None:
    """The index is that of the first value of the first row that is long enough."""
    assert first_run(np.array([True, False, True, True, False]), length=2) == 2
    assert first_run(np.array([True, False, True]), length=2) is None


@given(st.lists(st.floats(0.0, 1.1), min_size=1, max_size=30), st.integers(1, 4))
def test_the_end_by_capacity_obeys_its_own_words(share: list[float], consecutive: int) -> None:
    """The end is the first cycle from which the stated number of cycles are below the limit."""
    rules = EndRules(**{**vars(RULES), "consecutive": consecutive})
    end = capacity_end(record(share), rules=rules)
    starts = [
        i + 1
        for i in range(len(share) - consecutive + 1)
        if all(value < 0.8 for value in share[i : i + consecutive])
    ]
    assert (None if end is None else end.cycle) == (starts[0] if starts else None)


def test_hours_count_from_the_clock_start_else_from_the_first_row() -> None:
    """Without a clock start, or without calendar time, the first row is hour 0."""
    files = {
        "first_time_s": np.array([7200.0, 36000.0]),
        "last_time_s": np.array([30000.0, 90000.0]),
        "cut_s": 100_000.0,
        "running_within_h": 3.0,
    }
    known = cell_clock(**files, absolute=True, clock_start_s=3600.0)
    assert (known.first_h, known.last_h, known.running) == (1.0, 24.0, True)
    assert known.hours(5400.0) == 0.5
    unknown = cell_clock(**files, absolute=True, clock_start_s=None)
    assert (unknown.first_h, unknown.last_h) == (0.0, 23.0)
    elapsed = cell_clock(**files, absolute=False, clock_start_s=3600.0)
    assert (elapsed.last_h, elapsed.running, elapsed.hours(5400.0)) == (23.0, None, None)
    late = cell_clock(**{**files, "running_within_h": 2.0}, absolute=True, clock_start_s=3600.0)
    assert late.running is False


def test_the_default_cut_is_the_last_calendar_time_in_the_data() -> None:
    """Files without calendar time, or without rows, do not move the cut."""
    times = np.array([50.0, 1e9, np.nan, 2e9])
    absolute = np.array([True, False, True, False])
    assert latest_time_s(times, absolute=absolute) == 50.0
    assert latest_time_s(times, absolute=np.zeros(4, dtype=bool)) is None


def test_a_moment_after_a_complete_cycle_belongs_to_the_next() -> None:
    """What happens after a good cycle spoils the one to come; before the first, the first."""
    cycles = record([1.0, 1.0], kind={2: "partial"})
    assert [cycles.cycle_at(hour) for hour in (-1.0, 1.0, 3.9, 5.0, 9.0)] == [1, 1, 2, 2, 2]
    assert record([]).cycle_at(1.0) == 1
