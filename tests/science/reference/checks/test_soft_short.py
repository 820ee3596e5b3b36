"""Soft short of the reference (check R7) on records drawn by hand.

A reference that touches an electrode reads its potential (Kirchhoff): that electrode is at zero
and the other one shows the cell voltage.
"""

import numpy as np
import pytest

from trivet.science.reference.checks.soft_short import response_shares, soft_shorts

FIRST, LAST = np.array([2]), np.array([123])


def record(*, negative_ohm=20.0, graphite_V=0.0):
    """One cycle at 1 mA: rest, two hours of charge, two of discharge; rows two minutes apart."""
    time_s = np.concatenate(
        [[-120.0, 0.0], np.arange(0.0, 7201.0, 120.0), np.arange(7200, 14401, 120)]
    )
    current_mA = np.concatenate([[0.0, 0.0], np.ones(61), -np.ones(61)])
    negative_V = graphite_V - current_mA * negative_ohm / 1000.0
    positive_V = 3.425 + current_mA * 0.03
    return time_s, current_mA, positive_V, negative_V


def shorted(positive_V, negative_V, to):
    """Potentials with the reference at an electrode's potential, or at lithium."""
    place_V = {"positive": positive_V, "negative": negative_V, "": 0.0}[to]
    return positive_V - place_V, negative_V - place_V


def found(to, **given):
    """What the check finds in the record: hours, and when they begin."""
    time_s, current_mA, positive_V, negative_V = record(**given)
    both = shorted(positive_V, negative_V, to)
    result = soft_shorts(
        time_s,
        current_mA,
        positive_V - negative_V,
        both,
        first_row=FIRST,
        last_row=LAST,
        zero_current_mA=0.002,
        near_mV=5.0,
        smallest_response=0.05,
    )
    return result.lasting_h.tolist(), result.time_h.tolist()


@pytest.mark.parametrize("to", ["positive", "negative"])
@pytest.mark.parametrize("graphite_V", [0.0, 0.12])
def test_a_shorted_electrode_is_found(to, graphite_V):
    """A short to either electrode shows, also to a lithium negative that rests at 0 V anyway."""
    assert found(to, graphite_V=graphite_V) == ([4.0], [0.0])


def test_a_lithium_negative_is_no_short():
    """A lithium negative of 3 ohm stays within 5 mV of its reference, but answers to current."""
    assert found("", negative_ohm=3.0) == ([0.0], [4.0])


def test_a_graphite_held_at_zero_by_its_resistance_is_no_short():
    """0.02 V less 20 ohm times 1 mA is zero for two hours of charge, and no short."""
    assert found("", graphite_V=0.02)[0] == [0.0]


def test_without_a_step_of_the_current_nothing_is_said():
    """A record without a step of the current can not be tested, and is left out."""
    time_s, current_mA, positive_V, negative_V = record()
    result = soft_shorts(
        time_s,
        np.ones(current_mA.size),
        positive_V - negative_V,
        (positive_V, negative_V),
        first_row=FIRST,
        last_row=LAST,
        zero_current_mA=0.002,
        near_mV=5.0,
        smallest_response=0.05,
    )
    assert result.cycle.size == 0


def test_the_response_is_the_share_of_the_resistance():
    """20 of 50 ohm answer for 0.4 of the cell (P1-17 split: 30 and 20 ohm)."""
    time_s, current_mA, positive_V, negative_V = record()
    share = response_shares(
        time_s,
        current_mA,
        positive_V - negative_V,
        negative_V,
        first_row=FIRST,
        last_row=LAST,
        smallest_mV=5.0,
    )
    assert share == pytest.approx([0.4])
