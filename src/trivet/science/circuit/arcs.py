"""The circuit that is fitted to a spectrum: [L] + R0 + depressed arcs + [diffusion tail].

Resistances, time constants, inductance and size of the tail are fitted as logarithms, which
keeps them positive and evenly scaled; the exponents as they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from trivet.science.circuit.model import (
    EXPONENT_SPAN,
    RESISTANCE_SPAN,
    SMALLEST_SHARE,
    Complex,
    Floats,
    Grid,
    Guess,
    cut,
)

Tail = Literal["none", "warburg", "free"]

TAIL_EXPONENT_SPAN = (0.3, 0.9)
"""The exponent of a free tail stays within; 0.5 is plain diffusion."""


@dataclass(frozen=True)
class Circuit:
    """Which elements there are.

    Attributes
    ----------
    arcs : int
        Depressed arcs, R/(1 + (jw tau)^n) each.
    tail : Tail
        `none`; `warburg`, sigma (1 - j)/sqrt(w); `free`, A (jw)^-m, for a cell in which the
        tails of two electrodes overlap. A is the size at 1 rad/s.
    inductance : bool
        Whether there is a lead inductance, jwL.
    """

    arcs: int
    tail: Tail
    inductance: bool

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters with their units, in order."""
        arcs = [
            name
            for arc in range(1, self.arcs + 1)
            for name in (f"R{arc}_ohm", f"tau{arc}_s", f"n{arc}")
        ]
        first = ["L_H"] if self.inductance else []
        tails = {
            "none": [],
            "warburg": ["sigma_ohm_per_root_s"],
            "free": ["tail_ohm", "tail_exponent"],
        }
        return (*first, "R0_ohm", *arcs, *tails[self.tail])

    @cached_property
    def logarithmic(self) -> NDArray[np.bool_]:
        """Which parameters are fitted as logarithms, shape (p,)."""
        return np.array([name[0] != "n" and name != "tail_exponent" for name in self.names])

    @cached_property
    def first_arc(self) -> int:
        """Position of R1; three parameters an arc follow from there."""
        return 2 if self.inductance else 1

    @property
    def arc_places(self) -> tuple[int, ...]:
        """Position of the width of every arc; time constant and exponent follow it."""
        return tuple(range(self.first_arc, self.first_arc + 3 * self.arcs, 3))

    @property
    def slots(self) -> int:
        """Time constants that a start must place."""
        return self.arcs

    @property
    def has_tail(self) -> bool:
        """Whether there is a diffusion tail."""
        return self.tail != "none"

    @property
    def label(self) -> str:
        """The circuit in words of the report, e.g. `L + R0 + ZARC + W`."""
        tails = {"none": [], "warburg": ["W"], "free": ["CPE"]}
        first = ["L"] if self.inductance else []
        return " + ".join([*first, "R0", *["ZARC"] * self.arcs, *tails[self.tail]])

    def inner(self, parameters: Floats) -> Floats:
        """Parameters as fitted: logarithms but for the exponents, shape (p,)."""
        values = np.array(parameters, dtype=np.float64)
        values[self.logarithmic] = np.log(values[self.logarithmic])
        return values

    def outer(self, inner: Floats) -> Floats:
        """Parameters in their units from those fitted, shape (p,)."""
        return np.where(self.logarithmic, np.exp(cut(inner)), inner)

    def impedance_and_slopes(self, grid: Grid, inner: Floats) -> tuple[Complex, Complex]:
        """Impedance and its derivatives by the fitted parameters.

        Parameters
        ----------
        grid : Grid
            The frequencies, N of them.
        inner : numpy.ndarray
            Parameters as fitted, shape (p,).

        Returns
        -------
        tuple of numpy.ndarray
            Impedance, shape (N,) [ohm]; derivatives, shape (p, N) [ohm].

        References
        ----------
        With u = (jw tau)^n: dZ/dlnR = R/(1 + u), dZ/dlntau = -R n u/(1 + u)^2,
        dZ/dn = -R u ln(jw tau)/(1 + u)^2; own derivation, checked against finite differences.
        """
        bounded = cut(inner)
        sizes = np.exp(bounded)
        slopes = np.empty((len(inner), len(grid.logarithm)), dtype=complex)
        first = self.first_arc
        if self.inductance:
            slopes[0] = sizes[0] * grid.laplace_rad_s
        slopes[first - 1] = sizes[first - 1]
        total = slopes[0] + slopes[1] if self.inductance else slopes[0].copy()
        for at in range(first, first + 3 * self.arcs, 3):
            exponent = min(max(float(inner[at + 2]), -2.0), 2.0)
            logarithm = grid.logarithm + bounded[at + 1]
            share = 1 / (1 + np.exp(exponent * logarithm))
            arc = sizes[at] * share
            falling = arc * (share - 1)
            slopes[at] = arc
            slopes[at + 1] = falling * exponent
            slopes[at + 2] = falling * logarithm
            total += arc
        if self.tail == "warburg":
            slopes[-1] = sizes[-1] * grid.diffusion
            total += slopes[-1]
        elif self.tail == "free":
            exponent = min(max(float(inner[-1]), -2.0), 2.0)
            slopes[-2] = sizes[-2] * np.exp(-exponent * grid.logarithm)
            slopes[-1] = -slopes[-2] * grid.logarithm
            total += slopes[-2]
        return total, slopes

    def impedance(self, frequency_Hz: Floats, parameters: Floats) -> Complex:
        """Impedance at frequencies, shape (N,) [ohm].

        Parameters
        ----------
        frequency_Hz : numpy.ndarray
            Frequencies, shape (N,) [Hz].
        parameters : numpy.ndarray
            Parameters in their units, shape (p,).
        """
        return self.impedance_and_slopes(Grid(frequency_Hz), self.inner(parameters))[0]

    def bounds(self, frequency_Hz: Floats, impedance_ohm: Complex) -> tuple[Floats, Floats]:
        """Lowest and highest value of each fitted parameter, shape (p,) each.

        Parameters
        ----------
        frequency_Hz : numpy.ndarray
            Frequencies, shape (N,); time constants stay within 1/(2 w_max) and 2/w_min [Hz].
        impedance_ohm : numpy.ndarray
            Measured impedance, shape (N,) [ohm].
        """
        angular = 2 * np.pi * frequency_Hz
        size = float(np.max(np.abs(impedance_ohm)))
        fastest, slowest = float(np.max(angular)), float(np.min(angular))
        tail = (SMALLEST_SHARE * size * min(slowest, 1.0), RESISTANCE_SPAN[1] * size * fastest)
        spans = {
            "R": (RESISTANCE_SPAN[0] * size, RESISTANCE_SPAN[1] * size),
            "tau": (1 / (2 * fastest), 2 / slowest),
            "n": EXPONENT_SPAN,
            "L": (SMALLEST_SHARE * size / fastest, RESISTANCE_SPAN[1] * size / fastest),
            "sigma": tail,
            "tail": tail,
            "exponent": TAIL_EXPONENT_SPAN,
        }
        kinds = [name.split("_")[0].rstrip("0123456789") for name in self.names]
        kinds = [
            "exponent" if n == "tail_exponent" else k
            for n, k in zip(self.names, kinds, strict=True)
        ]
        low, high = zip(*(spans[kind] for kind in kinds), strict=True)
        return self.inner(np.array(low)), self.inner(np.array(high))

    def start(self, guess: Guess) -> Floats:
        """Parameters to start from, in their units, shape (p,)."""
        values = [guess.inductance_H] if self.inductance else []
        values.append(guess.ohmic_ohm)
        for time_constant in guess.time_constants_s:
            values += [guess.width_ohm / self.arcs, time_constant, 0.8]
        sigma = guess.sigma_ohm_per_root_s
        return np.array(values + {"none": [], "warburg": [sigma], "free": [sigma, 0.5]}[self.tail])

    def polarisation(self, parameters: Floats) -> tuple[float, Floats]:
        """Sum of the arcs [ohm], and its slopes by the fitted parameters, shape (p,)."""
        slopes = np.zeros(len(parameters))
        places = list(self.arc_places)
        slopes[places] = parameters[places]
        return float(np.sum(parameters[places])), slopes
