"""What a spectrum says without a model, and its verdict."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trivet.schema.settings.science import Trust
from trivet.science.circuit import closed_forms as el
from trivet.science.impedance.analysis import Choice, analyse, judge
from trivet.science.impedance.electrode_shape import longest_loop
from trivet.science.impedance.kramers_kronig import linear_test
from trivet.science.impedance.spectrum import (
    Trace,
    additivity_percent,
    headline,
    is_negated,
    modulus_ohm,
    sort_rows,
)
from trivet.science.impedance.verdict import verdict
from trivet.stages.impedance.pair import limits_of

FREQUENCY = np.geomspace(1e5, 1e-2, 60)
LIMITS = limits_of(Trust())


def electrode(ohmic=4.0, width=20.0, inductance_H=0.0, tau_s=1e-3, frequency=FREQUENCY):
    """R0 + arc + tail + lead."""
    return el.series(
        el.resistor(frequency, resistance_ohm=ohmic),
        el.zarc(frequency, resistance_ohm=width, time_constant_s=tau_s, exponent=0.85),
        el.warburg(frequency, coefficient_ohm_per_root_s=1.0),
        el.inductor(frequency, inductance_H=inductance_H),
    )


def with_noise(impedance, share, seed=0):
    """Noise of this share of |Z| on both parts."""
    parts = np.random.default_rng(seed).standard_normal((2, len(impedance)))
    return impedance + share * np.abs(impedance) * (parts[0] + 1j * parts[1])


def analysed(impedance, may_turn=False):
    """The whole chain with the default model."""
    return analyse(Trace(FREQUENCY, impedance), may_turn=may_turn, choice=Choice())


def test_crossing_of_a_lead_inductance():
    """The high-frequency resistance is Re Z where Im Z = 0, found here by bisection.

    Between the points of ten a decade the straight line is off by the curvature: 0.5 % at most.
    """
    impedance = electrode(inductance_H=5e-6)
    low, high = 1e3, 1e5
    for _ in range(200):
        middle = np.sqrt(low * high)
        at = electrode(inductance_H=5e-6, frequency=np.array([middle]))[0]
        low, high = (middle, high) if at.imag < 0 else (low, middle)
    head = headline(Trace(FREQUENCY, impedance))
    assert head.method == "imaginary part zero"
    assert head.high_frequency_resistance_ohm == pytest.approx(at.real, rel=5e-3)


def test_stand_in_without_a_crossing():
    """Without a crossing the smallest real part of the highest decade stands in, and is named."""
    impedance = electrode()
    head = headline(Trace(FREQUENCY, impedance))
    assert head.method == "smallest real part of the highest decade"
    assert head.high_frequency_resistance_ohm == np.min(impedance.real)
    assert head.points == 60


def test_polarisation_at_1_hz():
    """Re Z(1 Hz) less R_HF equals the closed form when 1 Hz is a frequency of the sweep."""
    frequency = np.geomspace(1e4, 1e-2, 61)
    impedance = electrode(frequency=frequency)
    head = headline(Trace(frequency, impedance))
    at_1_hz = electrode(frequency=np.array([1.0]))[0].real
    assert head.polarisation_at_1_hz_ohm == pytest.approx(
        at_1_hz - np.min(impedance.real), rel=1e-9
    )


def test_no_polarisation_where_1_hz_was_not_measured():
    """Nothing is extrapolated: a sweep that ends at 10 Hz has no value at 1 Hz."""
    frequency = np.geomspace(1e5, 10, 30)
    assert (
        headline(Trace(frequency, electrode(frequency=frequency))).polarisation_at_1_hz_ohm is None
    )
    assert headline(Trace(frequency[:0], frequency[:0] + 0j)).high_frequency_resistance_ohm is None


def test_additivity_is_kirchhoff():
    """The sum is exact for any two electrodes, and a gain error of 2 % of one shows its share."""
    positive, negative = electrode(), electrode(ohmic=3, width=60, tau_s=1e-2)
    cell = Trace(FREQUENCY, positive + negative)
    exact = additivity_percent(
        cell, positive=Trace(FREQUENCY, positive), negative=Trace(FREQUENCY, negative)
    )
    gain = additivity_percent(
        cell, positive=Trace(FREQUENCY, 1.02 * positive), negative=Trace(FREQUENCY, negative)
    )
    wanted = np.median(2 * np.abs(positive) / np.abs(positive + negative))
    assert exact == pytest.approx(0, abs=1e-12)
    assert gain == pytest.approx(wanted, rel=1e-9)


def test_additivity_of_independent_noise():
    """Independent noise of 0.5 % on equal arms has its 95th percentile at 1.2 % (section A7)."""
    arm = electrode()
    misfit = []
    for seed in range(0, 300, 3):
        traces = [with_noise(z, 0.005, seed + k) for k, z in enumerate((2 * arm, arm, arm))]
        misfit.append(np.abs(traces[1] + traces[2] - traces[0]) / np.abs(traces[0]))
        found = additivity_percent(
            *[Trace(FREQUENCY, traces[0])],
            positive=Trace(FREQUENCY, traces[1]),
            negative=Trace(FREQUENCY, traces[2]),
        )
        assert found == pytest.approx(100 * np.median(misfit[-1]), rel=1e-12)
        assert found < 1.2
    assert 100 * np.percentile(misfit, 95) == pytest.approx(1.2, abs=0.3)


def test_additivity_needs_common_frequencies():
    """Pairs swept at other frequencies can't be added: no number."""
    arm = electrode()
    shifted = Trace(FREQUENCY * 1.05, arm)
    whole = Trace(FREQUENCY, 2 * arm)
    assert additivity_percent(whole, positive=shifted, negative=Trace(FREQUENCY, arm)) is None


def test_rows_are_sorted_and_none_is_lost():
    """Rows in = used + invalid + outside + copies, by falling frequency; repeats stay."""
    frequency = np.array([1.0, 100.0, 10.0, 10.0, 10.0, 0.0, 1e7])
    impedance = np.array([3, 1, 2, 2, 2.1, 1, 1]) * (1 - 0.5j)
    order = sort_rows(frequency, impedance_ohm=impedance, lowest_Hz=0.0, highest_Hz=1e6)
    assert order.used.tolist() == [1, 2, 4, 0]
    assert order.copies.tolist() == [3]
    assert order.invalid.tolist() == [5]
    assert order.outside.tolist() == [6]


def test_negated_negative_is_turned_and_a_positive_is_rejected():
    """A wholly negated negative is turned before the checks; another pair is no passive thing."""
    turned = analysed(-electrode(), may_turn=True)
    assert turned.turned
    assert turned.headline.high_frequency_resistance_ohm > 0
    assert is_negated(-electrode())
    refused = analysed(-electrode())
    found = judge(refused, limits=LIMITS, additivity=None)
    assert refused.fitted is None
    assert refused.not_fitted_because == "the real part is nowhere positive"
    assert found.trust == "rejected"
    assert "real part negative, share of points 100.00 %" in found.reasons[0].text


def test_lead_inductance_is_no_loop():
    """Inductive points above 10 kHz come from the lead: no loop is counted (check Z4)."""
    trace = Trace(FREQUENCY, electrode(inductance_H=2e-6))
    assert np.count_nonzero(trace.impedance_ohm.imag > 0) > 0
    assert longest_loop(trace, limits=LIMITS) == 0


def test_clean_electrode_is_trusted():
    """A clean spectrum of the model with 0.2 % noise has no reason against it, 8 times (own)."""
    for seed in range(8):
        analysis = analysed(with_noise(electrode(), 0.002, seed))
        found = judge(analysis, limits=LIMITS, additivity=0.3)
        assert found.trust == "trusted", found.reasons


def residuals_of(rms_percent):
    """A linear test whose residuals alternate, of this rms."""
    sign = np.where(np.arange(60) % 2, 1.0, -1.0)
    test = linear_test(FREQUENCY, electrode())
    share = rms_percent / 100
    return replace(
        test,
        rms_percent=rms_percent,
        largest_percent=rms_percent,
        neighbour_correlation=-1.0,
        residuals=share * sign * (1 + 1j),
    )


@pytest.mark.parametrize(
    ("rms_percent", "given", "trust", "text"),
    [
        (0.7, {}, "suspect", "noise without order: Kramers-Kronig rms 0.70 % > 0.5 %"),
        (1.2, {}, "rejected", "noise without order: Kramers-Kronig rms 1.20 % > 1 %"),
        (0.2, {"additivity": 2.0}, "suspect", "additivity 2.00 % > 1 %"),
        (0.2, {"additivity": 4.0}, "rejected", "additivity 4.00 % > 3 %"),
        (None, {}, "suspect", "too few frequencies for the Kramers-Kronig test"),
    ],
)
def test_thresholds_of_the_verdict(rms_percent, given, trust, text):
    """Each threshold gives its verdict and says value and limit (sections A1, A2, A7)."""
    test = None if rms_percent is None else residuals_of(rms_percent)
    found = verdict(Trace(FREQUENCY, electrode()), limits=LIMITS, test=test, **given)
    assert found.trust == trust
    assert [reason.text for reason in found.reasons] == [text]


def test_an_inadequate_model_is_noted_and_says_nothing_against_the_spectrum():
    """Beyond three times the rms of the linear test a model is inadequate; the data are not."""
    given = {"limits": LIMITS, "test": residuals_of(0.2), "fit_rms_percent": 0.7}
    found = verdict(Trace(FREQUENCY, electrode()), **given)
    assert (found.trust, found.reasons) == ("trusted", ())
    noted = [check for check in found.checks if check.outcome == "noted"]
    assert [check.text for check in noted] == ["model inadequate: fit rms 0.70 % > 0.6 %"]


def test_gravest_reason_decides():
    """With several reasons the gravest gives the trust and stands first."""
    found = verdict(
        Trace(FREQUENCY, electrode()), limits=LIMITS, test=residuals_of(0.7), additivity=5.0
    )
    assert found.trust == "rejected"
    assert [reason.outcome for reason in found.reasons] == ["rejected", "suspect"]


def test_characteristic_frequency_is_that_of_the_arc():
    """The peak of -Z'' of an arc lies at 1/(2 pi tau), within a hundredth of a decade.

    Source: closed form of the depressed arc, e.g. check values P1.2, f_peak.
    """
    arc = 4 + el.zarc(FREQUENCY, resistance_ohm=20, time_constant_s=1e-3, exponent=0.85)
    found = headline(Trace(FREQUENCY, arc)).characteristic_frequency_Hz
    assert found == pytest.approx(1 / (2 * np.pi * 1e-3), rel=0.01)


def test_a_tail_alone_has_no_characteristic_frequency():
    """Semi-infinite diffusion rises all the way: there is no peak to report (closed form)."""
    tail = el.warburg(FREQUENCY, coefficient_ohm_per_root_s=3.0)
    assert headline(Trace(FREQUENCY, 1 + tail)).characteristic_frequency_Hz is None


def test_modulus_at_a_stated_frequency():
    """|sigma (1 - j)/sqrt(w)| is exact between the points, since it is a power law; none outside.

    Source: closed form, |Z| = sigma sqrt(2/w).
    """
    trace = Trace(FREQUENCY, el.warburg(FREQUENCY, coefficient_ohm_per_root_s=3.0))
    wanted = 3.0 * np.sqrt(2 / (2 * np.pi * 7.0))
    assert modulus_ohm(trace, frequency_Hz=7.0) == pytest.approx(wanted, rel=1e-12)
    assert modulus_ohm(trace, frequency_Hz=1e6) is None
