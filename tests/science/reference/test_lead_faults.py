"""Leads exchanged or reversed: each is named from closure, order and response to current.

Closure is worked by hand: cell less (positive less negative).
"""

import numpy as np
import pytest

from trivet.science.reference.lead_faults import lead_faults


def leads(cell_V, positive_V, negative_V, steps=(), measured=True):
    """Evidence for wrong leads."""
    return lead_faults(
        np.asarray(cell_V),
        np.asarray(positive_V),
        np.asarray(negative_V),
        positive_resistance_ohm=np.asarray(steps, dtype=float),
        measured=measured,
        closure_limit_mV=10.0,
    )


def test_exchanged_leads_show_in_closure_and_order():
    """Two potentials exchanged beside a right cell voltage are seen; the right order is not."""
    cell_V, positive_V, negative_V = [3.3, 3.4], [3.4, 3.5], [0.1, 0.1]
    assert not leads(cell_V, positive_V, negative_V).fault
    found = leads(cell_V, negative_V, positive_V)
    assert found.fault == "exchanged"
    assert "closure is 0.0 mV with the leads exchanged" in found.reason
    assert "below the negative" in found.reason


def test_exchanged_leads_show_in_the_response_to_current():
    """Where the negative was derived, a positive that falls on charging gives the leads away."""
    cell_V, wrong_V = np.array([3.3, 3.4]), np.array([0.1, 0.09])
    derived_V = wrong_V - cell_V
    found = leads(cell_V, wrong_V, derived_V, steps=[-20.0] * 5, measured=False)
    assert found.fault == "exchanged"
    assert found.reason == "the positive moves against the current at 5 of 5 steps"
    assert not leads(cell_V, wrong_V, derived_V, steps=[-20.0] * 4, measured=False).fault
    assert not leads([np.nan], [np.nan], [np.nan]).fault


@pytest.mark.parametrize(
    ("positive", "negative", "fault"),
    [
        (1, 1, ""),
        (-1, 1, "positive reversed"),
        (1, -1, "negative reversed"),
        (-1, -1, "both reversed"),
    ],
)
def test_a_reversed_channel_shows_in_closure(positive, negative, fault):
    """A sign that must be turned for closure to hold is named, and none where it holds."""
    cell_V, positive_V, negative_V = np.array([3.3, 3.4]), np.array([3.4, 3.5]), np.array([0.1] * 2)
    found = leads(cell_V, positive * positive_V, negative * negative_V)
    assert found.fault == fault
    assert bool(found.reason) == bool(fault)


def test_without_three_measured_voltages_closure_names_nothing():
    """Where one voltage was derived closure always holds, so a reversal can't be seen in it."""
    assert not leads([3.3] * 2, [3.4] * 2, [0.1] * 2, measured=False).fault
