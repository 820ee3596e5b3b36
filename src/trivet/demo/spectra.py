"""Impedance of the invented cells: closed forms with a little noise.

Each electrode is a lead inductance, an ohmic resistance, two depressed arcs and a semi-infinite
diffusion tail in series. The cell is the sum of its electrodes before noise is added.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.demo.cycler import CheckUp
from trivet.demo.misplaced_mesh import misread_ohm
from trivet.demo.physics import Resistances
from trivet.demo.plan import CellPlan
from trivet.schema.tables.impedance import PAIRS

FREQUENCIES_HZ = np.geomspace(1e5, 2e-2, 48)
NOISE = 0.002
"""Standard deviation of each part of the impedance, as a share of its modulus."""


@dataclass(frozen=True)
class Shape:
    """What gives the spectrum of an electrode its shape, beside its resistances.

    Attributes
    ----------
    inductance_H : float
        Inductance of the lead [H].
    time_constants_s : tuple of float
        Time constants of the two arcs [s], a hundred apart.
    exponents : tuple of float
        Their exponents [1].
    diffusion_ohm_s : float
        Coefficient of the diffusion tail [ohm s^-1/2].
    """

    inductance_H: float
    time_constants_s: tuple[float, float]
    exponents: tuple[float, float]
    diffusion_ohm_s: float


POSITIVE_SHAPE = Shape(4.0e-7, (1.3e-4, 1.3e-2), (0.86, 0.82), 1.2)
NEGATIVE_SHAPE = Shape(3.0e-7, (1.6e-4, 1.6e-2), (0.86, 0.82), 0.8)


def electrode_impedance_ohm(
    frequency_Hz: np.ndarray, *, resistances: Resistances, shape: Shape
) -> np.ndarray:
    """Impedance of one electrode.

    Parameters
    ----------
    frequency_Hz : ndarray, shape (n_points,)
        Frequencies [Hz].
    resistances : Resistances
        Ohmic resistance and the two arcs.
    shape : Shape
        The rest.

    Returns
    -------
    ndarray of complex, shape (n_points,)
        Impedance [ohm]; a capacitive imaginary part is negative.

    References
    ----------
    E. Barsoukov, J. R. Macdonald, Impedance Spectroscopy (elements; from memory): an arc is
    R / (1 + (j w tau)^n), semi-infinite diffusion sigma (1 - j) / sqrt(w).
    """
    angular = 2.0 * np.pi * frequency_Hz
    total = resistances.ohmic_ohm + 1j * angular * shape.inductance_H
    arcs = (resistances.first_arc_ohm, resistances.second_arc_ohm)
    for arc_ohm, constant_s, exponent in zip(
        arcs, shape.time_constants_s, shape.exponents, strict=True
    ):
        total = total + arc_ohm / (1.0 + (1j * angular * constant_s) ** exponent)
    return np.asarray(total + shape.diffusion_ohm_s * (1.0 - 1j) / np.sqrt(angular))


def exact_spectra_ohm(check_up: CheckUp) -> dict[str, np.ndarray]:
    """Spectra of cell, positive and negative without noise [ohm], by pair."""
    positive = electrode_impedance_ohm(
        FREQUENCIES_HZ, resistances=check_up.positive, shape=POSITIVE_SHAPE
    )
    negative = electrode_impedance_ohm(
        FREQUENCIES_HZ, resistances=check_up.negative, shape=NEGATIVE_SHAPE
    )
    return {"cell": positive + negative, "positive": positive, "negative": negative}


def ohmic_impedance_ohm(check_up: CheckUp) -> np.ndarray:
    """What of the negative is electrolyte, contact and lead, and no interface [ohm]."""
    angular = 2.0 * np.pi * FREQUENCIES_HZ
    lead = 1j * angular * NEGATIVE_SHAPE.inductance_H
    return np.asarray(check_up.negative.ohmic_ohm + lead)


def measured_spectra_ohm(plan: CellPlan, *, check_up: CheckUp) -> dict[str, np.ndarray]:
    """Spectra as the instrument gives them [ohm], by the pair that the instrument believes in.

    A mesh off the middle gives one electrode what it takes from the other. Exchanged leads exchange
    positive and negative. The noise depends on cell and cycle alone.
    """
    exact = exact_spectra_ohm(check_up)
    if plan.role.mesh_offset_mm:
        read_ohm = misread_ohm(
            exact["negative"],
            interface_ohm=exact["negative"] - ohmic_impedance_ohm(check_up),
            offset_mm=plan.role.mesh_offset_mm,
        )
        exact["positive"] = exact["positive"] + read_ohm
        exact["negative"] = exact["negative"] - read_ohm
    if plan.role.swapped:
        exact["positive"], exact["negative"] = exact["negative"], exact["positive"]
    random = plan.random(1000 + check_up.cycle)
    measured = {}
    for pair in PAIRS:
        noise = random.standard_normal((2, FREQUENCIES_HZ.size))
        measured[pair] = exact[pair] + NOISE * np.abs(exact[pair]) * (noise[0] + 1j * noise[1])
    return measured
