"""Cycles: half-cycles, efficiencies, kinds, retention, held voltage, excursions.

Values P1-5 to P1-8, P1-13, P1-23 are worked by hand from the definitions.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trivet.science.cycling.cycles import cycles, excursions
from trivet.science.cycling.efficiencies import (
    c_rate,
    coulombic_efficiency,
    endpoint_slippage_mAh,
    energy_efficiency,
    inefficiency_per_h,
    kind_of_cycle,
    retention,
)
from trivet.science.cycling.half_cycle_measures import CycleRules, measure_halves, state_of_charge
from trivet.science.cycling.half_cycles import half_cycles, rests

RULES = CycleRules(
    capacity_basis_mAh=2.0,
    zero_current_mA=0.002,
    ageing_rate=0.5,
    check_up_rate=0.1,
    rate_tolerance=0.2,
    upper_voltage_V=3.65,
    lower_voltage_V=2.5,
    longest_gap_s=600.0,
    constant_voltage_band_V=0.005,
)


def record(*steps, rows=10):
    """Rows of steps (hours, mA, first V, last V), with two rows at each change of the current."""
    time_s, current_mA, cell_V, now = [], [], [], 0.0
    for hours, level_mA, begin_V, end_V in steps:
        time_s += list(now + np.linspace(0.0, hours * 3600.0, rows))
        current_mA += [level_mA] * rows
        cell_V += list(np.linspace(begin_V, end_V, rows))
        now += hours * 3600.0
    return np.array(time_s), np.array(current_mA), np.array(cell_V)


def measured(time_s, current_mA, cell_V, rules=RULES):
    """Half-cycles and cycles of a record."""
    halves = measure_halves(time_s, current_mA, cell_V, rules)
    return halves, cycles(time_s, current_mA, cell_V, halves, rules)


REST = (0.1, 0.0, 3.0, 3.0)
CHARGE, DISCHARGE = (1.0, 1.0, 3.0, 3.65), (0.9, -1.0, 3.4, 2.5)


def test_efficiency_divides_by_what_was_stored():
    """P1-5: 98.00 %; graphite half cell 90.00 %, not 111.11 %; reservoir of ten cycles 94.00 %."""
    assert coulombic_efficiency(stored_mAh=1.0, given_mAh=0.98) == pytest.approx(0.98)
    lithiation, delithiation = 1.2, 1.08
    graphite = coulombic_efficiency(stored_mAh=lithiation, given_mAh=delithiation)
    assert graphite == pytest.approx(0.90)
    reservoir = coulombic_efficiency(stored_mAh=10 * 0.5 + 5.0, given_mAh=10 * 0.5 + 4.4)
    assert reservoir == pytest.approx(0.94)


def test_efficiency_of_nothing_stored_is_missing():
    """Without a charge there is no efficiency, neither zero nor infinite."""
    assert np.isnan(coulombic_efficiency(stored_mAh=0.0, given_mAh=1.0))
    assert np.isnan(coulombic_efficiency(stored_mAh=np.nan, given_mAh=1.0))


def test_energy_efficiency_identity():
    """P1-6: CE 0.98, mean 3.48 V and 3.38 V: energy efficiency 95.183908 %."""
    efficiency = energy_efficiency(stored_mWh=1.0 * 3.48, given_mWh=0.98 * 3.38)
    assert efficiency == pytest.approx(0.95183908, abs=5e-9)
    assert efficiency == pytest.approx(0.98 * 3.38 / 3.48)


def test_slippage_of_the_ends():
    """P1-7: ends slip 0.002 and 0.009 mAh, fade 0.007 mAh; CE of cycle 2 99.092742 %."""
    charge, discharge = np.array([1.000, 0.992]), np.array([0.990, 0.983])
    of_charge, of_discharge = endpoint_slippage_mAh(charge, discharge)
    assert of_charge[0] == pytest.approx(0.002)
    assert of_discharge[0] == pytest.approx(0.009)
    assert of_discharge[0] - of_charge[0] == pytest.approx(discharge[0] - discharge[1])
    efficiency = coulombic_efficiency(stored_mAh=charge, given_mAh=discharge)[1]
    assert efficiency == pytest.approx(0.99092742, abs=5e-9)


def test_inefficiency_per_hour():
    """P1-8: CE 99.80 % in 20 h is 1.0e-4 per hour."""
    assert inefficiency_per_h(0.998, duration_h=20.0) == pytest.approx(1.0e-4)


def test_rate_refers_to_its_basis():
    """P1-23: 0.3 mA is 0.20 of 1.5 mAh an hour and 0.25 of 1.2 mAh, of either sign."""
    assert c_rate(0.3, capacity_basis_mAh=1.5) == pytest.approx(0.20)
    assert c_rate(-0.3, capacity_basis_mAh=1.2) == pytest.approx(0.25)


def test_a_cycle_is_a_charge_and_the_discharge_after_it():
    """Charges, energies and means of a drawn record equal the values worked by hand."""
    time_s, current_mA, cell_V = record(REST, CHARGE, DISCHARGE, REST)
    _, found = measured(time_s, current_mA, cell_V)
    assert found.cycle.tolist() == [1]
    assert found.complete.tolist() == [1]
    assert found.charge_capacity_mAh == pytest.approx([1.0])
    assert found.discharge_capacity_mAh == pytest.approx([0.9])
    assert found.coulombic_efficiency == pytest.approx([0.9])
    assert found.mean_charge_voltage_V == pytest.approx([3.325])
    assert found.mean_discharge_voltage_V == pytest.approx([2.95])
    assert found.energy_efficiency == pytest.approx([0.9 * 2.95 / 3.325])
    assert (found.start_h[0], found.end_h[0]) == pytest.approx((0.1, 2.0))
    assert (found.lowest_voltage_V[0], found.highest_voltage_V[0]) == (2.5, 3.65)
    assert found.c_rate == pytest.approx([0.5])


def test_a_rest_inside_a_charge_belongs_to_it():
    """A charge interrupted by a rest is one half-cycle, and counts once."""
    half = (0.5, 1.0, 3.0, 3.4)
    time_s, current_mA, cell_V = record(REST, half, REST, (0.5, 1.0, 3.4, 3.65), DISCHARGE, REST)
    halves, found = measured(time_s, current_mA, cell_V)
    assert halves.rows.sign.tolist() == [1, -1]
    assert found.charge_capacity_mAh == pytest.approx([1.0])


def test_a_discharge_before_the_first_charge_is_cycle_nought():
    """The first charge starts cycle 1; what was discharged before is partial."""
    _, found = measured(*record(REST, DISCHARGE, CHARGE, DISCHARGE, REST))
    assert found.cycle.tolist() == [0, 1]
    assert found.kind.tolist() == ["partial", "ageing"]
    assert np.isnan(found.charge_capacity_mAh[0])
    assert np.isnan(found.coulombic_efficiency[0])


def test_the_running_cycle_is_partial():
    """A record that ends in a discharge above its limit leaves the last cycle partial."""
    _, found = measured(*record(REST, CHARGE, DISCHARGE, CHARGE, (0.3, -1.0, 3.4, 3.2)))
    assert found.kind.tolist() == ["ageing", "partial"]
    assert np.isnan(found.coulombic_efficiency[1])
    assert found.discharge_capacity_mAh[1] == pytest.approx(0.3)


def test_a_record_that_begins_under_current_is_partial():
    """Where the first row carries current the beginning was not seen."""
    _, found = measured(*record(CHARGE, DISCHARGE, CHARGE, DISCHARGE, REST))
    assert found.complete.tolist() == [0, 1]


def test_a_gap_under_current_makes_partial():
    """Charge lost to a gap makes a cycle partial; a gap at rest, or after the limit, does not."""
    time_s, current_mA, cell_V = record(REST, CHARGE, DISCHARGE, REST, CHARGE, DISCHARGE, REST)
    inside = time_s + np.where(np.arange(time_s.size) > 14, 7200.0, 0.0)
    halves, found = measured(inside, current_mA, cell_V)
    assert found.complete.tolist() == [0, 1]
    assert halves.broken.tolist() == [True, False, False, False]
    assert found.charge_capacity_mAh[0] < 1.0
    after = time_s + np.where(np.arange(time_s.size) > 29, 7200.0, 0.0)
    _, found = measured(after, current_mA, cell_V)
    assert found.complete.tolist() == [1, 1]


def test_missing_currents_in_a_charge_make_partial():
    """A row without current inside a charge is not bridged, and the cycle is partial."""
    time_s, current_mA, cell_V = record(REST, CHARGE, DISCHARGE, REST)
    current_mA[15] = np.nan
    _, found = measured(time_s, current_mA, cell_V)
    assert found.complete.tolist() == [0]
    assert found.charge_capacity_mAh == pytest.approx([1.0 * 7 / 9])


def test_missing_voltages_leave_charge_and_take_energy():
    """A row without voltage makes the energy missing; the charge stays."""
    time_s, current_mA, cell_V = record(REST, CHARGE, DISCHARGE, REST)
    cell_V[15] = np.nan
    _, found = measured(time_s, current_mA, cell_V)
    assert found.charge_capacity_mAh == pytest.approx([1.0])
    assert np.isnan(found.charge_energy_mWh[0])
    assert np.isnan(found.mean_charge_voltage_V[0])
    assert np.isfinite(found.discharge_energy_mWh[0])


def test_share_of_charge_at_held_voltage():
    """P1-13: 1 mA for 1 h, then exp(-t/900 s) to 0.05 mA: 1.2375 mAh, 19.1919 % of it held."""
    held_s = np.append(np.arange(0.0, 2696.0, 1.0), 900.0 * np.log(20.0))
    assert held_s[-1] == pytest.approx(2696.159, abs=5e-4)
    time_s = np.concatenate([[0.0, 60.0], 60.0 + np.linspace(0, 3600, 361), 3660.0 + held_s[1:]])
    current_mA = np.concatenate([[0, 0], np.ones(361), np.exp(-held_s[1:] / 900.0)])
    cell_V = np.concatenate(
        [[3.0, 3.0], np.linspace(3.2, 3.65, 361), np.full(held_s.size - 1, 3.65)]
    )
    halves, found = measured(time_s, current_mA, cell_V)
    # Straight lines over 1 s of the decay are off by (1/900)^2 / 12, about 1e-7.
    assert halves.charge_mAh == pytest.approx([1.2375], rel=1e-6)
    assert found.constant_voltage_share == pytest.approx([0.191919], abs=1e-6)


def test_no_held_voltage_gives_no_share():
    """A charge that only touches its limit at constant current has a share of nought."""
    _, found = measured(*record(REST, CHARGE, DISCHARGE, REST))
    assert found.constant_voltage_share == pytest.approx([0.0])


def test_kinds_of_cycles_by_rate():
    """Slow before the first ageing cycle is formation, after it check-up; edges are inside."""
    rates = np.array([0.1, 0.5, 0.12, 0.6, 0.61, 0.5, np.nan])
    complete = np.array([1, 1, 1, 1, 1, 0, 0], dtype=bool)
    kinds = kind_of_cycle(rates, complete, ageing_rate=0.5, check_up_rate=0.1, rate_tolerance=0.2)
    assert kinds.tolist() == [
        "formation",
        "ageing",
        "check-up",
        "ageing",
        "rate test",
        "partial",
        "partial",
    ]


def test_retention_is_of_ageing_cycles_only():
    """Retention refers to the first ageing cycle and is missing for all other kinds."""
    kinds = np.array(["formation", "ageing", "check-up", "ageing"], dtype=object)
    kept = retention(np.array([2.1, 2.0, 2.05, 1.6]), kinds)
    assert np.isnan(kept[[0, 2]]).all()
    assert kept[[1, 3]].tolist() == [1.0, 0.8]
    assert np.isnan(retention(np.array([2.0]), np.array(["partial"], dtype=object))).all()


def test_a_record_without_current_has_no_cycles():
    """Rest only gives no half-cycle and no cycle."""
    halves, found = measured(*record(REST))
    assert halves.charge_mAh.size == found.cycle.size == 0
    one = np.array([1.0])
    assert measured(one, one, one)[1].complete.tolist() == [0]


def test_rests_last_from_their_first_to_their_last_row():
    """A rest of 360 s between two currents is found with its duration."""
    found = rests(*record(CHARGE, REST, DISCHARGE)[:2], zero_current_mA=0.002)
    assert found.duration_s == pytest.approx([360.0])


def test_state_of_charge_counts_from_the_last_full_discharge():
    """Half the charge after a full discharge of 0.9 mAh is 0.45 of 0.9; before one unknown."""
    half = (0.45, 1.0, 3.0, 3.4)
    time_s, current_mA, cell_V = record(REST, CHARGE, REST, DISCHARGE, REST, half, REST)
    halves, _ = measured(time_s, current_mA, cell_V)
    net = np.concatenate([[0], np.cumsum(np.diff(time_s) * current_mA[1:] / 3600.0)])
    share = state_of_charge(net, halves, np.array([25, time_s.size - 1]))
    assert np.isnan(share[0])
    assert share[1] == pytest.approx(0.5)


def test_excursions_beyond_the_limits():
    """A voltage beyond limit and margin is a span with its extreme; at the margin it is not."""
    time_s = np.arange(8) * 3600.0
    cell_V = np.array([3.0, 4.0, 5.0, np.nan, 4.2, 3.95, 2.0, 3.0])
    found = excursions(time_s, cell_V, upper_voltage_V=3.65, lower_voltage_V=2.5, margin_V=0.3)
    assert found.start_h.tolist() == [1.0, 6.0]
    assert found.end_h.tolist() == [4.0, 6.0]
    assert found.extreme_voltage_V.tolist() == [5.0, 2.0]
    assert found.limit_V == pytest.approx([3.95, 2.2])


@given(st.lists(st.sampled_from([-1.0, 0.0, 1.0, np.nan]), min_size=1, max_size=40))
def test_half_cycles_alternate_and_hold_every_current(levels):
    """Signs alternate, and each row that carries current lies in exactly one half-cycle."""
    current_mA = np.array(levels)
    found = half_cycles(current_mA, zero_current_mA=0.002)
    assert (np.diff(found.sign) != 0).all()
    owners = np.zeros(current_mA.size, dtype=int)
    for sign, first, last in zip(found.sign, found.first_row, found.last_row, strict=True):
        rows = np.arange(first, last + 1)
        owners[rows[current_mA[rows] * sign > 0]] += 1
        assert not (current_mA[rows] * sign < 0).any()
    assert (owners == (np.abs(current_mA) > 0)).all()


@given(st.integers(0, 2**32 - 1))
def test_cutting_the_record_of_two_cells_keeps_the_charge(seed):
    """The half-cycles of a record hold all charge of its piecewise-linear current."""
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.uniform(0, 300, 40))
    current_mA = rng.choice([-1.0, 0.0, 1.0], 40)
    halves = measure_halves(time_s, current_mA, np.full(40, 3.0), RULES)
    net = (halves.charge_mAh * halves.rows.sign).sum()
    assert net == pytest.approx(np.trapezoid(current_mA, time_s) / 3600.0, abs=1e-9)
