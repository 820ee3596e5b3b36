"""What the fit needs of a model, whether chosen by the data or written out by the user."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Flags = NDArray[np.bool_]

EXPONENT_SPAN = (0.4, 1.0)
"""Exponents of arcs stay within; common practice, no source."""
RESISTANCE_SPAN = (1e-4, 1e3)
"""Resistances stay within these multiples of the largest |Z|."""
SMALLEST_SHARE = 1e-6
"""An inductance or a tail stays above this share of |Z| where it matters most."""
FARTHEST = 60.0
"""Fitted logarithms are cut here, so that a wandering solver meets no infinity."""


def laplace(frequency_Hz: ArrayLike) -> Complex:
    """Give jw = 2 pi j f.

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies, positive and finite [Hz].

    Returns
    -------
    numpy.ndarray
        Imaginary angular frequency [rad/s].

    Raises
    ------
    ValueError
        A frequency is not a positive number; at zero frequency most elements have no value.
    """
    frequency = np.asarray(frequency_Hz, dtype=np.float64)
    if not np.all(np.isfinite(frequency) & (frequency > 0)):
        raise ValueError("frequencies must be positive and finite [Hz]")
    return np.asarray(2j * np.pi * frequency, dtype=np.complex128)


class Grid:
    """Frequencies with what every evaluation needs of them.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    """

    def __init__(self, frequency_Hz: Floats) -> None:
        self.laplace_rad_s = laplace(frequency_Hz)
        self.logarithm = np.log(self.laplace_rad_s)
        self.diffusion = (1 - 1j) / np.sqrt(self.laplace_rad_s.imag)


@dataclass(frozen=True)
class Guess:
    """What the data propose as a start.

    Attributes
    ----------
    ohmic_ohm, width_ohm : float
        Ohmic resistance, and the width of all arcs together [ohm].
    inductance_H : float
        Lead inductance [H].
    sigma_ohm_per_root_s : float
        Coefficient of a diffusion tail [ohm s^-1/2].
    time_constants_s : tuple of float
        One for every arc, rising or falling as they are to be tried [s].
    slowest_s : float
        Longest time constant that the sweep sees [s].
    """

    ohmic_ohm: float
    width_ohm: float
    inductance_H: float
    sigma_ohm_per_root_s: float
    time_constants_s: tuple[float, ...]
    slowest_s: float


class Model(Protocol):
    """A circuit with parameters; all but the exponents are fitted as logarithms."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters with their units, in order."""

    @property
    def logarithmic(self) -> Flags:
        """Which parameters are fitted as logarithms, shape (p,)."""

    @property
    def label(self) -> str:
        """The circuit in words of the report."""

    @property
    def arc_places(self) -> tuple[int, ...]:
        """Position of the width of every arc that stands in series; two more follow each."""

    @property
    def slots(self) -> int:
        """Time constants that a start must place."""

    @property
    def has_tail(self) -> bool:
        """Whether there is a diffusion tail."""

    def inner(self, parameters: Floats) -> Floats:
        """Parameters as fitted, shape (p,)."""

    def outer(self, inner: Floats) -> Floats:
        """Parameters in their units, shape (p,)."""

    def impedance_and_slopes(self, grid: Grid, inner: Floats) -> tuple[Complex, Complex]:
        """Impedance, shape (N,), and its derivatives by the fitted parameters, shape (p, N)."""

    def impedance(self, frequency_Hz: Floats, parameters: Floats) -> Complex:
        """Impedance at frequencies, shape (N,) [ohm]."""

    def bounds(self, frequency_Hz: Floats, impedance_ohm: Complex) -> tuple[Floats, Floats]:
        """Lowest and highest value of each fitted parameter, shape (p,) each."""

    def start(self, guess: Guess) -> Floats:
        """Parameters to start from, in their units, shape (p,)."""

    def polarisation(self, parameters: Floats) -> tuple[float, Floats]:
        """Resistance of all but the ohmic part and diffusion, and its slopes by the fitted."""


def cut(inner: Floats) -> Floats:
    """Fitted parameters within what the exponential function can take.

    Parameters
    ----------
    inner : numpy.ndarray
        Parameters as fitted.
    """
    return np.minimum(np.maximum(inner, -FARTHEST), FARTHEST)
