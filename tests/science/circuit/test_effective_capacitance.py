"""Effective capacitances against printed digits; identifiability of two arcs against bounds."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.effective_capacitance import (
    arc_capacitance_F,
    effective_capacitances_F,
    widest_arc,
)
from trivet.science.circuit.fit import fit_circuit

FREQUENCY = np.geomspace(1e5, 1e-2, 60)


@pytest.mark.parametrize(
    ("admittance", "exponent", "ohmic", "width", "hsu_mansfeld", "brug"),
    [
        (2e-5, 0.9, 4, 100, 1.00263864474e-5, 6.98112121343e-6),
        (1e-3, 0.8, 5, 40, 4.472135955e-4, 2.58198889747e-4),
    ],
)
def test_digits_of_both_formulas(admittance, exponent, ohmic, width, hsu_mansfeld, brug):
    """Check values P1.2: tau/R, and Q^(1/n) (1/R0 + 1/R1)^((n-1)/n), to the printed digits."""
    tau = (width * admittance) ** (1 / exponent)
    arc = {"resistance_ohm": width, "time_constant_s": tau, "exponent": exponent}
    assert arc_capacitance_F(**arc, ohmic_ohm=None) == pytest.approx(hsu_mansfeld, rel=1e-11)
    assert arc_capacitance_F(**arc, ohmic_ohm=ohmic) == pytest.approx(brug, rel=1e-11)


def test_capacitance_of_every_arc_by_name():
    """An ideal half circle has C = tau/R by either formula; the widest arc is named."""
    circuit = Circuit(2, "none", False)
    truth = np.array([4.0, 15.0, 1e-4, 0.99, 30.0, 3e-2, 0.99])
    found = fit_circuit(FREQUENCY, circuit.impedance(FREQUENCY, truth), circuit=circuit)
    capacitances = effective_capacitances_F(found, formula="Hsu-Mansfeld")
    assert capacitances == pytest.approx({"C1": 1e-4 / 15, "C2": 1e-3}, rel=1e-6)
    assert widest_arc(found) == "C2"
    brug = effective_capacitances_F(found, formula="Brug")
    assert brug["C2"] == pytest.approx(1e-3 * (4 / 34) ** (0.01 / 0.99), rel=1e-6)


# Table A6 of the check values on impedance (Cramer-Rao, 60 points, 1 % rms of |Z|, R0 4,
# tau1 2e-4 s, n 0.8, sigma 3): ratio, R1, R2, errors of R1, R2 and of the sum in percent.
TABLE = [
    (3, 22.5, 22.5, 50, 50, 0.21),
    (5, 22.5, 22.5, 16, 16, 0.21),
    (10, 22.5, 22.5, 5.4, 5.6, 0.22),
    (10, 5, 40, 19, 2.5, 0.22),
    (30, 22.5, 22.5, 1.8, 2.0, 0.25),
    (30, 5, 40, 5.6, 0.8, 0.24),
    (100, 22.5, 22.5, 0.8, 1.2, 0.29),
    (100, 5, 40, 2.2, 0.5, 0.28),
]
TWO_ARCS = Circuit(2, "warburg", False)


@pytest.mark.parametrize(("ratio", "first", "second", "se_1", "se_2", "se_sum"), TABLE)
def test_recovery_and_identifiability(ratio, first, second, se_1, se_2, se_sum):
    """Simulated fits scatter as the bounds of table A6; splits they refuse are the bad ones.

    24 spectra: a scatter is known to 3/sqrt(48) = 43 %. The sum stays within 1 % everywhere. Where
    the ratio is 3 or 5 every split is refused; at 30 and more with both widths known, none is.
    """
    truth = np.array([4, first, 2e-4, 0.8, second, 2e-4 * ratio, 0.8, 3], dtype=float)
    clean = TWO_ARCS.impedance(FREQUENCY, truth)
    errors, refused = [], []
    for seed in range(24):
        parts = np.random.default_rng(seed).standard_normal((2, 60))
        noisy = clean + 0.01 / np.sqrt(2) * np.abs(clean) * (parts[0] + 1j * parts[1])
        found = fit_circuit(FREQUENCY, noisy, circuit=TWO_ARCS, starts=3, known_starts=[truth])
        values = (
            found.value("R1_ohm") / first - 1,
            found.value("R2_ohm") / second - 1,
            found.polarisation_resistance_ohm / (first + second) - 1,
        )
        errors.append(values)
        refused.append(bool(found.split_refused))
    scatter = 100 * np.sqrt(np.mean(np.square(errors), axis=0))
    assert np.max(np.abs(np.array(errors)[:, 2])) < 0.01
    assert scatter[2] == pytest.approx(se_sum, rel=0.45)
    if ratio >= 10:
        assert scatter[0] == pytest.approx(se_1, rel=0.45)
        assert scatter[1] == pytest.approx(se_2, rel=0.45)
    if ratio < 10:
        assert all(refused)
    if ratio >= 30 and max(se_1, se_2) < 3:
        assert not any(refused)
