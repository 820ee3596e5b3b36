"""The reference: its checks on simulated cases, trust as a timeline, edges of withholding.

Limits are those of the settings' defaults (common practice, no source); the simulated faults are
set by hand, so that what must be found is known.
"""

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from trivet.reference_checks import ReferenceCheck
from trivet.science.cycling.half_cycles import rests
from trivet.science.cycling.robust_slope import robust_slope
from trivet.science.reference.checks.anchors import anchor_offsets_mV
from trivet.science.reference.checks.charge import charge_left
from trivet.science.reference.checks.closure import median_closure_mV
from trivet.science.reference.checks.drift import drift_mV_per_day
from trivet.science.reference.checks.jumps import common_jumps_mV
from trivet.science.reference.checks.noise import rest_noise_mV
from trivet.science.reference.checks.watched import Readings
from trivet.science.reference.trust import (
    TRUST_ORDER,
    assess,
    is_withheld,
    one_each,
    trust_at,
    trust_over,
    trust_timeline,
)


def offset(time_h, value):
    """An offset held against 5 and 20 mV."""
    return assess(ReferenceCheck.OFFSET, time_h, value, limits=(5.0, 20.0))


def jump(time_h, value):
    """A common-mode jump held against 5 and 20 mV."""
    return assess(ReferenceCheck.JUMP, time_h, value, limits=(5.0, 20.0))


def timeline(*checks, platings=(0.0,), at_best="trusted", last=100.0):
    """Spans of trust as (start, end, state)."""
    spans = trust_timeline(
        one_each(checks), first_h=-10.0, last_h=last, platings_h=platings, at_best=at_best
    )
    return list(zip(spans.starts_h, spans.ends_h, spans.states, strict=True))


@pytest.mark.parametrize(
    ("value", "trust", "limit"),
    [
        (5.0, "trusted", 5.0),
        (-5.0, "trusted", 5.0),
        (5.001, "suspect", 5.0),
        (20.0, "suspect", 5.0),
        (-20.001, "lost", 20.0),
    ],
)
def test_a_value_equal_to_its_limit_is_good(value, trust, limit):
    """Limits are inclusive on the good side, for values of either sign."""
    check = offset(1.0, value)
    assert (check.trust, check.limit) == (trust, limit)


def test_charge_left_is_bad_below_its_limits():
    """For charge left, below the limit is bad and the limit itself good."""
    check, limits = ReferenceCheck.CHARGE_LEFT, (0.5, 0.2)
    found = [assess(check, 0.0, v, limits=limits).trust for v in (0.5, 0.49, 0.2, 0.19)]
    assert found == ["unknown", "suspect", "suspect", "lost"]


def test_closure_makes_suspect_at_worst_and_never_gives_trust():
    """Closure neither loses a reference nor gives trust, since the reference cancels in it."""
    limits = (2.0, 10.0)
    found = [assess(ReferenceCheck.CLOSURE, 0.0, v, limits=limits) for v in (0.0, 3.0, 50.0)]
    assert [check.trust for check in found] == ["unknown", "suspect", "suspect"]
    assert [check.limit for check in found] == [2.0, 2.0, 10.0]


def test_not_plated_until_plated():
    """Before the first plating the reference is not plated; without checks it is unknown."""
    assert timeline() == [(-10.0, 0.0, "not plated"), (0.0, 100.0, "unknown")]
    assert timeline(platings=()) == [(-10.0, 100.0, "not plated")]


def test_good_anchors_make_trusted_from_the_plating_on():
    """A good first anchor gives trust back to the plating and on to the end."""
    assert timeline(offset(20.0, 1.0)) == [
        (-10.0, 0.0, "not plated"),
        (0.0, 100.0, "trusted"),
    ]


def test_a_bad_first_anchor_leaves_the_time_before_unknown():
    """What lies before a first anchor that is not good is unknown, not suspect."""
    assert timeline(offset(20.0, 10.0))[1:] == [(0.0, 20.0, "unknown"), (20.0, 100.0, "suspect")]
    assert timeline(offset(20.0, 30.0))[1:] == [(0.0, 20.0, "unknown"), (20.0, 100.0, "lost")]


def test_between_a_good_and_a_bad_anchor_is_suspect():
    """It went somewhere in between: suspect from the good check, lost from the bad one."""
    assert timeline(offset(20.0, 1.0), offset(60.0, 30.0))[1:] == [
        (0.0, 20.0, "trusted"),
        (20.0, 60.0, "suspect"),
        (60.0, 100.0, "lost"),
    ]


def test_a_lost_reference_stays_lost():
    """A good offset after a loss brings nothing back; a re-plating starts anew."""
    checks = offset(20.0, 30.0), offset(40.0, 0.0), offset(80.0, 0.0)
    assert timeline(*checks)[-1] == (20.0, 100.0, "lost")
    assert timeline(*checks, platings=(0.0, 70.0))[-2:] == [
        (20.0, 70.0, "lost"),
        (70.0, 100.0, "trusted"),
    ]


def test_a_suspect_anchor_recovers_at_a_good_one():
    """From a suspect anchor to the next good one it stays suspect, then trusted."""
    assert timeline(offset(20.0, 1.0), offset(40.0, 8.0), offset(60.0, 2.0))[1:] == [
        (0.0, 20.0, "trusted"),
        (20.0, 60.0, "suspect"),
        (60.0, 100.0, "trusted"),
    ]


def test_a_jump_loses_exactly_when_it_happens():
    """Before the jump the last good anchor holds; from it on the reference is lost."""
    assert timeline(offset(20.0, 1.0), jump(50.0, -300.0), offset(60.0, -300.0))[1:] == [
        (0.0, 50.0, "trusted"),
        (50.0, 100.0, "lost"),
    ]


def test_a_small_jump_throws_doubt_until_the_next_good_anchor():
    """A jump within the limit of loss makes suspect until an anchor is good again."""
    assert timeline(offset(20.0, 1.0), jump(50.0, 8.0), offset(70.0, 3.0))[1:] == [
        (0.0, 50.0, "trusted"),
        (50.0, 70.0, "suspect"),
        (70.0, 100.0, "trusted"),
    ]


def test_swapped_leads_are_suspect_at_best():
    """The best that is allowed is never passed, and worse is kept."""
    found = timeline(offset(20.0, 1.0), jump(50.0, -300.0), at_best="suspect")
    assert found[1:] == [(0.0, 50.0, "suspect"), (50.0, 100.0, "lost")]


def test_a_doubted_cycle_is_suspect_and_no_other():
    """Bad closure of one cycle makes that cycle suspect only."""
    closure = assess(
        ReferenceCheck.CLOSURE,
        40.0,
        5.0,
        limits=(2.0, 10.0),
        doubt_from_h=30.0,
        doubt_to_h=40.0,
    )
    assert timeline(offset(20.0, 1.0), closure)[1:] == [
        (0.0, 30.0, "trusted"),
        (30.0, 40.0, "suspect"),
        (40.0, 100.0, "trusted"),
    ]


SPANS = np.array([0.0, 10.0, 20.0]), np.array([10.0, 20.0, 30.0]), ("trusted", "suspect", "lost")


@pytest.mark.parametrize(
    ("time_h", "state"),
    [(-0.1, "unknown"), (0.0, "trusted"), (9.999, "trusted"), (10.0, "suspect"), (31.0, "lost")],
)
def test_trust_at_a_moment(time_h, state):
    """A span has its start and not its end; before the first unknown, after the last its state."""
    assert trust_at(*SPANS, time_h) == state


@pytest.mark.parametrize(
    ("start_h", "end_h", "state"),
    [
        (0.0, 10.0, "trusted"),
        (0.0, 10.001, "suspect"),
        (10.0, 10.0, "suspect"),
        (5.0, 25.0, "lost"),
        (20.0, 20.5, "lost"),
        (-1.0, 5.0, "unknown"),
    ],
)
def test_trust_over_a_span_is_the_worst(start_h, end_h, state):
    """The worst state counts; a state that begins only at the end does not."""
    assert trust_over(*SPANS, start_h, end_h) == state


def test_only_trusted_is_shown():
    """Every trust but `trusted` withholds."""
    assert [is_withheld(state) for state in TRUST_ORDER] == [False, True, True, True, True]
    assert trust_at(np.zeros(0), np.zeros(0), (), 1.0) == "unknown"


def rest_record():
    """Two rests of 2 h, rows a minute, positive on a plateau at 3.425 V less 7 mV."""
    time_s = np.arange(0.0, 5 * 3600.0 + 1, 60.0)
    current_mA = np.where((time_s >= 2 * 3600) & (time_s < 3 * 3600), 1.0, 0.0)
    return time_s, current_mA, np.full(time_s.size, 3.425 - 0.007)


def test_offset_at_the_end_of_rests():
    """The offset is the median of the last minutes less the anchor, where the anchor holds."""
    time_s, current_mA, positive_V = rest_record()
    positive_V = positive_V + 0.05 * np.exp(-(time_s % (3 * 3600)) / 600.0)
    found = rests(time_s, current_mA, zero_current_mA=0.002)
    usable = np.array([False, True])
    offsets = anchor_offsets_mV(time_s, positive_V, found, usable=usable, anchor_V=3.425)
    assert offsets.time_h == pytest.approx([5.0])
    assert offsets.value == pytest.approx([-7.0], abs=0.01)


@given(st.integers(0, 2**32 - 1))
def test_drift_is_the_slope_of_theil_and_sen(seed):
    """The robust slope equals that of scipy.stats.theilslopes."""
    rng = np.random.default_rng(seed)
    days, offsets = np.sort(rng.uniform(0, 50, 9)), rng.normal(0, 3, 9)
    expected = scipy.stats.theilslopes(offsets, days).slope
    assert robust_slope(days, offsets) == pytest.approx(expected, rel=1e-9)


def test_drift_needs_three_offsets_over_a_day():
    """Two offsets give no drift, nor do three within a day; one outlier does not move it."""
    hours = np.array([0.0, 24.0, 48.0, 72.0, 96.0])
    offsets = np.array([0.0, 0.5, 9.0, 1.5, 2.0])
    found = drift_mV_per_day(Readings(hours, offsets))
    assert found.time_h.tolist() == [48.0, 72.0, 96.0]
    assert found.value[-1] == pytest.approx(0.5)
    assert drift_mV_per_day(Readings(hours[:2], offsets[:2])).value.size == 0
    assert drift_mV_per_day(Readings(hours[:3] / 100, offsets[:3])).value.size == 0


def jumps(shift_V, *, cell_step_V=0.0, current_mA=None):
    """Jumps found in a quiet record whose two potentials shift by some volts from row 5 on."""
    time_s = np.arange(10) * 3600.0
    after = np.arange(10) >= 5
    positive_V = 3.4 + after * (np.asarray(shift_V) + cell_step_V)
    negative_V = 0.1 + after * np.asarray(shift_V)
    return common_jumps_mV(
        time_s,
        np.zeros(10) if current_mA is None else current_mA,
        positive_V - negative_V,
        positive_V,
        negative_V,
        quiet_mV=5.0,
        suspect_mV=5.0,
        lost_mV=20.0,
        zero_current_mA=0.002,
    )


def test_a_common_jump_is_found_with_its_sign():
    """A reference that rises by 300 mV shows as both potentials falling by 300 mV."""
    found = jumps(-0.3)
    assert found.time_h.tolist() == [5.0]
    assert found.value == pytest.approx([-300.0])


def test_what_is_no_common_jump():
    """Steps within the limit, small steps with the cell voltage or the current are no jumps."""
    assert jumps(0.004).value.size == 0
    assert jumps(0.010).value.size == 1
    assert jumps(0.010, cell_step_V=0.006).value.size == 0
    assert jumps(0.010, current_mA=np.where(np.arange(10) < 5, 0.0, 1.0)).value.size == 0


def test_what_current_does_is_no_common_jump():
    """A current drives the two potentials apart, however far, and that is no jump."""
    step = np.arange(10) >= 5
    found = common_jumps_mV(
        np.arange(10) * 60.0,
        step * 1.0,
        3.3 + step * 0.5,
        3.4 + step * 0.3,
        0.1 - step * 0.2,
        quiet_mV=5.0,
        suspect_mV=5.0,
        lost_mV=20.0,
        zero_current_mA=0.002,
    )
    assert found.value.size == 0


def test_a_large_common_jump_is_seen_under_way():
    """A jump of 300 mV is found although cell voltage and current move at the same time."""
    current_mA = np.where(np.arange(10) < 5, 0.0, 1.0)
    found = jumps(-0.3, cell_step_V=0.065, current_mA=current_mA)
    assert found.value == pytest.approx([-267.5])


def test_jumps_within_an_hour_are_one_event():
    """Several steps close together count once, at the first that is beyond the limit of loss."""
    steps = np.cumsum([0, 0.008, 0.03, 0.1])
    found = common_jumps_mV(
        np.arange(4) * 60.0,
        np.zeros(4),
        np.full(4, 3.3),
        3.4 - steps,
        0.1 - steps,
        quiet_mV=5.0,
        suspect_mV=5.0,
        lost_mV=20.0,
        zero_current_mA=0.002,
    )
    assert found.time_h == pytest.approx([2 / 60])
    assert found.value == pytest.approx([-30.0])


def test_noise_at_rest_is_what_was_put_in():
    """White noise of 2 mV on a slope is found as 2 mV; too few rows give none."""
    rng = np.random.default_rng(7)
    time_s = np.arange(0.0, 601.0, 1.0)
    volts = 3.4 + 1e-5 * time_s + rng.normal(0, 0.002, time_s.size)
    found = rests(time_s, np.zeros(time_s.size), zero_current_mA=0.002)
    noise = rest_noise_mV(time_s, volts, found)
    # 61 rows: the standard deviation is known to 1/sqrt(2*59) = 9 %; 3 of these.
    assert noise.value == pytest.approx([2.0], rel=0.28)
    coarse = time_s[::120]
    found = rests(coarse, np.zeros(coarse.size), zero_current_mA=0.002)
    assert rest_noise_mV(coarse, volts[::120], found).value.size == 0


def test_closure_of_a_cycle_is_its_median():
    """One wild row does not move the closure of a cycle; a cycle without rows has none."""
    closure = np.array([0.003, 0.003, 9.0, np.nan, np.nan])
    found = median_closure_mV(closure, np.array([0, 3]), np.array([2, 4]))
    assert found[0] == pytest.approx(3.0)
    assert np.isnan(found[1])


def test_charge_left_by_the_drain_of_the_channel():
    """4.2 V over 10 Mohm drain 10.08 uAh a day: 20 uAh are half gone after 23.8 h (Ohm's law)."""
    time_s = np.array([0.0, 20e-3 * 0.5 / (4.2 / 1e7 * 1e3) * 3600.0])
    left = charge_left(time_s, (np.full(2, 4.2),), usable_mAh=20e-3, resistance_ohm=1e7)
    assert time_s[1] / 3600.0 == pytest.approx(23.81, abs=0.01)
    assert left == pytest.approx([1.0, 0.5])
    assert (
        charge_left(100 * time_s, (np.full(2, 4.2),), usable_mAh=0.02, resistance_ohm=1e7)[1] == 0
    )
