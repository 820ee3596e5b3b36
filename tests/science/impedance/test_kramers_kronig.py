"""The linear Kramers-Kronig test against printed digits, simulated faults and real cells."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.schema.settings.science import Trust
from trivet.science.circuit import closed_forms as el
from trivet.science.impedance.kramers_kronig import fewest_points, linear_test, screen
from trivet.science.impedance.spectrum import Trace
from trivet.science.impedance.verdict import verdict
from trivet.stages.impedance.pair import limits_of

REAL = Path(__file__).resolve().parents[3] / ".." / "shared" / "real-data"
LIMITS = limits_of(Trust())
FREQUENCY = np.geomspace(1e5, 1e-2, 57)


def two_arcs(second_ohm=30.0):
    """Spectrum of check KK-2, with a second arc that may change along the sweep."""
    return el.series(
        el.resistor(FREQUENCY, resistance_ohm=4),
        el.zarc(FREQUENCY, resistance_ohm=15, time_constant_s=2e-4, exponent=0.85),
        second_ohm * el.zarc(FREQUENCY, resistance_ohm=1, time_constant_s=2e-2, exponent=0.8),
        el.warburg(FREQUENCY, coefficient_ohm_per_root_s=3),
    )


def with_noise(impedance, share, seed):
    """Noise of this share of |Z| on both parts."""
    random = np.random.default_rng(seed)
    parts = random.standard_normal((2, len(impedance)))
    return impedance + share * np.abs(impedance) * (parts[0] + 1j * parts[1])


def trust_of(impedance):
    """Verdict of the linear test alone."""
    test = linear_test(FREQUENCY, impedance)
    return verdict(
        Trace(FREQUENCY, impedance),
        limits=LIMITS,
        test=test,
    ).trust


# Check values P1.4, KK-1 (numpy least squares, no noise, no C, no L): M, mu, chi2, R0, sum R_k,
# largest real and imaginary residual.
KK_1 = [
    (4, 0.80930383, 6.74975045e-1, 5.49982057, 17.67697545, 2.079844e-1, 2.157790e-1),
    (6, 0.92407957, 2.81026618e-2, 4.92658705, 20.48327103, 4.710334e-2, 4.983128e-2),
    (8, 0.95371799, 7.55925821e-4, 5.03145054, 19.86760127, 8.031030e-3, 8.649566e-3),
    (10, 0.99700851, 1.25975234e-5, 5.02300468, 19.98057733, 1.107351e-3, 1.038065e-3),
    (12, 1.00000000, 2.69021490e-6, 5.01672769, 19.97664474, 5.132819e-4, 4.769233e-4),
]


@pytest.mark.parametrize(("count", "mu", "chi2", "ohmic", "width", "real", "imaginary"), KK_1)
def test_one_arc_to_the_digits(count, mu, chi2, ohmic, width, real, imaginary):
    """KK-1: one arc, a fixed number of time constants, every printed digit."""
    frequency = np.geomspace(1e4, 1.0, 33)
    impedance = 5 + el.zarc(frequency, resistance_ohm=20, time_constant_s=1e-3, exponent=0.9)
    test = linear_test(
        frequency, impedance, time_constants=count, capacitance=False, inductance=False
    )
    assert test.mu == pytest.approx(mu, abs=6e-9)
    assert test.pseudo_chi_squared == pytest.approx(chi2, rel=6e-9)
    assert test.series_resistance_ohm == pytest.approx(ohmic, abs=6e-9)
    assert np.sum(test.resistances_ohm) == pytest.approx(width, abs=6e-9)
    assert np.max(np.abs(test.residuals.real)) == pytest.approx(real, rel=5e-7)
    assert np.max(np.abs(test.residuals.imag)) == pytest.approx(imaginary, rel=5e-7)


@pytest.mark.parametrize(
    ("count", "mu", "chi2", "ohmic"),
    [(7, 0.99577516, 3.24910629e-1, 4.18816008), (14, 1.0, 5.33781137e-4, 4.03169278)],
)
def test_two_arcs_and_tail_to_the_digits(count, mu, chi2, ohmic):
    """KK-2: a series capacitor takes the diffusion tail (P1.4, same source)."""
    test = linear_test(FREQUENCY, two_arcs(), time_constants=count, inductance=False)
    assert test.mu == pytest.approx(mu, abs=6e-9)
    assert test.pseudo_chi_squared == pytest.approx(chi2, rel=6e-9)
    assert test.series_resistance_ohm == pytest.approx(ohmic, abs=6e-9)


def test_without_series_capacitor_a_clean_tail_looks_wrong():
    """A clean spectrum with a tail is off by percents without the capacitor (section A1)."""
    without = linear_test(
        FREQUENCY, two_arcs(), time_constants=20, capacitance=False, inductance=False
    )
    assert without.largest_percent == pytest.approx(3.1, abs=0.1)
    assert linear_test(FREQUENCY, two_arcs(), time_constants=20).largest_percent < 0.5


def test_search_does_not_stop_at_the_false_end():
    """KK-1 stops mu at M = 4 with 21 % misfit; two a decade before mu counts prevent it (P1.4)."""
    frequency = np.geomspace(1e4, 1.0, 33)
    impedance = 5 + el.zarc(frequency, resistance_ohm=20, time_constant_s=1e-3, exponent=0.9)
    trap = linear_test(frequency, impedance, time_constants=4, capacitance=False, inductance=False)
    test = linear_test(frequency, impedance, capacitance=False, inductance=False)
    assert trap.mu < 0.85
    assert test.time_constants >= 9
    assert test.largest_percent < 0.5


def test_a_negative_loop_is_invisible():
    """A loop by a misplaced reference is linear and causal: residual at most 0.2 % (P1.4)."""
    loop = el.zarc(FREQUENCY, resistance_ohm=3, time_constant_s=1 / (2 * np.pi), exponent=1.0)
    laplace = 2j * np.pi * FREQUENCY
    test = linear_test(FREQUENCY, two_arcs() - 3 / (1 + laplace), time_constants=20)
    assert test.largest_percent <= 0.2
    assert linear_test(FREQUENCY, two_arcs() - loop, time_constants=20).largest_percent <= 0.2


@pytest.mark.parametrize("at", range(3, 54, 10))
def test_one_bad_point_has_the_largest_residual(at):
    """A point 3 % too large is the one with the largest residual (P1.4)."""
    impedance = two_arcs()
    impedance[at] *= 1.03
    test = linear_test(FREQUENCY, impedance, time_constants=20)
    assert int(np.argmax(np.abs(test.residuals))) == at


@pytest.mark.parametrize("at", [10, 31, 45])
def test_one_bad_point_is_set_aside(at):
    """The search sets exactly the bad point aside and the test is clean without it (own)."""
    impedance = with_noise(two_arcs(), 0.002, seed=4)
    impedance[at] *= 1.03
    screened = screen(FREQUENCY, impedance)
    assert [outlier[0] for outlier in screened.outliers] == [at]
    assert not screened.kept[at]
    assert np.count_nonzero(screened.kept) == 56
    assert screened.test.rms_percent < 0.25


def test_noise_alone_loses_no_point():
    """Plain noise of 0.1 to 1 % has no outlier in 60 spectra: a false alarm costs data (own)."""
    found = [
        len(screen(FREQUENCY, with_noise(two_arcs(), share, seed)).outliers)
        for share in (0.001, 0.003, 0.01)
        for seed in range(20)
    ]
    assert sum(found) == 0


def test_bad_spectrum_is_not_polished():
    """At most one point in twenty is set aside, however bad the rest (own)."""
    impedance = two_arcs()
    impedance[5:50:5] *= 1.2
    assert len(screen(FREQUENCY, impedance).outliers) <= 2


def test_rms_of_known_noise():
    """0.5 % noise leaves 0.5 % times the root of the share of values that are no unknowns.

    For M + 3 unknowns of 2N values, as least squares has it (any handbook of statistics).
    """
    for seed in range(10):
        test = linear_test(FREQUENCY, with_noise(two_arcs(), 0.005, seed))
        left = 1 - (test.time_constants + 3) / (2 * len(FREQUENCY))
        assert test.rms_percent == pytest.approx(0.5 * left**0.5, rel=0.2)
        assert test.neighbour_correlation < 0.1


@pytest.mark.parametrize("exponent", [1.0, 0.98, 0.95])
@pytest.mark.parametrize("time_constant_s", [1e-4, 3e-3, 0.1])
@pytest.mark.parametrize("noise", [0.0, 0.001])
def test_ideal_arcs_pass(exponent, time_constant_s, noise):
    """An ideal or nearly ideal arc between two time constants is trusted, with no outlier."""
    arc = el.zarc(FREQUENCY, resistance_ohm=20, time_constant_s=time_constant_s, exponent=exponent)
    measured = with_noise(5 + arc, noise, seed=1)
    assert screen(FREQUENCY, measured).outliers == ()
    assert linear_test(FREQUENCY, measured).rms_percent < 0.03 + 100 * noise
    assert trust_of(measured) == "trusted"


def test_a_dummy_cell_is_trusted():
    """Three elements, 10 ohm with 100 ohm beside 10 uF: the usual proof of an instrument."""
    measured = 10 + 1 / (1 / 100 + 2j * np.pi * FREQUENCY * 1e-5)
    for noise in (0.0, 0.001, 0.002):
        assert trust_of(with_noise(measured, noise, seed=2)) == "trusted"


def test_the_top_of_an_arc_is_no_outlier_where_a_model_misses_it():
    """Neighbours that are off alike are a model that can't follow, not bad points."""
    frequency = np.geomspace(1e5, 1e-2, 29)
    arc = el.zarc(frequency, resistance_ohm=200, time_constant_s=3e-3, exponent=1.0)
    assert screen(frequency, 1 + arc).outliers == ()


def test_noise_is_called_noise():
    """At 0.8 % noise the reason says noise without order, at 20 % drift that the cell changed."""
    noisy = with_noise(two_arcs(), 0.008, seed=5)
    found = verdict(Trace(FREQUENCY, noisy), limits=LIMITS, test=linear_test(FREQUENCY, noisy))
    assert [check.name for check in found.reasons] == ["Kramers-Kronig rms"]
    assert "noise" in found.reasons[0].text
    along = np.linspace(0.0, 1.0, len(FREQUENCY))
    drifting = with_noise(two_arcs(30 * (1 + 0.2 * along)), 0.001, seed=5)
    test = linear_test(FREQUENCY, drifting)
    found = verdict(Trace(FREQUENCY, drifting), limits=LIMITS, test=test)
    assert "Kramers-Kronig pattern" in [check.name for check in found.reasons]
    assert not any("noise" in check.text for check in found.reasons)


def test_drift_is_flagged_and_clean_is_not():
    """+20 % of the second arc along the sweep is flagged at 0.1 % noise; clean and +2 % are not.

    The table of section A1 has 2.0 % as largest residual of that drift without noise.
    """
    along = np.linspace(0.0, 1.0, len(FREQUENCY))
    for seed in range(15):
        drifting = with_noise(two_arcs(30 * (1 + 0.2 * along)), 0.001, seed)
        barely = with_noise(two_arcs(30 * (1 + 0.02 * along)), 0.001, seed)
        assert trust_of(drifting) == "suspect"
        assert trust_of(barely) == "trusted"
        assert trust_of(with_noise(two_arcs(), 0.001, seed)) == "trusted"


def outcomes_of(impedance):
    """Outcome of every check of the linear test."""
    screened = screen(FREQUENCY, impedance)
    used = Trace(FREQUENCY[screened.kept], impedance[screened.kept])
    found = verdict(used, limits=LIMITS, test=screened.test)
    return {check.name: check.outcome for check in found.checks}


@pytest.mark.parametrize(
    ("share", "wanted"), [(0.003, "trusted"), (0.008, "suspect"), (0.02, "rejected")]
)
def test_noise_is_graded_by_its_rms(share, wanted):
    """Noise of 0.3, 0.8 and 2 % passes, is suspect, is rejected, in 10 spectra each (Z1)."""
    for seed in range(10):
        found = outcomes_of(with_noise(two_arcs(), share, seed))
        assert found["Kramers-Kronig rms"] == wanted
        assert found["Kramers-Kronig pattern"] != "suspect"


def test_points_left_bad_stand_out():
    """Where more points are bad than may be set aside, the largest residual tells (Z2).

    Five of 57 points are 1.5 % off at 0.1 % noise; two may be set aside.
    """
    impedance = with_noise(two_arcs(), 0.001, seed=3)
    impedance[[8, 18, 28, 38, 48]] *= 1.015
    screened = screen(FREQUENCY, impedance)
    assert len(screened.outliers) == 2
    found = outcomes_of(impedance)
    assert found["largest Kramers-Kronig residual"] == "suspect"


def test_noise_alone_has_no_residual_that_stands_out():
    """Of 300 spectra with 0.5 % noise none has a residual beyond 4.5 rms, the default (Z2).

    At 4 rms, the value of check Z2, six in a thousand would.
    """
    for seed in range(300):
        found = outcomes_of(with_noise(two_arcs(), 0.005, seed))
        assert found["largest Kramers-Kronig residual"] == "trusted"


def test_too_few_points_are_refused():
    """Fewer equations than unknowns are an error of the caller, said with numbers."""
    frequency = np.geomspace(1e5, 1e-2, 8)
    with pytest.raises(ValueError, match="8 points are too few for 23 unknowns"):
        linear_test(frequency, np.ones(8) + 0j, time_constants=20)
    assert fewest_points(frequency) == 17


def test_real_coin_cells_have_the_sign_of_physics():
    """Real spectra obey the relations with the column read as MINUS Z'', and not otherwise.

    Data: Zhang et al., Nat. Commun. 11 (2020) 1706, coin cells of 45 mAh.
    """
    if not REAL.is_dir():
        pytest.skip("the folder of real data is not beside the project")
    frequency = np.loadtxt(REAL / "coin-cell-impedance-frequencies.csv")
    table = np.loadtxt(REAL / "coin-cell-impedance-wide.csv", delimiter=",", skiprows=1)
    for row in table[::40]:
        real, minus_imaginary = row[4:64], row[64:124]
        right = linear_test(frequency, real - 1j * minus_imaginary)
        wrong = linear_test(frequency, real + 1j * minus_imaginary)
        assert right.rms_percent < 0.5
        assert wrong.rms_percent > 5.0
