"""Distribution of relaxation times: areas and positions of known processes."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.circuit import closed_forms as el
from trivet.science.impedance.relaxation import distribution, peaks

FREQUENCY = np.geomspace(1e5, 1e-2, 60)


def p1():
    """R0 4, arcs of 15 ohm at 0.2 ms and of 30 ohm at 20 ms, a tail of 3 ohm s^-1/2."""
    return el.series(
        el.resistor(FREQUENCY, resistance_ohm=4.0),
        el.zarc(FREQUENCY, resistance_ohm=15.0, time_constant_s=2e-4, exponent=0.85),
        el.zarc(FREQUENCY, resistance_ohm=30.0, time_constant_s=2e-2, exponent=0.8),
        el.warburg(FREQUENCY, coefficient_ohm_per_root_s=3.0),
    )


def one_arc(resistance=50.0, constant=1e-3, exponent=0.85):
    """One depressed arc behind 5 ohm."""
    return el.series(
        el.resistor(FREQUENCY, resistance_ohm=5.0),
        el.zarc(FREQUENCY, resistance_ohm=resistance, time_constant_s=constant, exponent=exponent),
    )


def noisy(exact, noise, seed=0):
    """The same with noise of both parts, as a share of |Z|."""
    drawn = np.random.default_rng(seed).standard_normal((2, len(exact)))
    return exact + noise * np.abs(exact) * (drawn[0] + 1j * drawn[1])


def closed_form(time_constant_s, resistance, middle, exponent):
    """Density of an arc per unit of ln tau; Fuoss and Kirkwood 1941 (from memory)."""
    away = np.log(time_constant_s / middle)
    turn = (1 - exponent) * np.pi
    return resistance / (2 * np.pi) * np.sin(turn) / (np.cosh(exponent * away) - np.cos(turn))


@pytest.mark.parametrize("exponent", [0.75, 0.85, 0.95])
@pytest.mark.parametrize("noise", [0.0, 0.002, 0.01])
def test_area_of_one_arc_is_its_resistance(exponent, noise):
    """The area is within 1 % of the resistance and the peak within 5 % of the time constant."""
    found = distribution(FREQUENCY, noisy(one_arc(exponent=exponent), noise))
    assert len(found.peaks) == 1
    assert found.peaks[0].resistance_ohm == pytest.approx(50.0, rel=0.01)
    assert found.peaks[0].time_constant_s == pytest.approx(1e-3, rel=0.05)
    assert found.ohmic_ohm == pytest.approx(5.0, abs=0.15)


@pytest.mark.parametrize("regularisation", [1e-6, 1e-4, 1e-2])
def test_area_does_not_depend_on_the_regularisation_and_height_does(regularisation):
    """Without noise the area stays within 0.5 % over four decades; the height falls."""
    found = distribution(FREQUENCY, one_arc(exponent=0.8), regularisation=regularisation)
    assert found.peaks[0].resistance_ohm == pytest.approx(50.0, rel=0.005)
    assert found.peaks[0].time_constant_s == pytest.approx(1e-3, rel=0.02)
    # Height of the closed form: 50 * 0.489828548214 ohm.
    if regularisation == 1e-2:
        assert found.density_ohm.max() < 0.97 * 50 * 0.489828548214


def test_density_follows_the_closed_form():
    """Without noise the curve is that of the closed form, to 7 % of its top."""
    found = distribution(FREQUENCY, one_arc(exponent=0.8), regularisation=1e-5)
    expected = closed_form(found.time_constant_s, 50.0, 1e-3, 0.8)
    middle = (found.time_constant_s > 1e-4) & (found.time_constant_s < 1e-2)
    assert np.max(np.abs(found.density_ohm - expected)[middle]) < 0.07 * expected.max()


@pytest.mark.parametrize(("noise", "seed"), [(0.0, 0), (0.002, 1), (0.005, 2), (0.01, 3)])
def test_two_arcs_and_a_tail_give_two_peaks(noise, seed):
    """The spectrum P1: two peaks, areas within 6 % and the sum within 4 %, tail not among them."""
    found = distribution(FREQUENCY, noisy(p1(), noise, seed))
    assert len(found.peaks) == 2
    first, second = found.peaks
    assert first.resistance_ohm == pytest.approx(15.0, rel=0.06)
    assert second.resistance_ohm == pytest.approx(30.0, rel=0.06)
    assert found.resistance_ohm == pytest.approx(45.0, rel=0.04)
    assert first.time_constant_s == pytest.approx(2e-4, rel=0.15)
    assert second.time_constant_s == pytest.approx(2e-2, rel=0.15)
    assert found.tail == pytest.approx(3 * np.sqrt(2), rel=0.06)


def test_inductance_is_fitted_beside():
    """A lead of 0.4 uH changes no area."""
    lead = el.inductor(FREQUENCY, inductance_H=4e-7)
    found = distribution(FREQUENCY, one_arc() + lead)
    assert found.inductance_H == pytest.approx(4e-7, rel=0.05)
    assert found.peaks[0].resistance_ohm == pytest.approx(50.0, rel=0.01)


def test_stronger_noise_is_met_by_stronger_regularisation():
    """The rule leaves noise unexplained: rms near the noise, and smoother curves for more of it."""
    quiet, loud = (distribution(FREQUENCY, noisy(p1(), noise, 5)) for noise in (0.001, 0.01))
    assert loud.regularisation > quiet.regularisation
    assert quiet.rms_percent == pytest.approx(0.1, rel=0.3)
    assert loud.rms_percent == pytest.approx(1.0, rel=0.3)


def test_nothing_is_negative():
    """No density below zero, with any noise."""
    found = distribution(FREQUENCY, noisy(p1(), 0.01, 7))
    assert found.density_ohm.min() >= 0.0
    assert found.ohmic_ohm >= 0.0


def test_areas_of_all_peaks_add_up():
    """No resistance is lost between peaks: their sum is the area of the whole."""
    found = distribution(FREQUENCY, noisy(p1(), 0.01, 8))
    total = sum(one.resistance_ohm for one in found.peaks)
    assert total == pytest.approx(found.resistance_ohm, rel=1e-12)


def test_no_relaxation_no_peak():
    """A flat zero has no peak."""
    assert peaks(np.geomspace(1e-5, 1, 51), np.zeros(51)) == ()
