"""Elements of a model written out: one entry each, all that the fit and the settings know of it.

Convention: Z = Z' + jZ'', a capacitive arc has Z'' < 0. With w = 2 pi f, the constant phase
element is Z = 1/(Q (jw)^n), Q in S s^n; another definition in use, 1/(Q jw)^n, has another Q.

References
----------
Definitions as in `trivet.science.circuit.closed_forms`; the slopes are own derivations, checked
against finite differences. With x = sqrt(jw tau): d(coth x/x)/dln tau = -(coth x/x + 1/sinh^2 x)/2,
and d(tanh x/x)/dln tau = (1/cosh^2 x - tanh x/x)/2.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trivet.science.circuit.model import (
    EXPONENT_SPAN,
    RESISTANCE_SPAN,
    SMALLEST_SHARE,
    Complex,
    Floats,
    Grid,
    Guess,
)

DIFFUSION_REACH = 100.0
"""Diffusion may be this many times slower than the slowest angular frequency."""


@dataclass(frozen=True)
class Element:
    """An element.

    Attributes
    ----------
    label : str
        Its sign in the label of a circuit.
    names : tuple of str
        Names of its parameters with their units, with a place for its number.
    kinds : tuple of str
        Kind of each parameter, by which `spans` and `proposed` know its bounds and its start.
    evaluate : callable
        Impedance, shape (N,), and its slopes, shape (p, N), by the parameters as they are fitted:
        logarithms but for exponents; from frequencies and the parameters in their units [ohm].
    direct_share : float
        Share of its first parameter that it is to direct current, diffusion left out [1].
    blocks : bool
        Whether it lets no direct current through.
    diffuses : bool
        Whether it is a diffusion tail.
    starts_at_time : bool
        Whether a start must give it a time constant of its own.
    """

    label: str
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    evaluate: Callable[[Grid, Floats], tuple[Complex, Complex]]
    direct_share: float = 0.0
    blocks: bool = False
    diffuses: bool = False
    starts_at_time: bool = False


def _resistor(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R."""
    impedance = np.full(len(grid.logarithm), own[0], dtype=np.complex128)
    return impedance, impedance[None, :]


def _capacitor(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """1/(jwC)."""
    impedance = 1 / (own[0] * grid.laplace_rad_s)
    return impedance, -impedance[None, :]


def _inductor(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """The inductance times jw."""
    impedance = own[0] * grid.laplace_rad_s
    return impedance, impedance[None, :]


def _constant_phase(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """1/(Q (jw)^n)."""
    impedance = np.exp(-own[1] * grid.logarithm) / own[0]
    return impedance, np.stack([-impedance, -impedance * grid.logarithm])


def _arc(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R/(1 + (jw tau)^n)."""
    logarithm = grid.logarithm + np.log(own[1])
    share = 1 / (1 + np.exp(own[2] * logarithm))
    impedance = own[0] * share
    falling = impedance * (share - 1)
    return impedance, np.stack([impedance, falling * own[2], falling * logarithm])


def _warburg(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """The coefficient times (1 - j)/sqrt(w)."""
    impedance = own[0] * grid.diffusion
    return impedance, impedance[None, :]


def _warburg_open(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R coth(x)/x."""
    root = np.sqrt(grid.laplace_rad_s * own[1])
    hyperbolic = 1 / np.tanh(root)
    impedance = own[0] * hyperbolic / root
    slope = -0.5 * (impedance + own[0] * (hyperbolic**2 - 1))
    return impedance, np.stack([impedance, slope])


def _warburg_short(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R tanh(x)/x."""
    root = np.sqrt(grid.laplace_rad_s * own[1])
    hyperbolic = np.tanh(root)
    impedance = own[0] * hyperbolic / root
    return impedance, np.stack([impedance, 0.5 * (own[0] * (1 - hyperbolic**2) - impedance)])


def _gerischer(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R/sqrt(1 + jw tau)."""
    product = grid.laplace_rad_s * own[1]
    impedance = own[0] / np.sqrt(1 + product)
    return impedance, np.stack([impedance, -0.5 * impedance * product / (1 + product)])


ELEMENTS: dict[str, Element] = {
    "resistor": Element("R", ("R{}_ohm",), ("R",), _resistor, direct_share=1.0),
    "capacitor": Element("C", ("C{}_F",), ("C",), _capacitor, blocks=True, starts_at_time=True),
    "inductor": Element("L", ("L{}_H",), ("L",), _inductor),
    "constant phase": Element(
        "CPE",
        ("Q{}_S_s_n", "n{}"),
        ("Q", "n"),
        _constant_phase,
        blocks=True,
        starts_at_time=True,
    ),
    "arc": Element(
        "ZARC",
        ("R{}_ohm", "tau{}_s", "n{}"),
        ("R", "tau", "n"),
        _arc,
        direct_share=1.0,
        starts_at_time=True,
    ),
    "warburg": Element("W", ("sigma{}_ohm_per_root_s",), ("sigma",), _warburg, diffuses=True),
    "warburg open": Element(
        "W open", ("R{}_ohm", "tau{}_s"), ("R", "slow"), _warburg_open, diffuses=True
    ),
    "warburg short": Element(
        "W short", ("R{}_ohm", "tau{}_s"), ("R", "slow"), _warburg_short, diffuses=True
    ),
    "gerischer": Element(
        "G",
        ("R{}_ohm", "tau{}_s"),
        ("R", "tau"),
        _gerischer,
        direct_share=1.0,
        starts_at_time=True,
    ),
    "porous line": Element("porous", ("R{}_ohm",), ("R",), _resistor),
}
"""Elements by the name they have in the settings; a porous line is put together by `porous`."""


def spans(frequency_Hz: Floats, impedance_ohm: Complex) -> dict[str, tuple[float, float]]:
    """Lowest and highest value of parameters by kind, in their units.

    Parameters
    ----------
    frequency_Hz, impedance_ohm : numpy.ndarray
        The spectrum, shape (N,) each [Hz, ohm].
    """
    angular = 2 * np.pi * frequency_Hz
    size = float(np.max(np.abs(impedance_ohm)))
    fastest, slowest = max(float(np.max(angular)), 1.0), min(float(np.min(angular)), 1.0)
    largest = RESISTANCE_SPAN[1] * size
    storing = (1 / (largest * fastest), 1 / (SMALLEST_SHARE * size * slowest))
    return {
        "R": (RESISTANCE_SPAN[0] * size, largest),
        "tau": (1 / (2 * float(np.max(angular))), 2 / float(np.min(angular))),
        "slow": (1 / (2 * float(np.max(angular))), DIFFUSION_REACH / float(np.min(angular))),
        "n": EXPONENT_SPAN,
        "L": (SMALLEST_SHARE * size / fastest, largest / fastest),
        "C": storing,
        "Q": storing,
        "sigma": (SMALLEST_SHARE * size * slowest, largest * fastest),
    }


def proposed(
    guess: Guess, *, resistance_ohm: float, width_ohm: float, time_s: float, tail: bool
) -> dict[str, float]:
    """Values of parameters by kind to start from, in their units.

    Parameters
    ----------
    guess : Guess
        What the data propose.
    resistance_ohm, width_ohm : float
        The element's resistance, and the width of an arc [ohm].
    time_s : float
        Its time constant [s].
    tail : bool
        Whether it blocks the outermost series, and stands for diffusion.
    """
    charge = 0.7 / guess.sigma_ohm_per_root_s if tail else time_s**0.8 / width_ohm
    return {
        "R": resistance_ohm,
        "tau": time_s,
        "slow": time_s,
        "n": 0.5 if tail else 0.8,
        "L": guess.inductance_H,
        "C": charge if tail else time_s / width_ohm,
        "Q": charge,
        "sigma": guess.sigma_ohm_per_root_s,
    }
