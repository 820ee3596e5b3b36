"""Beginnings that were seen, and those that were not, on records cut by hand."""

import numpy as np
import pytest

from trivet.reasons import Beginning
from trivet.science.cycling.beginning import beginning
from trivet.science.cycling.cycles import cycles
from trivet.science.cycling.half_cycle_measures import CycleRules, measure_halves

RULES = CycleRules(
    capacity_basis_mAh=2.0,
    zero_current_mA=0.001,
    ageing_rate=0.5,
    check_up_rate=0.1,
    rate_tolerance=0.1,
    upper_voltage_V=3.65,
    lower_voltage_V=2.5,
    longest_gap_s=600.0,
    constant_voltage_band_V=0.005,
)
SHARE = 0.005


def charge_V(share):
    """A charge that rises steeply, runs flat, and rises to its limit: drawn by hand."""
    return np.interp(share, [0.0, 0.02, 0.1, 0.95, 1.0], [2.8, 3.2, 3.35, 3.42, 3.65])


def half(level_mA, hours, first_share=0.0):
    """Rows of one half-cycle a minute apart, from some share of its charge on."""
    share = np.arange(0.0, 60.0 * hours + 1.0) / (60.0 * hours)
    share = share[share >= first_share]
    volts = charge_V(share) if level_mA > 0 else np.linspace(3.3, 2.5, share.size)
    return np.full(share.size, float(level_mA)), volts


def record(*halves):
    """Time [s], current [mA] and voltage [V] of half-cycles one after the other."""
    current_mA, cell_V = (np.concatenate(parts) for parts in zip(*halves, strict=True))
    return np.arange(current_mA.size) * 60.0, current_mA, cell_V


def told(columns, **known):
    """How the beginning is known, and the cycles that follow from it."""
    time_s, current_mA, cell_V = columns
    halves = measure_halves(time_s, current_mA, cell_V, RULES)
    given = {"since_built_s": None, "since_test_s": None} | known
    how = beginning(current_mA, cell_V, halves, RULES, open_share=SHARE, **given)
    return how, cycles(time_s, current_mA, cell_V, halves, RULES, beginning=how)


FADING = [2.0, 1.9, 1.9, 1.88, 1.88, 1.86]
"""Hours at 1 mA of charges and discharges in turn: the first discharge gives 0.95 back."""


def life(first_share=0.0, hours=FADING):
    """Half-cycles in turn, the first cut at a share of its charge."""
    return record(
        half(1.0, hours[0], first_share),
        *[half((-1.0) ** place, span) for place, span in enumerate(hours) if place],
    )


@pytest.mark.parametrize("since_test_s", [0.0, 30.0])
def test_a_test_that_begins_with_the_charge_has_its_first_cycle(since_test_s):
    """By the instrument's clock nothing passed before the first row: cycle 1 is complete."""
    how, found = told(life(), since_test_s=since_test_s)
    assert how is Beginning.FRESH
    assert found.complete.tolist() == [1, 1, 1]
    # by hand: 120 and 114 min at 1 mA, and at each switch within a minute a quarter of it more
    assert found.coulombic_efficiency[0] == pytest.approx(114.5 / 120.25)
    assert found.retention[0] == 1.0


def test_a_cell_built_just_before_has_its_first_cycle():
    """20 s at 1 mA are less than half a percent of 2 mAh; an hour is not."""
    assert told(life(), since_built_s=20.0)[0] is Beginning.FRESH
    assert told(life(first_share=0.3), since_built_s=3600.0)[0] is Beginning.NOT_KNOWN


def test_a_charge_that_starts_where_later_ones_do_is_whole():
    """No clock tells, but the steep start at 2.8 V is that of the later charges."""
    how, found = told(life())
    assert how is Beginning.AS_LATER
    assert found.complete.tolist() == [1, 1, 1]


@pytest.mark.parametrize("share", [0.02, 0.05, 0.3])
def test_a_cut_charge_is_not_taken_for_whole(share):
    """Where a part of the charge is missing the cycle is partial, whatever the test's clock says.

    The first charge takes 10 % more than the discharge gives back, so that efficiency alone would
    not show a small part missing.
    """
    cut = life(first_share=share, hours=[2.1, *FADING[1:]])
    for since_test_s in (None, 0.0):
        how, found = told(cut, since_test_s=since_test_s)
        assert how is Beginning.NOT_KNOWN
        assert found.complete.tolist() == [0, 1, 1]
        assert np.isnan(found.coulombic_efficiency[0])


def test_a_flat_start_proves_nothing():
    """Where later charges, sampled sparsely, show their plateau only, alike starts say nothing."""
    flat = [half(1.0, 2.0, 0.3), half(-1.0, 1.2), half(1.0, 2.0, 0.31), half(-1.0, 1.2)]
    assert told(record(*flat))[0] is Beginning.NOT_KNOWN


def test_more_given_than_taken_shows_a_cut_charge():
    """A discharge that gives more than the charge before it took shows that some is missing."""
    assert told(life(first_share=0.3), since_built_s=0.0)[0] is Beginning.NOT_KNOWN


def test_a_half_cycle_that_starts_at_its_limit_is_whole():
    """A charge from the lower limit, and a discharge from the upper one, need no row before."""
    time_s, current_mA, cell_V = life()
    low = cell_V.copy()
    low[0] = 2.5
    assert told((time_s, current_mA, low))[0] is Beginning.AT_LIMIT
    first = int(np.argmax(current_mA < 0))
    cut = (time_s[first:], current_mA[first:], cell_V[first:].copy())
    assert told(cut, since_test_s=0.0)[0] is Beginning.NOT_KNOWN
    cut[2][0] = 3.648
    assert told(cut)[0] is Beginning.AT_LIMIT


def test_a_row_without_current_before_it_is_enough():
    """A rest shows the beginning."""
    time_s, current_mA, cell_V = life()
    rest = np.concatenate([[0.0], current_mA])
    seen = np.concatenate([[3.0], cell_V])
    assert told((np.append(time_s, time_s[-1] + 60.0), rest, seen))[0] is Beginning.SEEN
