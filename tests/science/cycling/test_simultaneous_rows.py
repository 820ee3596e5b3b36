"""Order of rows of one time: the step of P1-10 whichever way it was written.

P1-10: rows (0, +1) (1800, +1) (1800, -1) (3600, -1) hold 0.5 mAh of charge and of discharge.
"""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trivet.science.cycling.integrals import charge_mAh
from trivet.science.cycling.simultaneous_rows import tie_order


def ordered(time_s, current_mA):
    """Currents in order."""
    time_s, current_mA = np.array(time_s, dtype=float), np.array(current_mA, dtype=float)
    return current_mA[tie_order(time_s, current_mA, zero_current_mA=0.002)]


def test_a_step_written_backwards_is_read_forwards():
    """P1-10: both orders of the two rows at the switch give 0.5 and 0.5 mAh."""
    time_s = np.array([0.0, 1800.0, 1800.0, 3600.0])
    for current_mA in ([1.0, 1.0, -1.0, -1.0], [1.0, -1.0, 1.0, -1.0]):
        order = ordered(time_s, current_mA)
        assert order.tolist() == [1.0, 1.0, -1.0, -1.0]
        assert charge_mAh(time_s, order, sign=1).sum() == pytest.approx(0.5)
        assert charge_mAh(time_s, order, sign=-1).sum() == pytest.approx(0.5)


def test_charge_rest_discharge_in_one_moment():
    """Three rows of one moment, in any of their six orders: charge, rest, discharge."""
    for three in itertools.permutations([1.0, 0.0, -1.0]):
        assert ordered([0, 9, 9, 9, 20], [1.0, *three, -1.0]).tolist() == [1, 1, 0, -1, -1]


def test_a_pulse_within_one_moment_stays_inside():
    """A pulse shorter than the clock shows between two rests does not reach their outer rows."""
    for three in itertools.permutations([0.0, -5.0, 0.0]):
        assert ordered([0, 9, 9, 9, 20], [0.0, *three, 0.0]).tolist() == [0, 0, -5, 0, 0]


def test_the_ends_of_a_record_have_one_neighbour():
    """At the first moment the next row decides, at the last the one before; alone nothing does."""
    assert ordered([0, 0, 10], [1.0, 0.0, 1.0]).tolist() == [0, 1, 1]
    assert ordered([0, 10, 10], [1.0, 0.0, 1.0]).tolist() == [1, 1, 0]
    assert ordered([0, 0], [1.0, 0.0]).tolist() == [1, 0]


def test_what_is_not_a_switch_keeps_its_order():
    """Equal currents, missing currents and single rows stay where the file has them."""
    same = np.array([1.0, 1.0, 1.001, 1.0, 1.0])
    order = tie_order(np.array([0.0, 5.0, 5.0, 5.0, 9.0]), same, zero_current_mA=0.002)
    assert order.tolist() == [0, 1, 2, 3, 4]
    gap = np.array([1.0, np.nan, -1.0, 1.0])
    assert tie_order(np.array([0.0, 5.0, 5.0, 9.0]), gap, zero_current_mA=0.002).tolist() == [
        0,
        1,
        2,
        3,
    ]
    assert tie_order(np.zeros(0), np.zeros(0), zero_current_mA=0.002).size == 0


@given(st.integers(0, 2**32 - 1))
def test_no_row_is_lost_and_time_does_not_turn(seed):
    """The order is a permutation that moves rows within their time only."""
    rng = np.random.default_rng(seed)
    time_s = np.sort(rng.integers(0, 8, 25)).astype(float)
    current_mA = rng.choice([-1.0, 0.0, 1.0], 25)
    order = tie_order(time_s, current_mA, zero_current_mA=0.002)
    assert sorted(order.tolist()) == list(range(25))
    assert (time_s[order] == time_s).all()
