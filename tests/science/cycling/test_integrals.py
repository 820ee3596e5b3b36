"""Charge and energy between rows: exact values, signs, gaps, missing rows.

Worked examples P1-1 to P1-12 are exact by hand for piecewise-linear records; constants are those
of CODATA as scipy carries them.
"""

import numpy as np
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from trivet.science.constants import (
    FARADAY_C_mol,
    GAS_CONSTANT_J_mol_K,
    charge_in_micromoles,
    lithium_mass_mg,
    lithium_thickness_um,
)
from trivet.science.cycling.efficiencies import mean_voltage_V
from trivet.science.cycling.integrals import (
    charge_mAh,
    charges_by_sign,
    energies_by_sign,
    energy_mWh,
    long_gaps,
    span_sums,
    switch_bound_mAh,
    without_offset,
)


def series(*values):
    """Numbers as an array of floats."""
    return np.array(values, dtype=float)


def test_constants_are_those_of_codata():
    """Faraday and gas constant equal CODATA (scipy.constants), to all digits."""
    assert scipy.constants.value("Faraday constant") == pytest.approx(FARADAY_C_mol, rel=1e-15)
    assert pytest.approx(GAS_CONSTANT_J_mol_K, rel=1e-15) == scipy.constants.R


def test_one_milliampere_for_an_hour():
    """P1-1: 1 mA for 3600 s is 1 mAh, 37.311371 umol, 0.258941 mg Li, 4.287529 um on 12 mm."""
    charge = charge_mAh(series(0, 3600), series(1, 1), sign=1).sum()
    area_cm2 = np.pi * 0.6**2
    assert charge == 1.0
    assert charge_in_micromoles(charge) == pytest.approx(37.311371, abs=5e-7)
    assert lithium_mass_mg(charge) == pytest.approx(0.258941, abs=5e-7)
    assert charge / area_cm2 == pytest.approx(0.884194, abs=5e-7)
    assert lithium_thickness_um(charge, area_cm2=area_cm2) == pytest.approx(4.287529, abs=5e-7)


def test_thickness_refuses_no_area():
    """A thickness on an area of zero is refused, not infinite."""
    with pytest.raises(ValueError, match="area must be above zero"):
        lithium_thickness_um(1.0, area_cm2=0.0)


def test_trapezoid_of_current():
    """P1-2: 0 to 2 mA in 600 s, 3000 s, back in 600 s, from four rows: 2 mAh exactly."""
    charge = charge_mAh(series(0, 600, 3600, 4200), series(0, 2, 2, 0), sign=1)
    assert charge.sum() == pytest.approx(2.0, abs=1e-15)


def test_energy_at_linear_voltage():
    """P1-3: 1 mA, 3.0 to 4.0 V in 3600 s: 3.5 mWh, mean 3.5 V."""
    time_s, current_mA, cell_V = series(0, 3600), series(1, 1), series(3, 4)
    energy = energy_mWh(time_s, current_mA, cell_V, sign=1).sum()
    assert energy == pytest.approx(3.5, abs=1e-15)
    assert mean_voltage_V(energy_mWh=energy, charge_mAh=1.0) == pytest.approx(3.5)


def test_energy_where_current_and_voltage_are_linear():
    """P1-4: 0 to 2 mA and 3.0 to 4.0 V in two rows: 3.666667 mWh, not the trapezoid's 4.0."""
    time_s, current_mA, cell_V = series(0, 3600), series(0, 2), series(3, 4)
    charge = charge_mAh(time_s, current_mA, sign=1).sum()
    energy = energy_mWh(time_s, current_mA, cell_V, sign=1).sum()
    assert charge == pytest.approx(1.0)
    assert energy == pytest.approx(11.0 / 3.0, abs=1e-14)
    assert mean_voltage_V(energy_mWh=energy, charge_mAh=charge) == pytest.approx(11.0 / 3.0)


def test_energy_is_split_by_the_sign_of_the_current():
    """P1-9: a negative from 0.05 to -0.05 V while charging gives 0 mWh and no discharge."""
    time_s, current_mA = series(0, 3600), series(1, 1)
    parts = {"cell": (3.40, 3.60), "positive": (3.45, 3.55), "negative": (0.05, -0.05)}
    energy = {k: energy_mWh(time_s, current_mA, series(*v), sign=1).sum() for k, v in parts.items()}
    assert energy["cell"] == pytest.approx(3.5)
    assert energy["positive"] == pytest.approx(3.5)
    assert energy["negative"] == pytest.approx(0.0, abs=1e-15)
    assert energy_mWh(time_s, current_mA, series(0.05, -0.05), sign=-1).sum() == 0.0


def test_two_rows_at_one_time_are_both_used():
    """P1-10: a step with a row on each side gives 0.5 and 0.5 mAh; dropping either is wrong."""
    time_s, current_mA = series(0, 1800, 1800, 3600), series(1, 1, -1, -1)
    assert charge_mAh(time_s, current_mA, sign=1).sum() == pytest.approx(0.5)
    assert charge_mAh(time_s, current_mA, sign=-1).sum() == pytest.approx(0.5)
    first = charge_mAh(time_s[[0, 1, 3]], current_mA[[0, 1, 3]], sign=1).sum()
    assert first == pytest.approx(0.625)
    last = charge_mAh(time_s[[0, 2, 3]], current_mA[[0, 2, 3]], sign=1).sum()
    assert last == pytest.approx(0.125)


def test_uneven_rows_count_by_their_time():
    """P1-11: rows at 0, 10, 20, 30, 3600 s of 3, 3, 3, 3, 4 V: mean over time 3.495833 V."""
    time_s = series(0, 10, 20, 30, 3600)
    energy = energy_mWh(time_s, np.ones(5), series(3, 3, 3, 3, 4), sign=1).sum()
    charge = charge_mAh(time_s, np.ones(5), sign=1).sum()
    mean_V = mean_voltage_V(energy_mWh=energy, charge_mAh=charge)
    assert mean_V == pytest.approx(3.495833, abs=5e-7)


def test_a_missing_row_at_a_switch_is_bounded():
    """P1-12: switched at 1830 s between rows of 60 s: 0.504167 / 0.487500, truth in the bound."""
    time_s = np.arange(0.0, 3601.0, 60.0)
    current_mA = np.where(time_s <= 1830.0, 1.0, -1.0)
    for sign, found, truth in ((1, 0.504167, 0.508333), (-1, 0.487500, 0.491667)):
        charge = charge_mAh(time_s, current_mA, sign=sign).sum()
        bound = switch_bound_mAh(time_s, current_mA, sign=sign).sum()
        assert charge == pytest.approx(found, abs=5e-7)
        assert abs(truth - charge) <= bound < 0.02


def test_no_bound_where_the_switch_has_two_rows():
    """A row on each side of a switch leaves nothing open."""
    time_s, current_mA = series(0, 1800, 1800, 3600), series(1, 1, -1, -1)
    assert switch_bound_mAh(time_s, current_mA, sign=1).sum() == 0.0


def test_coarse_rows_of_a_decay():
    """P1-14: exp(-t/900 s) mA, rows of 60, 300, 900 s: 0.237641, 0.239749, 0.257027 mAh."""
    for step, expected in ((60.0, 0.237641), (300.0, 0.239749), (900.0, 0.257027)):
        time_s = np.arange(0.0, 2700.1, step)
        charge = charge_mAh(time_s, np.exp(-time_s / 900.0), sign=1).sum()
        assert charge == pytest.approx(expected, abs=5e-7)


def test_energy_of_random_lines_matches_quadrature():
    """Energy of crossing currents equals numerical quadrature (numpy, one million midpoints)."""
    time_s, current_mA, cell_V = series(0, 100), series(-0.7, 1.9), series(3.1, 3.9)
    share = (np.arange(1_000_000) + 0.5) / 1_000_000
    current = -0.7 + 2.6 * share
    power = current * (3.1 + 0.8 * share)
    for sign in (1, -1):
        dense = sign * power[sign * current > 0].sum() / 1e6 * 100.0 / 3600.0
        exact = energy_mWh(time_s, current_mA, cell_V, sign=sign).sum()
        assert exact == pytest.approx(dense, rel=1e-9)


def test_nothing_is_integrated_across_a_gap():
    """An interval longer than the limit adds nothing; one as long as the limit counts."""
    time_s, current_mA = series(0, 600, 1200.1), series(1, 1, 1)
    assert long_gaps(time_s, longest_gap_s=600.0).tolist() == [False, True]
    counted = charge_mAh(time_s, current_mA, sign=1, longest_gap_s=600.0)
    assert counted.tolist() == [pytest.approx(1 / 6), 0.0]
    energy = energy_mWh(time_s, current_mA, series(3, 3, 3), sign=1, longest_gap_s=600.0)
    assert energy.tolist() == [pytest.approx(0.5), 0.0]


def test_missing_rows_are_never_bridged():
    """A missing current adds no charge on either side; a missing voltage makes energy unknown."""
    time_s = series(0, 60, 120, 180)
    charge = charge_mAh(time_s, series(1, np.nan, 1, 1), sign=1)
    assert charge.tolist() == [0.0, 0.0, pytest.approx(1 / 60)]
    energy = energy_mWh(time_s, np.ones(4), series(3, 3, np.nan, 3), sign=1)
    assert energy[0] == pytest.approx(0.05)
    assert np.isnan(energy[1:]).all()
    assert (energy_mWh(time_s, np.zeros(4), np.full(4, np.nan), sign=1) == 0.0).all()


def test_offsets_in_the_band_are_no_charge():
    """Currents up to the band are zero, the band itself included; larger ones stay."""
    assert without_offset(series(0.002, -0.002, 0.0021), zero_current_mA=0.002).tolist() == [
        0.0,
        0.0,
        0.0021,
    ]


def test_sums_over_spans_may_overlap_or_be_empty():
    """Spans of rows may overlap, reach the last row, or hold one row, which sums to zero."""
    sums = span_sums(series(1, 2, 4), np.array([0, 1, 2, 3]), np.array([2, 3, 2, 3]))
    assert sums.tolist() == [3.0, 6.0, 0.0, 0.0]


records = st.integers(2, 30).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(0, 1000), min_size=n, max_size=n).map(sorted),
        st.lists(st.floats(-5, 5), min_size=n, max_size=n),
        st.integers(0, n - 1),
    )
)


@given(records)
def test_splitting_a_record_at_a_row_changes_nothing(record):
    """Both parts of a record cut at a row, the row in both, hold the charge of the whole."""
    time_s, current_mA, row = np.array(record[0]), np.array(record[1]), record[2]
    for sign in (1, -1):
        whole = charge_mAh(time_s, current_mA, sign=sign).sum()
        first = charge_mAh(time_s[: row + 1], current_mA[: row + 1], sign=sign).sum()
        second = charge_mAh(time_s[row:], current_mA[row:], sign=sign).sum()
        assert first + second == pytest.approx(whole, abs=1e-9)


@given(records)
def test_charge_less_discharge_is_the_integral(record):
    """The two signs add up to numpy's trapezoidal rule, and turn into each other with the sign."""
    time_s, current_mA = np.array(record[0]), np.array(record[1])
    charge = charge_mAh(time_s, current_mA, sign=1).sum()
    discharge = charge_mAh(time_s, current_mA, sign=-1).sum()
    net = np.trapezoid(current_mA, time_s) / 3600.0
    assert charge - discharge == pytest.approx(net, abs=1e-9)
    assert charge_mAh(time_s, -current_mA, sign=-1).sum() == charge


@given(records, st.floats(0.1, 100))
def test_charge_scales_with_current_and_time(record, factor):
    """A thousand times the current in another unit is a thousand times the charge; so for time."""
    time_s, current_mA = np.array(record[0]), np.array(record[1])
    once = charge_mAh(time_s, current_mA, sign=1).sum()
    assert charge_mAh(time_s, factor * current_mA, sign=1).sum() == pytest.approx(
        factor * once, rel=1e-9, abs=1e-9
    )
    assert charge_mAh(factor * time_s, current_mA, sign=1).sum() == pytest.approx(
        factor * once, rel=1e-9, abs=1e-9
    )


@given(records, st.integers(0, 2**32 - 1), st.sampled_from([np.inf, 50.0]))
def test_both_signs_at_once_are_the_same(record, seed, gap_s):
    """Charges and energies of both signs together equal those of each sign, gaps included."""
    # As instruments write them: products of far smaller numbers underflow to nought.
    time_s, current_mA = np.round(record[0], 6), np.round(record[1], 6)
    rng = np.random.default_rng(seed)
    potential_V = np.where(rng.random(time_s.size) < 0.1, np.nan, rng.normal(0, 1, time_s.size))
    current_mA = np.where(rng.random(time_s.size) < 0.1, np.nan, current_mA)
    charges = charges_by_sign(time_s, current_mA, longest_gap_s=gap_s)
    energies = energies_by_sign(time_s, current_mA, potential_V, charges, longest_gap_s=gap_s)
    for sign in (1, -1):
        charge = charge_mAh(time_s, current_mA, sign=sign, longest_gap_s=gap_s)
        assert charges[sign] == pytest.approx(charge, abs=1e-12)
        energy = energy_mWh(time_s, current_mA, potential_V, sign=sign, longest_gap_s=gap_s)
        assert energies[sign] == pytest.approx(energy, abs=1e-12, nan_ok=True)
