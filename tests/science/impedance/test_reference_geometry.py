"""Shapes of a misplaced reference: each check fires on its own simulated fault, and not without.

Faults and thresholds: checks Z4 to Z8 of the check values on impedance, sections A1 and B6; the
phenomena: M. Ender et al., J. Electrochem. Soc. 159 (2012) A128.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trivet.schema.settings.science import Trust
from trivet.science.circuit import closed_forms as el
from trivet.science.impedance.analysis import Choice, analyse, electrode_of, judge
from trivet.science.impedance.electrode_shape import (
    mirror_correlation,
    ohmic_share,
    polarisation_factor,
    real_part_fall_percent,
)
from trivet.science.impedance.reference_geometry import NAME, OwnOhmic, geometry_checks
from trivet.science.impedance.spectrum import Trace, additivity_percent
from trivet.stages.impedance.pair import limits_of

FREQUENCY = np.geomspace(1e5, 2e-2, 48)
LAPLACE = 2j * np.pi * FREQUENCY
LIMITS = limits_of(Trust())


def electrode(ohmic, widths, times, sigma):
    """R0 + two arcs + diffusion."""
    parts = [
        el.resistor(FREQUENCY, resistance_ohm=ohmic),
        el.warburg(FREQUENCY, coefficient_ohm_per_root_s=sigma),
    ]
    parts += [
        el.zarc(FREQUENCY, resistance_ohm=width, time_constant_s=tau, exponent=0.85)
        for width, tau in zip(widths, times, strict=True)
    ]
    return el.series(*parts)


POSITIVE = electrode(4.6, (6.0, 12.0), (1.3e-4, 1.3e-2), 1.2)
NEGATIVE = electrode(4.2, (8.0, 10.0), (1.6e-4, 1.6e-2), 0.8)
LOOP = 6.0 / (1 + LAPLACE * 0.1)
"""A feature that a misplaced reference takes from one electrode and gives to the other."""


def measured(moved=0.0, seed=0, noise=0.001):
    """Positive, negative and cell, with a feature moved from the negative to the positive."""
    random = np.random.default_rng(seed)
    exact = {
        "cell": POSITIVE + NEGATIVE,
        "positive": POSITIVE + moved,
        "negative": NEGATIVE - moved,
    }
    return {
        pair: Trace(
            FREQUENCY,
            z + noise * np.abs(z) * (random.standard_normal(48) + 1j * random.standard_normal(48)),
        )
        for pair, z in exact.items()
    }


def electrodes(traces):
    """What the checks need of both electrodes."""
    return {
        pair: electrode_of(analyse(traces[pair], may_turn=False, choice=Choice()))
        for pair in ("positive", "negative")
    }


def reasons(checks):
    """Names of the checks that speak against each electrode."""
    return {pair: {c.name for c in own if c.is_reason} for pair, own in checks.items()}


@pytest.fixture(scope="module")
def looped():
    """A measurement with a moved feature, analysed once."""
    return measured(LOOP)


def test_negative_loop_passes_kramers_kronig_and_fails_the_shape(looped):
    """The loop is causal: Kramers-Kronig and additivity pass, and only the shape is suspect.

    Section A1: a loop of 1 to 6 ohm leaves 0.07 to 0.11 %, as a clean spectrum does.
    """
    analysis = analyse(looped["negative"], may_turn=False, choice=Choice())
    additivity = additivity_percent(
        looped["cell"], positive=looped["positive"], negative=looped["negative"]
    )
    shape = geometry_checks(electrodes(looped), limits=LIMITS)
    found = judge(analysis, limits=LIMITS, additivity=additivity, further=shape["negative"])
    passed = {c.name for c in found.checks if c.outcome == "trusted"}
    assert {"Kramers-Kronig rms", "Kramers-Kronig pattern", "additivity"} <= passed | {
        c.name for c in found.checks if c.outcome == "not testable"
    }
    assert "Kramers-Kronig rms" in passed
    assert analysis.screened.test.rms_percent < 0.2
    assert found.trust == "suspect"
    assert any(reason.text.startswith(NAME) for reason in found.reasons)


def test_loop_is_found_and_said_of_both(looped):
    """Three inductive points at middle frequency are a loop; the other electrode is told (Z4)."""
    found = reasons(geometry_checks(electrodes(looped), limits=LIMITS))
    assert {"inductive loop", "falling real part"} <= found["negative"]
    assert "inductive loop" not in found["positive"]
    assert "reference geometry" in found["positive"]


def test_falling_real_part_without_a_loop():
    """Ohmic resistance moved at high frequency only makes the real part fall, no loop (Z5)."""
    moved = 3.0 * (LAPLACE * 1e-5) / (1 + LAPLACE * 1e-5)
    one = electrodes(measured(moved))
    assert real_part_fall_percent(one["positive"].trace) > 1.0
    found = reasons(geometry_checks(one, limits=LIMITS))
    assert "falling real part" in found["positive"]
    assert "inductive loop" not in found["positive"]


def test_a_real_part_that_scatters_does_not_fall():
    """Noise of 0.5 % is no fall: the limit follows the scatter, in 40 electrodes (Z5, own)."""
    for seed in range(20):
        traces = measured(seed=seed, noise=0.005)
        found = reasons(geometry_checks(electrodes(traces), limits=LIMITS))
        assert found == {"positive": set(), "negative": set()}


def test_mirror_features_correlate():
    """What the models leave over is opposite in both electrodes, at any reference fault (Z6)."""
    moved = 1.5 / (1 + LAPLACE * 3e-3) - 1.5 / (1 + LAPLACE * 1e-3)
    one = electrodes(measured(moved, noise=0.0005))
    assert mirror_correlation(one["positive"], one["negative"]) < -0.8
    checks = geometry_checks(one, limits=LIMITS)
    assert all("mirror features" in names for names in reasons(checks).values())


def test_noise_is_no_mirror():
    """Noise of the reference, opposite in both electrodes, is no feature: no value (own)."""
    one = electrodes(measured())
    random = np.random.default_rng(5)
    noise = 0.02 * (random.standard_normal(48) + 1j * random.standard_normal(48))
    mirrored = {
        "positive": replace(one["positive"], residuals_ohm=noise),
        "negative": replace(one["negative"], residuals_ohm=-noise),
    }
    assert mirror_correlation(mirrored["positive"], mirrored["negative"]) is None
    smooth = np.cumsum(noise)
    features = {
        "positive": replace(one["positive"], residuals_ohm=smooth),
        "negative": replace(one["negative"], residuals_ohm=-smooth),
    }
    assert mirror_correlation(features["positive"], features["negative"]) == pytest.approx(-1)


@pytest.mark.parametrize(
    ("positive_ohm", "expected", "flagged"),
    [(5.0, 0.5, False), (6.4, 0.5, False), (6.6, 0.5, True), (3.4, 0.5, True), (6.8, 2 / 3, False),
     (8.5, 2 / 3, True), (5.0, 2 / 3, False)],
)  # fmt: skip
def test_share_of_ohmic_resistance(positive_ohm, expected, flagged):
    """A share of 0.35 to 0.65 is usual with like separators; more of them shift it (Z7)."""
    one = electrodes(measured())
    given = {
        "positive": replace(one["positive"], ohmic_ohm=positive_ohm),
        "negative": replace(one["negative"], ohmic_ohm=10.0 - positive_ohm),
    }
    assert ohmic_share(given) == pytest.approx(positive_ohm / 10)
    declared = OwnOhmic(0.0, 0.0)
    checks = geometry_checks(given, limits=LIMITS, expected_share=expected, own_ohmic=declared)
    assert ("share of ohmic resistance" in reasons(checks)["negative"]) == flagged


def test_contact_resistance_is_no_fault_of_the_place():
    """0.80 of the ohmic resistance in the positive by its contact is judged by the rest, or not.

    3 ohm of electrolyte on each side, and 9 ohm of contact in the positive: Kirchhoff's rule.
    """
    one = electrodes(measured())
    given = {
        "positive": replace(one["positive"], ohmic_ohm=12.0),
        "negative": replace(one["negative"], ohmic_ohm=3.0),
    }
    for own in (None, OwnOhmic(9.0, 0.0), OwnOhmic(9.0, None)):
        found = reasons(geometry_checks(given, limits=LIMITS, own_ohmic=own))
        assert "share of ohmic resistance" not in found["positive"]
    wrong = geometry_checks(given, limits=LIMITS, own_ohmic=OwnOhmic(0.0, 0.0))
    assert "share of ohmic resistance" in reasons(wrong)["positive"]


@pytest.mark.parametrize(("first", "flagged"), [(0.45, False), (0.38, True), (None, False)])
def test_change_of_that_share(first, flagged):
    """A share that moves by more than 0.1 in life says more than its value (Z7)."""
    one = electrodes(measured())
    assert ohmic_share(one) == pytest.approx(0.52, abs=0.02)
    found = reasons(geometry_checks(one, limits=LIMITS, first_share=first))
    assert ("change of ohmic share" in found["positive"]) == flagged


@pytest.mark.parametrize(
    ("found_ohm", "expected_ohm", "factor"),
    [(30.0, 18.0, 30 / 18), (40.0, 18.0, 40 / 18), (6.0, 18.0, 3.0), (6.0, None, None),
     (None, 18.0, None), (-1.0, 18.0, float("inf"))],
)  # fmt: skip
def test_polarisation_out_of_family(found_ohm, expected_ohm, factor):
    """Half to twice what symmetric cells show is usual (Z8); nothing expected is no verdict."""
    assert polarisation_factor(found_ohm, expected_ohm=expected_ohm) == factor
    one = electrodes(measured())
    given = one | {"positive": replace(one["positive"], polarisation_ohm=found_ohm)}
    checks = geometry_checks(
        given, limits=LIMITS, expected_polarisation_ohm={"positive": expected_ohm}
    )
    flagged = factor is not None and factor > 2
    assert ("polarisation out of family" in reasons(checks)["positive"]) == flagged


def test_healthy_electrodes_have_no_reason():
    """A well placed reference raises nothing in 25 noisy measurements (own)."""
    for seed in range(25):
        checks = geometry_checks(electrodes(measured(seed=seed, noise=0.002)), limits=LIMITS)
        assert reasons(checks) == {"positive": set(), "negative": set()}


def test_one_electrode_alone_is_judged_by_its_shape(looped):
    """With one electrode measured its own shape is tested; what needs both says so."""
    both = electrodes(looped)
    checks = geometry_checks({"negative": both["negative"]}, limits=LIMITS)["negative"]
    assert "inductive loop" in {c.name for c in checks if c.is_reason}
    void = {c.name: c.text for c in checks if c.outcome == "not testable"}
    assert void["mirror features"] == "one electrode only"
