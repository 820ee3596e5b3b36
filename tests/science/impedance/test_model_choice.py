"""Complex least squares against printed digits, simulation and real coin cells."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.fit import FitError, fit_circuit
from trivet.science.circuit.model import Grid
from trivet.science.impedance.kramers_kronig import screen
from trivet.science.impedance.model_choice import fit, with_jumps, with_model_error

REAL = Path(__file__).resolve().parents[3] / ".." / "shared" / "real-data"
FREQUENCY = np.geomspace(1e5, 1e-2, 60)
TWO_ARCS = Circuit(arcs=2, tail="warburg", inductance=False)
TRUTH = np.array([4, 15, 2e-4, 0.85, 30, 2e-2, 0.8, 3])


def pseudo_noise(impedance):
    """The deterministic noise of check P1.5."""
    step = np.arange(len(impedance))
    return impedance + 0.01 * np.abs(impedance) * (np.sin(1.7 * step) + 1j * np.cos(2.3 * step))


def with_noise(impedance, share, seed):
    """Noise of this share of |Z| on both parts."""
    parts = np.random.default_rng(seed).standard_normal((2, len(impedance)))
    return impedance + share * np.abs(impedance) * (parts[0] + 1j * parts[1])


def test_digits_of_the_two_arc_fit():
    """P1.5: minimum, parameters (1e-5), standard errors (1 %), AIC, AICc, BIC.

    Source: scipy least squares of check values P1.5, modulus weights, 60 points.
    """
    found = fit_circuit(
        FREQUENCY, pseudo_noise(TWO_ARCS.impedance(FREQUENCY, TRUTH)), circuit=TWO_ARCS
    )
    wanted = [
        4.0027503,
        14.992693,
        1.9991435e-4,
        0.85051161,
        29.975033,
        0.019965298,
        0.80042548,
        3.0059236,
    ]
    errors = [0.01216, 0.1406, 2.727e-6, 0.003738, 0.2242, 2.534e-4, 0.006555, 0.04876]
    assert found.parameters == pytest.approx(wanted, rel=1e-5)
    assert found.standard_errors == pytest.approx(errors, rel=1e-2)
    assert found.sum_of_squares == pytest.approx(5.9447096076e-3, rel=1e-9)
    assert found.sum_of_squares / 112 == pytest.approx(5.30777644e-5, rel=1e-8)
    assert found.aic == pytest.approx(-1173.529441, abs=2e-6)
    assert found.aicc == pytest.approx(-1172.232143, abs=2e-6)
    assert found.bic == pytest.approx(-1151.229507, abs=2e-6)
    assert found.starts_agreeing == 5
    assert found.split_refused == ()


def test_digits_of_the_one_arc_rival():
    """P1.5: the rival with one arc has its sum of squares, AIC and F (same source)."""
    noisy = pseudo_noise(TWO_ARCS.impedance(FREQUENCY, TRUTH))
    rival = fit_circuit(FREQUENCY, noisy, circuit=Circuit(1, "warburg", False))
    two = fit_circuit(FREQUENCY, noisy, circuit=TWO_ARCS)
    ratio = (rival.sum_of_squares - two.sum_of_squares) / 3 / (two.sum_of_squares / 112)
    assert rival.sum_of_squares == pytest.approx(0.7068601, rel=1e-7)
    assert rival.aic == pytest.approx(-606.129711, abs=2e-6)
    assert ratio == pytest.approx(4401.8143, rel=1e-6)


@pytest.mark.parametrize(
    ("circuit", "truth"),
    [
        (TWO_ARCS, TRUTH),
        (Circuit(1, "warburg", True), np.array([1e-6, 3, 60, 5e-5, 0.82, 2])),
        (Circuit(2, "none", True), np.array([8e-7, 2, 12, 8e-6, 0.9, 10, 3e-3, 0.75])),
        (Circuit(1, "free", False), np.array([3, 25, 2e-3, 0.8, 4, 0.65])),
    ],
)
def test_noise_free_data_return_the_truth(circuit, truth):
    """Noise-free data return every parameter to 1e-8 (P1.5)."""
    found = fit_circuit(FREQUENCY, circuit.impedance(FREQUENCY, truth), circuit=circuit)
    assert found.parameters == pytest.approx(truth, rel=1e-8)


def test_noise_free_choice_is_the_true_circuit():
    """Among all circuits allowed, noise-free data choose the true one and its parameters (own)."""
    found = fit(FREQUENCY, TWO_ARCS.impedance(FREQUENCY, TRUTH))
    assert found.circuit == TWO_ARCS
    assert found.parameters == pytest.approx(TRUTH, rel=1e-8)


@pytest.mark.parametrize(
    ("circuit", "truth"),
    [
        (Circuit(2, "warburg", True), np.array([1e-6, *TRUTH])),
        (Circuit(1, "free", False), np.array([3, 25, 2e-3, 0.8, 4, 0.65])),
    ],
)
def test_slopes_against_finite_differences(circuit, truth):
    """The analytic derivatives equal central differences of the impedance (own)."""
    grid, inner, step = Grid(FREQUENCY), circuit.inner(truth), 1e-6
    _, slopes = circuit.impedance_and_slopes(grid, inner)
    for which in range(len(inner)):
        ahead, behind = inner.copy(), inner.copy()
        ahead[which] += step
        behind[which] -= step
        wanted = (
            circuit.impedance_and_slopes(grid, ahead)[0]
            - circuit.impedance_and_slopes(grid, behind)[0]
        ) / (2 * step)
        assert slopes[which] == pytest.approx(wanted, rel=1e-6, abs=1e-8 * np.max(np.abs(wanted)))


@pytest.mark.parametrize("inductance_H", [0.0, 2e-6])
def test_standard_errors_cover_the_truth(inductance_H):
    """R0 and the sum of the arcs scatter by their standard errors, with or without a lead.

    The ratio of scatter to stated error over 60 spectra lies within 1 +- 3/sqrt(120).
    """
    truth = TWO_ARCS.impedance(FREQUENCY, TRUTH) + 2j * np.pi * FREQUENCY * inductance_H
    scores = []
    for seed in range(60):
        found = fit(FREQUENCY, with_noise(truth, 0.003, seed))
        scores.append(
            (
                (found.value("R0_ohm") - 4) / found.standard_error("R0_ohm"),
                (found.polarisation_resistance_ohm - 45) / found.polarisation_resistance_se_ohm,
            )
        )
    assert np.sqrt(np.mean(np.square(scores), axis=0)) == pytest.approx([1, 1], abs=0.28)


def test_sum_is_robust_where_the_split_is_not():
    """Time constants three apart: the split is refused, the sum stays good to a percent.

    Table of section A6, tau ratio 3: standard error 50 % of R1 and 0.21 % of the sum at 1 % noise.
    """
    truth = np.array([4, 22.5, 2e-4, 0.8, 22.5, 6e-4, 0.8, 3])
    noisy = with_noise(TWO_ARCS.impedance(FREQUENCY, truth), 0.01 / np.sqrt(2), seed=1)
    found = fit_circuit(FREQUENCY, noisy, circuit=TWO_ARCS)
    assert any("apart, 10 needed" in reason for reason in found.split_refused)
    assert any("standard error of R1_ohm" in reason for reason in found.split_refused)
    assert found.polarisation_resistance_ohm == pytest.approx(45, rel=0.01)


def test_cramer_rao_bounds():
    """Standard errors at the truth equal the table of section A6, tau ratio 10 and 100.

    Table: relative errors of R1, R2, R1 + R2 in percent and the correlation, 1 % rms of |Z|.
    """
    for ratio, wanted, correlation in (
        (10, (5.4, 5.6, 0.22), -0.997),
        (100, (0.8, 1.2, 0.29), -0.88),
    ):
        truth = np.array([4, 22.5, 2e-4, 0.8, 22.5, 2e-4 * ratio, 0.8, 3])
        clean = TWO_ARCS.impedance(FREQUENCY, truth)
        noisy = with_noise(clean, 0.01 / np.sqrt(2), seed=2)
        found = fit_circuit(FREQUENCY, noisy, circuit=TWO_ARCS, known_starts=[truth])
        scale = 100 * 0.01 / np.sqrt(2) / np.sqrt(found.sum_of_squares / 112)
        errors = (
            found.standard_error("R1_ohm") / found.value("R1_ohm"),
            found.standard_error("R2_ohm") / found.value("R2_ohm"),
            found.polarisation_resistance_se_ohm / found.polarisation_resistance_ohm,
        )
        assert [scale * error for error in errors] == pytest.approx(wanted, rel=0.25)
        assert found.resistance_correlation == pytest.approx(correlation, abs=0.05)


def test_one_arc_is_not_split():
    """On one-arc data with 1 % noise BIC takes a second arc in none of 15 (section A2: 0 %)."""
    circuit = Circuit(1, "warburg", False)
    clean = circuit.impedance(FREQUENCY, np.array([3, 60, 5e-5, 0.82, 2]))
    arcs = [fit(FREQUENCY, with_noise(clean, 0.01, seed)).circuit.arcs for seed in range(15)]
    assert arcs == [1] * 15


def test_parameter_at_its_bound_has_no_error():
    """An ideal half circle sits at n = 1, so n has no standard error; the width has (own)."""
    circuit = Circuit(1, "none", False)
    clean = 2 + 1.02 * circuit.impedance(FREQUENCY, np.array([1, 20, 1e-3, 1.0]))
    laplace = 2j * np.pi * FREQUENCY
    steeper = clean + 0.3 * laplace * 1e-3 / (1 + laplace * 1e-3) ** 2
    found = fit_circuit(FREQUENCY, steeper, circuit=circuit)
    assert found.at_bound == ("n1",)
    assert found.standard_error("n1") is None
    assert found.standard_error("R1_ohm") > 0
    assert found.polarisation_resistance_se_ohm > 0


def test_neighbour_spectrum_is_one_more_start():
    """The fit of the last spectrum of a pair is a start beside the five, and changes no minimum."""
    clean = TWO_ARCS.impedance(FREQUENCY, TRUTH)
    before = fit(FREQUENCY, with_noise(clean, 0.003, 1), inductance=False)
    alone = fit(FREQUENCY, with_noise(clean, 0.003, 2), inductance=False)
    helped = fit(FREQUENCY, with_noise(clean, 0.003, 2), inductance=False, neighbour=before)
    assert (alone.starts_agreeing, helped.starts_agreeing) == (5, 6)
    assert helped.parameters == pytest.approx(alone.parameters, rel=1e-5)
    other = fit(FREQUENCY, with_noise(clean, 0.003, 2), tail="free", neighbour=before)
    assert other.bic <= alone.bic + 1e-6


def test_an_arc_that_jumps_may_not_be_read():
    """A time constant that moved by more than three since the last spectrum refuses the split."""
    fits = []
    for times in ((2e-4, 2e-2), (2.5e-4, 2.5e-2), (2e-4, 8e-2)):
        truth = np.array([4, 15, times[0], 0.85, 30, times[1], 0.8, 3])
        fits.append(fit(FREQUENCY, with_noise(TWO_ARCS.impedance(FREQUENCY, truth), 0.002, 5)))
    assert with_jumps(fits[1], fits[0]).split_refused == ()
    (reason,) = with_jumps(fits[2], fits[0]).split_refused
    assert reason.startswith("tau2_s went from 0.02")
    assert with_jumps(fits[2], None).split_refused == ()


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({3: 0.5}, "n1 is 0.50, at least 0.6 needed: merged arcs"),
        ({5: 40.0}, "peak of R2_ohm outside the measured frequencies"),
        ({5: 1e-3}, "widths correlate by -1.000, at most 0.99"),
    ],
)
def test_reasons_for_no_split(changed, words):
    """A flat arc, a peak outside the sweep and widths that trade each name themselves (D1)."""
    truth = TRUTH.copy()
    truth[list(changed)] = list(changed.values())
    clean = TWO_ARCS.impedance(FREQUENCY, truth)
    found = fit_circuit(
        FREQUENCY, with_noise(clean, 0.0005, 3), circuit=TWO_ARCS, known_starts=[truth]
    )
    assert any(words in reason for reason in found.split_refused), found.split_refused


def test_same_data_same_numbers():
    """The fit is deterministic: two runs agree in every bit (own)."""
    noisy = pseudo_noise(TWO_ARCS.impedance(FREQUENCY, TRUTH))
    first, second = fit(FREQUENCY, noisy), fit(FREQUENCY, noisy)
    assert np.array_equal(first.parameters, second.parameters)


def test_what_cannot_be_fitted_is_said():
    """Too few points and a wholly negative real part are refused in words."""
    with pytest.raises(FitError, match="3 points for 6 parameters"):
        fit(FREQUENCY[:3], np.ones(3) - 1j)
    with pytest.raises(FitError, match="the real part is nowhere positive"):
        fit(FREQUENCY, -np.ones(60) + 1j)


def test_real_coin_cells_are_fitted():
    """Nine in ten real spectra are fitted within three times their Kramers-Kronig rms.

    Data: Zhang et al., Nat. Commun. 11 (2020) 1706; every twentieth spectrum of four cells.
    """
    if not REAL.is_dir():
        pytest.skip("the folder of real data is not beside the project")
    frequency = np.loadtxt(REAL / "coin-cell-impedance-frequencies.csv")
    table = np.loadtxt(REAL / "coin-cell-impedance-wide.csv", delimiter=",", skiprows=1)
    ratios = []
    for row in table[::20]:
        impedance = row[4:64] - 1j * row[64:124]
        screened = screen(frequency, impedance)
        found = fit(frequency[screened.kept], impedance[screened.kept], most_arcs=3, tail="free")
        ratios.append(found.rms_percent / screened.test.rms_percent)
    assert np.mean(np.array(ratios) <= 3) >= 0.9


def test_a_wrong_model_has_a_wide_error():
    """Of porous electrodes fitted by arcs, two errors cover the resistance in most of 30 spectra.

    Truth: direct-current limit of the porous line, sqrt(a b) coth sqrt(a / b) (textbook).
    """
    laplace = 2j * np.pi * FREQUENCY
    covered, widened = 0, 0
    for seed in range(30):
        random = np.random.default_rng(seed)
        along, across = 10 ** random.uniform(0.3, 1.3), 10 ** random.uniform(0.2, 1.3)
        surface = 1 / (1 / across + 10 ** random.uniform(-3, -1.5) * laplace**0.9)
        exact = 4 + np.sqrt(along * surface) / np.tanh(np.sqrt(along / surface))
        measured = with_noise(exact, 0.001, seed)
        truth = np.sqrt(along * across) / np.tanh(np.sqrt(along / across))
        plain = fit(FREQUENCY, measured, most_arcs=1)
        scatter = screen(FREQUENCY, measured).test.rms_percent
        wide = with_model_error(plain, FREQUENCY, measured, scatter_percent=scatter)
        error = wide.polarisation_resistance_se_ohm
        assert error is not None
        assert plain.polarisation_resistance_se_ohm is not None
        covered += abs(wide.polarisation_resistance_ohm - truth) < 2 * error
        widened += error > 1.5 * plain.polarisation_resistance_se_ohm
    assert covered >= 22
    assert widened >= 3


def test_a_right_model_keeps_its_error():
    """A model that follows the data as well as any linear system has nothing to widen."""
    measured = with_noise(TWO_ARCS.impedance(FREQUENCY, TRUTH), 0.002, 1)
    plain = fit(FREQUENCY, measured)
    scatter = screen(FREQUENCY, measured).test.rms_percent
    wide = with_model_error(plain, FREQUENCY, measured, scatter_percent=scatter)
    assert wide == plain
