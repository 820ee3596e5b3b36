"""Rate tests: found in a row of cycles, and the loss of each electrode by its resistance."""

from types import SimpleNamespace

import numpy as np
import pytest

from trivet.science.electrodes.rate_test import Discharge, rate_tests, voltage_loss


def runs_of(rates, complete=None):
    """Rates and cycles of each run of each test."""
    whole = np.ones(len(rates), dtype=int) if complete is None else np.array(complete)
    cycles = SimpleNamespace(c_rate=np.array(rates, dtype=float), complete=whole)
    return [
        [(run.rate_per_h, run.places) for run in test]
        for test in rate_tests(cycles, rate_tolerance=0.1)
    ]


def test_a_rate_test_is_found_before_ageing():
    """Three cycles each at 0.1, 0.5, 1 and 0.1; then ageing with check-ups, which is none."""
    rates = [0.1] * 3 + [0.5] * 3 + [1.0] * 3 + [0.1] + [0.5] * 30 + [0.1] + [0.5] * 30
    (test,) = runs_of(rates)
    assert [rate for rate, _ in test] == pytest.approx([0.1, 0.5, 1.0, 0.1])
    assert [places[-1] for _, places in test] == [2, 5, 8, 9]


def test_two_rates_are_no_test():
    """Formation and ageing with its check-ups have two rates."""
    assert not runs_of([0.1, 0.1, *[0.5] * 8, 0.1, *[0.5] * 8])


def test_a_partial_cycle_breaks_a_test():
    """A cycle that is not complete stands between rates that are no test then."""
    rates = [0.1, 0.5, 1.0, 2.0]
    assert runs_of(rates)
    assert not runs_of(rates, complete=[1, 1, 0, 1])


def test_rates_within_the_tolerance_are_one():
    """0.48 and 0.5 are one rate, so that three remain."""
    (test,) = runs_of([0.1, 0.48, 0.5, 1.0])
    assert [places for _, places in test] == [(0,), (1, 2), (3,)]


def discharge(current_mA, capacity_mAh, positive_ohm=30.0, negative_ohm=10.0, offset_V=0.0):
    """A discharge through two resistances; smooth invented curves."""
    charge = np.linspace(0.0, capacity_mAh, 400)
    positive = 4.0 - 0.3 * charge - 0.05 * charge**2 - positive_ohm * current_mA / 1000.0
    negative = 0.1 + 0.1 * charge + negative_ohm * current_mA / 1000.0
    return Discharge(charge, positive - negative, positive + offset_V, negative + offset_V)


def test_loss_of_each_electrode_is_its_resistance_times_current():
    """By hand: from 0.2 to 2 mA through 30 and 10 ohm 54 and 18 mV, three quarters positive."""
    found = voltage_loss(discharge(0.2, 2.0), discharge(2.0, 1.5))
    assert found.positive_mV == pytest.approx(54.0, abs=0.01)
    assert found.negative_mV == pytest.approx(18.0, abs=0.01)
    assert found.cell_mV == pytest.approx(72.0, abs=0.01)
    assert found.positive_share == pytest.approx(0.75, abs=1e-4)
    assert (found.from_mAh, found.to_mAh) == pytest.approx((0.15, 1.35))


def test_an_offset_of_both_does_not_move_the_loss():
    """A constant offset of the reference cancels."""
    sound = voltage_loss(discharge(0.2, 2.0), discharge(2.0, 1.5))
    moved = voltage_loss(discharge(0.2, 2.0, offset_V=0.02), discharge(2.0, 1.5, offset_V=0.02))
    assert vars(moved) == pytest.approx(vars(sound))


def test_a_cell_that_gives_nearly_nothing_is_not_compared():
    """Less than a tenth of the slow charge tells nothing of the loss."""
    assert voltage_loss(discharge(0.2, 2.0), discharge(20.0, 0.15)) is None
