"""Electrodes: dc resistance, hysteresis, ends, closure.

P1-17 and P1-9 are worked by hand from the definitions.
"""

import numpy as np
import pytest

from trivet.science.cycling.cycles import cycles
from trivet.science.cycling.half_cycle_measures import CycleRules, measure_halves
from trivet.science.electrodes.electrode_cycles import (
    closure_V,
    dc_resistance_ohm,
    electrode_cycles,
    hysteresis_V,
)

RULES = CycleRules(
    capacity_basis_mAh=1.0,
    zero_current_mA=0.002,
    ageing_rate=1.0,
    check_up_rate=0.1,
    rate_tolerance=0.2,
    upper_voltage_V=3.6,
    lower_voltage_V=3.0,
    longest_gap_s=600.0,
    constant_voltage_band_V=0.005,
)
STEP_s = np.array([0.0, 60.0, 60.0, 70.0, 120.0])
STEP_mA = np.array([0.0, 0.0, -1.0, -1.0, -1.0])


def resistance(potential_V, electrode, time_s=STEP_s, current_mA=STEP_mA, delay_s=10.0):
    """Resistance at the step of a small record."""
    return dc_resistance_ohm(
        np.asarray(time_s, dtype=float),
        np.asarray(current_mA, dtype=float),
        np.asarray(potential_V, dtype=float),
        first_row=2,
        last_row=len(time_s) - 1,
        delay_s=delay_s,
        tolerance_s=2.0,
        electrode=electrode,
    )


def test_dc_resistance_splits_into_the_electrodes():
    """P1-17: 3.400 to 3.350 V at -1 mA is 50 ohm, positive 30 and negative 20, their sum 50."""
    cell = resistance([3.4, 3.400, 3.36, 3.350, 3.3], "cell")
    positive = resistance([3.43, 3.430, 3.41, 3.400, 3.3], "positive")
    negative = resistance([0.03, 0.030, 0.04, 0.050, 0.1], "negative")
    assert cell == pytest.approx((50.0, 10.0))
    assert positive == pytest.approx((30.0, 10.0))
    assert negative == pytest.approx((20.0, 10.0))
    assert cell[0] == pytest.approx(positive[0] + negative[0])


def test_dc_resistance_at_a_step_between_two_currents():
    """P1-17: 3.390 V at -0.2 mA to 3.350 V at -1.0 mA is 50 ohm as well."""
    current_mA = [-0.2, -0.2, -1.0, -1.0, -1.0]
    found = resistance([3.39, 3.39, 3.36, 3.35, 3.3], "cell", current_mA=current_mA)
    assert found[0] == pytest.approx(50.0)


@pytest.mark.parametrize("late_s", [72.1, 67.9])
def test_dc_resistance_is_refused_without_a_row_in_time(late_s):
    """Where no row lies within the tolerance of the delay there is no resistance."""
    time_s = [0.0, 60.0, 60.0, late_s, 120.0]
    assert np.isnan(resistance([3.4, 3.4, 3.36, 3.35, 3.3], "cell", time_s=time_s)).all()


@pytest.mark.parametrize("edge_s", [72.0, 68.0])
def test_dc_resistance_is_given_at_the_edge_of_the_tolerance(edge_s):
    """A row exactly at the tolerance is taken, and its own delay is reported."""
    found = resistance([3.4, 3.4, 3.36, 3.35, 3.3], "cell", time_s=[0, 60, 60, edge_s, 120])
    assert found == pytest.approx((50.0, edge_s - 60.0))


def test_dc_resistance_is_refused_where_the_step_is_not_placed():
    """A first row long after the last one at rest leaves the moment of the step unknown."""
    time_s = [0.0, 50.0, 60.0, 70.0, 120.0]
    assert np.isnan(resistance([3.4, 3.4, 3.36, 3.35, 3.3], "cell", time_s=time_s)).all()


def test_hysteresis_of_the_electrodes_adds_to_the_cell():
    """Cell 3.48 and 3.38 V, hysteresis 100 mV (P1-6): positive plus negative give the same."""
    positive = hysteresis_V(
        mean_charge_V=np.array([3.56]), mean_discharge_V=np.array([3.50]), electrode="positive"
    )
    negative = hysteresis_V(
        mean_charge_V=np.array([0.08]), mean_discharge_V=np.array([0.12]), electrode="negative"
    )
    assert positive[0] > 0
    assert negative[0] > 0
    assert (positive + negative)[0] == pytest.approx(3.48 - 3.38)


def test_closure_of_a_consistent_record_is_nought():
    """P1-9: cell 3.40 to 3.60 V, positive 3.45 to 3.55 V, negative 0.05 to -0.05 V close."""
    residual = closure_V(np.array([3.4, 3.6]), np.array([3.45, 3.55]), np.array([0.05, -0.05]))
    assert residual == pytest.approx([0.0, 0.0], abs=1e-15)


def cycled():
    """A rest, a charge of 1 h, a discharge of 1 h, with potentials in straight lines."""
    time_s = np.array([0, 600, 600, 1200, 4200, 4200, 4210, 7800, 7800, 8000.0])
    current_mA = np.array([0, 0, 1, 1, 1, -1, -1, -1, 0, 0.0])
    positive_V = np.array([3.40, 3.40, 3.45, 3.46, 3.55, 3.43, 3.42, 3.20, 3.2, 3.2])
    negative_V = np.array([0.10, 0.10, 0.05, 0.04, -0.05, 0.10, 0.11, 0.20, 0.2, 0.2])
    return time_s, current_mA, positive_V, negative_V


def measured(electrode):
    """One electrode of that record."""
    time_s, current_mA, positive_V, negative_V = cycled()
    cell_V = positive_V - negative_V
    rules = CycleRules(**{**vars(RULES), "longest_gap_s": 4000.0})
    halves = measure_halves(time_s, current_mA, cell_V, rules)
    found = cycles(time_s, current_mA, cell_V, halves, rules)
    one = electrode_cycles(
        time_s,
        current_mA,
        positive_V if electrode == "positive" else negative_V,
        halves=halves,
        cycles=found,
        electrode=electrode,
        longest_gap_s=4000.0,
        dc_delay_s=10.0,
        dc_delay_tolerance_s=2.0,
    )
    return found, one


def test_electrodes_of_a_cycle():
    """Ends, minimum and mean of a drawn record are those read off it; means give the cell's."""
    found, positive = measured("positive")
    _, negative = measured("negative")
    assert positive.end_of_charge_potential_V == pytest.approx([3.55])
    assert positive.end_of_discharge_potential_V == pytest.approx([3.20])
    assert negative.minimum_potential_V == pytest.approx([-0.05])
    # Trapezoids by hand: (600 s at 3.455 V + 3000 s at 3.505 V) / 3600 s.
    assert positive.mean_charge_potential_V == pytest.approx([(600 * 3.455 + 3000 * 3.505) / 3600])
    mean_V = positive.mean_charge_potential_V - negative.mean_charge_potential_V
    assert mean_V == pytest.approx(found.mean_charge_voltage_V)
    cell_V = found.mean_charge_voltage_V - found.mean_discharge_voltage_V
    assert positive.hysteresis_V + negative.hysteresis_V == pytest.approx(cell_V)
    # Steps of -2 mA from the last row of the charge: (3.42 - 3.55) V and (0.11 + 0.05) V.
    assert positive.dc_resistance_ohm == pytest.approx([65.0])
    assert negative.dc_resistance_ohm == pytest.approx([80.0])


def test_each_purpose_is_shown_by_itself():
    """Potentials are corrected or withheld; differences keep their values; nothing else moves."""
    _, positive = measured("positive")
    yes, no, offset = np.array([True]), np.array([False]), np.array([0.01])
    hidden = positive.shown(absolute=no, difference=no, correction_V=offset)
    assert all(np.isnan(values).all() for values in vars(hidden).values())
    shown = positive.shown(absolute=yes, difference=yes, correction_V=offset)
    assert shown.minimum_potential_V == pytest.approx([3.20 - 0.01])
    assert shown.hysteresis_V == pytest.approx(positive.hysteresis_V)
    apart = positive.shown(absolute=no, difference=yes, correction_V=offset)
    assert np.isnan(apart.mean_charge_potential_V).all()
    assert apart.dc_resistance_ohm == pytest.approx(positive.dc_resistance_ohm)
