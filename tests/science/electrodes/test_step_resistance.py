"""Steps through a circuit of known resistances: values at the known delay, and honest errors.

The circuit answers to a step of the current dI with dI * (R0 + R1 * (1 - exp(-t / tau))): the
charging of a capacitor through a resistor, as in any textbook of circuits.
"""

import numpy as np
import pytest

from trivet.reasons import StepKind
from trivet.science.cycling.cycles import cycles
from trivet.science.cycling.half_cycle_measures import CycleRules, measure_halves
from trivet.science.cycling.reading_error import reading_error_V
from trivet.science.electrodes.step_resistance import step_resistances, steps_of

RULES = CycleRules(
    capacity_basis_mAh=2.0,
    zero_current_mA=0.001,
    ageing_rate=0.5,
    check_up_rate=0.1,
    rate_tolerance=0.1,
    upper_voltage_V=4.2,
    lower_voltage_V=3.0,
    longest_gap_s=1200.0,
    constant_voltage_band_V=0.005,
)
OHMIC = {"positive": 12.0, "negative": 5.0}
ARC = {"positive": 30.0, "negative": 8.0}
TAU_S = {"positive": 7.0, "negative": 2.0}
DELAY_S = 10.0


def profile():
    """Times and currents: a charge and a discharge at 1 mA, each with rests of 20 minutes within.

    Two rows at each switch, and rows 1, 10 and 60 s after it.
    """
    parts, now = [], 0.0
    levels = [0.0, *[1.0, 0.0] * 4, *[-1.0, 0.0] * 4]
    for level in levels:
        hours = 0.5 if level else 1.0 / 3.0
        offsets = np.concatenate([[0.0, 1.0, 10.0, 60.0], np.arange(120.0, 3600.0 * hours, 60.0)])
        offsets = np.append(offsets, 3600.0 * hours)
        parts.append((now + offsets, np.full(offsets.size, level)))
        now += 3600.0 * hours
    return (np.concatenate(column) for column in zip(*parts, strict=True))


def answer_V(time_s, current_mA, electrode):
    """Overpotential of the circuit, integrated step by step in closed form [V]."""
    over, held = np.zeros(time_s.size), 0.0
    for row in range(1, time_s.size):
        fall = np.exp(-(time_s[row] - time_s[row - 1]) / TAU_S[electrode])
        goal = ARC[electrode] * current_mA[row - 1] if time_s[row] > time_s[row - 1] else held
        held = goal + (held - goal) * fall
        over[row] = held
    return (over + OHMIC[electrode] * current_mA) / 1000.0


def measured(noise_V=0.0, seed=0, step_V=0.0):
    """Steps and resistances of the profile, potentials with noise."""
    time_s, current_mA = profile()
    rng = np.random.default_rng(seed)
    potentials = {
        "positive": 3.8 + answer_V(time_s, current_mA, "positive"),
        "negative": 0.1 - answer_V(time_s, current_mA, "negative"),
    }
    for name, values in potentials.items():
        potentials[name] = values + rng.normal(0.0, noise_V, time_s.size) if noise_V else values
        if step_V:
            potentials[name] = np.round(potentials[name] / step_V) * step_V
    potentials["cell"] = potentials["positive"] - potentials["negative"]
    limits_V = np.where(current_mA > 0, 4.2, 3.0)  # every half-cycle ends at its limit
    halves = measure_halves(time_s, current_mA, limits_V, RULES)
    found = cycles(time_s, current_mA, limits_V, halves, RULES)
    steps = steps_of(
        time_s,
        current_mA,
        halves,
        found,
        places=np.arange(found.cycle.size),
        delay_s=DELAY_S,
        tolerance_s=2.0,
    )
    errors = {name: reading_error_V(values, current_mA) for name, values in potentials.items()}
    return steps, step_resistances(steps, potentials, error_V=errors)


def true_ohm(electrode):
    """Resistance of the circuit at the delay."""
    return OHMIC[electrode] + ARC[electrode] * (1.0 - np.exp(-DELAY_S / TAU_S[electrode]))


def test_every_step_gives_the_circuit_exactly():
    """16 steps; R0 + R1 (1 - exp(-10 / tau)) at each of both electrodes, and the cell their sum."""
    steps, found = measured()
    assert len(steps.kind) == 16
    assert steps.delay_s == pytest.approx(np.full(16, DELAY_S))
    assert steps.delay_bound_s == pytest.approx(np.zeros(16))
    for electrode in ("positive", "negative"):
        assert found[electrode].resistance_ohm == pytest.approx(np.full(16, true_ohm(electrode)))
    both = found["positive"].resistance_ohm + found["negative"].resistance_ohm
    assert found["cell"].resistance_ohm == pytest.approx(both)


def test_steps_stand_at_their_state_of_charge():
    """Quarters of the charge and of the discharge, by the charge passed; beginnings and ends."""
    steps, _ = measured()
    quarters = [0.0, 0.25, 0.25, 0.5, 0.5, 0.75, 0.75, 1.0]
    assert steps.state_of_charge == pytest.approx(quarters + quarters[::-1], abs=1e-9)
    kinds = [StepKind.BEGINNING, *[StepKind.WITHIN] * 6, StepKind.END]
    assert list(steps.kind) == kinds * 2
    assert steps.to_mA[:2].tolist() == [1.0, 0.0]


@pytest.mark.parametrize(
    ("noise_V", "step_V", "most"), [(3e-4, 0.0, 0.97), (3e-4, 1e-4, 0.97), (1e-4, 3e-4, 1.0)]
)
def test_errors_are_honest(noise_V, step_V, most):
    """95 % intervals hold the circuit's resistance in 93 to 97 % of random draws.

    Or in more, where potentials are rounded to steps coarser than their noise.
    """
    inside, count = 0, 0
    for seed in range(60):
        _, found = measured(noise_V, seed, step_V)
        for electrode in ("positive", "negative"):
            one = found[electrode]
            off = np.abs(one.resistance_ohm - true_ohm(electrode)) / one.error_ohm
            inside, count = inside + int((off < 1.96).sum()), count + off.size
    assert count == 60 * 2 * 16
    assert 0.93 <= inside / count <= most


def test_a_step_without_a_row_at_the_delay_is_not_read():
    """Rows a minute apart leave the moment of the step, and so the delay, unknown."""
    time_s, current_mA = profile()
    kept = np.rint(time_s % 60.0) == 0.0
    kept &= np.concatenate([[True], np.diff(time_s) > 0.0])
    time_s, current_mA = time_s[kept], current_mA[kept]
    halves = measure_halves(time_s, current_mA, np.full(time_s.size, 3.5), RULES)
    found = cycles(time_s, current_mA, np.full(time_s.size, 3.5), halves, RULES)
    steps = steps_of(
        time_s, current_mA, halves, found, places=np.arange(1), delay_s=10.0, tolerance_s=2.0
    )
    assert len(steps.kind) > 10
    assert (steps.at_row == -1).all()
    assert np.isnan(steps.delay_s).all()
    # nothing is known of the capacity of half-cycles that end at no limit, but for the first
    assert np.isnan(steps.state_of_charge[-1])


def test_a_ramp_is_no_step():
    """A current that is still moving after the step, or was before it, gives no resistance."""
    time_s, current_mA = profile()
    first = int(np.argmax(current_mA > 0))
    current_mA[first : first + 3] = [0.3, 0.6, 1.0]
    limits_V = np.where(current_mA > 0, 4.2, 3.0)
    halves = measure_halves(time_s, current_mA, limits_V, RULES)
    found = cycles(time_s, current_mA, limits_V, halves, RULES)
    steps = steps_of(
        time_s, current_mA, halves, found, places=np.arange(1), delay_s=10.0, tolerance_s=2.0
    )
    ramp = steps.before_row < first + 3
    assert ramp.any()
    assert (steps.at_row[ramp] == -1).all()
    assert (steps.at_row[~ramp] >= 0).all()


def test_a_half_cycle_without_charge_has_no_state_of_charge():
    """A clock that stands still while current is written: steps stay, their place is unknown."""
    time_s, current_mA = profile()
    charging = np.flatnonzero(current_mA > 0)
    time_s[charging[0] : charging[-1] + 1] = time_s[charging[0]]
    limits_V = np.where(current_mA > 0, 4.2, 3.0)
    halves = measure_halves(time_s, current_mA, limits_V, RULES)
    found = cycles(time_s, current_mA, limits_V, halves, RULES)
    assert found.complete[0] == 1
    assert halves.charge_mAh[0] == 0.0
    steps = steps_of(
        time_s, current_mA, halves, found, places=np.arange(1), delay_s=10.0, tolerance_s=2.0
    )
    charged = np.asarray(steps.half) == 0
    assert charged.any()
    assert np.isnan(steps.state_of_charge[charged]).all()
    assert np.isfinite(steps.state_of_charge[~charged]).all()
