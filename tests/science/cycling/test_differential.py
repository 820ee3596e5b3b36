"""Differential capacity: P1-18 in closed form, and its area for any record.

P1-18: Q = 1/(1 + exp(-(V - 3.43)/0.005)) mAh has its peak of 1/(4 * 0.005) = 50 mAh/V at 3.43 V and
a full width at half maximum of 0.005 * 2 ln(3 + 2 sqrt 2) V.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trivet.science.cycling.differential import (
    FINEST_BIN_V,
    LEAST_SHARE,
    MOST_BINS,
    differential_capacity,
    resolution,
)


def sigmoid(bin_V):
    """P1-18 from 3.30 to 3.56 V."""
    potential_V = np.linspace(3.30, 3.56, 2601)
    charge = 1.0 / (1.0 + np.exp(-(potential_V - 3.43) / 0.005))
    return differential_capacity(np.diff(charge), potential_V, bin_V=bin_V)


def test_peak_width_and_area_of_a_step():
    """P1-18: peak 50.0 mAh/V at 3.430 V, width 17.627472 mV, area 1.0 mAh."""
    found = sigmoid(0.0002)
    peak = int(np.argmax(found.dq_dv_mAh_V))
    assert found.dq_dv_mAh_V[peak] == pytest.approx(50.0, rel=2e-4)
    assert found.potential_V[peak] == pytest.approx(3.430, abs=2e-4)
    high = found.potential_V[found.dq_dv_mAh_V >= 25.0]
    assert np.ptp(high) == pytest.approx(0.017627472, abs=4e-4)
    assert found.charge_mAh.sum() == pytest.approx(1.0, rel=1e-9)


def test_wide_bins_keep_the_area():
    """The area is the charge at any width of the bins, although the peak is lower."""
    for bin_V in (0.001, 0.005, 0.02):
        found = sigmoid(bin_V)
        assert np.sum(found.dq_dv_mAh_V * bin_V) == pytest.approx(1.0, rel=1e-9)
    assert sigmoid(0.02).dq_dv_mAh_V.max() < 45.0


@given(st.integers(0, 2**32 - 1), st.sampled_from([0.001, 0.003, 0.01]))
def test_the_area_gives_back_the_charge(seed, bin_V):
    """Whatever way the potential goes, also back or not at all, no charge is lost or made."""
    rng = np.random.default_rng(seed)
    potential_V = 3.0 + np.round(np.cumsum(rng.normal(0, 0.004, 60)), 3)
    charge = rng.uniform(0, 0.1, 59)
    found = differential_capacity(charge, potential_V, bin_V=bin_V)
    assert found.charge_mAh.sum() == pytest.approx(charge.sum())
    assert (found.dq_dv_mAh_V > 0).all()


@pytest.mark.parametrize(("seed", "bin_V"), [(301566, 0.003), (777, 0.003), (8761, 0.001)])
def test_no_charge_falls_between_an_edge_and_its_rounding(seed, bin_V):
    """Potentials on whole multiples of the bin, where number times width rounds above them."""
    test_the_area_gives_back_the_charge.hypothesis.inner_test(seed, bin_V)


def test_charge_at_one_potential_falls_in_one_bin():
    """A held potential is one bin; rows without a potential are left out, nothing moved comes."""
    held = differential_capacity(np.array([1.0]), np.array([3.65, 3.65]), bin_V=0.01)
    assert held.charge_mAh.tolist() == [1.0]
    gone = differential_capacity(np.array([1.0]), np.array([3.65, np.nan]), bin_V=0.01)
    assert gone.charge_mAh.size == 0


def peak(noise_V, step_V, rows, seed=0):
    """1.5 mAh through a logistic step of 4 mV at 3.43 V, whose peak is 1.5/(4 * 0.004) = 93.75."""
    rng = np.random.default_rng(seed)
    share = np.linspace(0.002, 0.998, rows)
    potential_V = 3.43 + 0.004 * np.log(share / (1.0 - share)) + rng.normal(0.0, noise_V, rows)
    if step_V:
        potential_V = np.round(potential_V / step_V) * step_V
    chosen = resolution(potential_V)
    charge = np.diff(share) * 1.5
    found = differential_capacity(
        charge,
        potential_V,
        bin_V=chosen.bin_V,
        edge_V=chosen.edge_V,
        least_share=LEAST_SHARE,
    )
    assert found.charge_mAh.sum() == pytest.approx(charge.sum())
    assert np.sum(found.dq_dv_mAh_V * found.width_V) == pytest.approx(charge.sum())
    return chosen, found


def test_a_peak_keeps_its_height_where_the_data_allow():
    """93.75 mAh/V is read within 0.1 % from sound data, where bins of 5 mV read 83."""
    chosen, found = peak(0.0, 0.0, 1000)
    assert chosen.bin_V == FINEST_BIN_V
    assert found.dq_dv_mAh_V.max() == pytest.approx(93.75, rel=1e-3)
    share = np.linspace(0.002, 0.998, 1000)
    curve_V = 3.43 + 0.004 * np.log(share / (1.0 - share))
    wide = differential_capacity(np.diff(share) * 1.5, curve_V, bin_V=0.005)
    assert wide.dq_dv_mAh_V.max() == pytest.approx(83.2, abs=0.1)


@pytest.mark.parametrize("rows", [300, 1000, 36000])
@pytest.mark.parametrize("noise_V", [5e-5, 2e-4, 1e-3])
def test_bins_grow_with_the_noise(noise_V, rows):
    """Noise is found within a tenth, and the peak stays within 13 % of 93.75 mAh/V."""
    chosen, found = peak(noise_V, 0.0, rows)
    assert chosen.noise_V == pytest.approx(noise_V, rel=0.1)
    assert chosen.step_V == 0.0
    assert chosen.bin_V >= 3.0 * chosen.noise_V
    assert found.dq_dv_mAh_V.max() == pytest.approx(93.75, rel=0.13)


@pytest.mark.parametrize("noise_V", [0.0, 2e-4])
def test_bins_hold_whole_steps(noise_V):
    """Potentials in steps of 1 mV: an odd number of steps a bin, and no comb in the line."""
    chosen, found = peak(noise_V, 1e-3, 5000)
    assert chosen.step_V == pytest.approx(1e-3)
    assert chosen.bin_V == pytest.approx(3e-3)
    assert found.dq_dv_mAh_V.max() == pytest.approx(93.75, rel=0.03)
    rising = np.diff(found.dq_dv_mAh_V[: int(np.argmax(found.dq_dv_mAh_V)) + 1])
    assert (rising[:-1] > -1.0).all()


def test_no_bin_is_made_of_next_to_nothing():
    """Every bin holds at least its share of the charge, so a steep end is one wide bin."""
    _, found = peak(0.0, 0.0, 1000)
    assert found.charge_mAh.min() >= LEAST_SHARE * found.charge_mAh.sum()
    assert found.width_V.max() > 5.0 * FINEST_BIN_V
    assert found.width_V.size <= 1.0 / LEAST_SHARE


def test_dense_rows_are_no_steps():
    """A million smooth readings lie nanovolts apart, which no instrument's step is."""
    assert resolution(np.linspace(3.3, 3.4, 400_000)).step_V == 0.0


def test_potentials_in_a_wrong_unit_cost_no_millions_of_bins():
    """Microvolts taken for volts: some thousand bins, and the charge is still all there."""
    potential_V = np.linspace(2.5e6, 3.6e6, 500)
    borne = resolution(potential_V)
    found = differential_capacity(np.full(499, 0.004), potential_V, bin_V=borne.bin_V)
    assert found.charge_mAh.size <= MOST_BINS + 2
    assert found.charge_mAh.sum() == pytest.approx(499 * 0.004)
