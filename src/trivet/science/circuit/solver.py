"""Least squares of one circuit on one spectrum: starting points, minimum within bounds.

References
----------
B. A. Boukamp, Solid State Ionics 20 (1986) 31 (complex least squares, analytic derivatives).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, leastsq

from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.batch import follow
from trivet.science.circuit.model import Grid, Guess, Model

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

GOLDEN = (5**0.5 - 1) / 2
"""Steps of this share of a turn fill an interval evenly, at any number of them."""
ROUGH, FINE = 1e-4, 1e-12
"""Relative tolerances: of every start, and of the best end."""
ROUGH_GAIN = 3e-3
"""Starts followed together end where a step gains less of the sum of squares."""


class Problem:
    """One spectrum and one circuit, in the scaling of the fit."""

    def __init__(self, frequency_Hz: Floats, impedance_ohm: Complex, circuit: Model) -> None:
        order = np.argsort(-frequency_Hz, kind="stable")
        self.circuit = circuit
        self.grid = Grid(frequency_Hz[order])
        self.impedance = np.asarray(impedance_ohm[order], dtype=complex)
        self.weight = 1 / np.abs(self.impedance)
        self.low, self.high = circuit.bounds(frequency_Hz, impedance_ohm)
        self._last: tuple[bytes, Floats, Floats] | None = None

    def evaluate(self, inner: Floats) -> tuple[Floats, Floats]:
        """Relative residuals, real and imaginary parts by turns, and slopes, (2N,), (p, 2N) [1].

        The last place is kept, since the solver asks for both there.
        """
        key = inner.tobytes()
        if self._last is None or self._last[0] != key:
            model, slopes = self.circuit.impedance_and_slopes(self.grid, inner)
            misfit = (model - self.impedance) * self.weight
            slopes *= self.weight
            self._last = (
                key,
                misfit.view(np.float64),
                slopes.view(np.float64),
            )
        return self._last[1], self._last[2]

    def cost(self, inner: Floats) -> float:
        """Sum of squared relative residuals [1]."""
        residuals = self.evaluate(inner)[0]
        return float(residuals @ residuals)

    def is_inside(self, inner: Floats) -> bool:
        """Whether every parameter is within its bounds."""
        return bool(np.all((inner >= self.low) & (inner <= self.high)))

    def start(self, number: int) -> Floats:
        """Give starting point `number`: widths from the data, peaks by a golden sequence."""
        guess, share = self._proposed
        angular = self.grid.laplace_rad_s.imag
        places = np.searchsorted(share, _quantiles(self.circuit.slots, number))
        times = 1 / angular[np.minimum(places, len(angular) - 1)]
        chosen = replace(guess, time_constants_s=tuple(times.tolist()))
        return self.circuit.inner(self.circuit.start(chosen))

    @cached_property
    def _proposed(self) -> tuple[Guess, Floats]:
        """Widths that the data propose, and the share of the area under -Z'' up to each point."""
        angular, real = self.grid.laplace_rad_s.imag, self.impedance.real
        capacitive = np.flatnonzero(self.impedance.imag < 0)
        early = real[capacitive[:3]] if len(capacitive) else real[:3]
        ohmic = 0.9 * max(float(np.min(early)), 1e-3 * float(np.max(np.abs(real))))
        sigma = max(float(np.mean(-self.impedance.imag[-4:] * np.sqrt(angular[-4:]))), 1e-9)
        tail = (sigma if self.circuit.has_tail else 0.0) / np.sqrt(angular)
        width = max(float(np.max(real - tail)) - ohmic, 0.05 * float(np.max(real)))
        share = np.cumsum(np.maximum(-self.impedance.imag - tail, 1e-12))
        guess = Guess(
            ohmic_ohm=ohmic,
            width_ohm=width,
            inductance_H=max(float(self.impedance.imag[0]), 1e-3 * ohmic) / float(angular[0]),
            sigma_ohm_per_root_s=sigma,
            time_constants_s=(),
            slowest_s=1 / float(angular[-1]),
        )
        return guess, share / share[-1]

    def follow(self, starts: Floats) -> tuple[Floats, Floats]:
        """Follow starts, shape (S, p), roughly; give their ends and sums of squares, shape (S,)."""
        if isinstance(self.circuit, Circuit):
            return follow(
                self.circuit,
                self.grid,
                starts,
                impedance_ohm=self.impedance,
                weight=self.weight,
                tolerance=ROUGH_GAIN,
            )
        ends = np.array([self.free_minimum(start, tolerance=ROUGH) for start in starts])
        return ends, np.array([self.cost(end) for end in ends])

    def free_minimum(
        self, start: Floats, *, tolerance: float, free: NDArray[np.bool_] | None = None
    ) -> Floats:
        """Find the minimum without bounds, over the free parameters only (Marquardt)."""
        moving = np.ones(len(start), dtype=bool) if free is None else free
        place = start.copy()

        def at(values: Floats) -> Floats:
            place[moving] = values
            return place

        def misfit(values: Floats) -> Floats:
            return self.evaluate(at(values))[0]

        def slopes(values: Floats) -> Floats:
            return self.evaluate(at(values))[1][moving]

        found, *_ = leastsq(
            misfit,
            start[moving],
            Dfun=slopes,
            col_deriv=True,
            full_output=True,
            ftol=tolerance,
            xtol=tolerance,
            gtol=0.0,
            maxfev=40 if tolerance > FINE else 200,
        )
        return at(found).copy()

    def minimum(self, start: Floats) -> Floats:
        """Find the minimum within the bounds: parameters that leave them are held there.

        Where one that is held would rather come back, a solver with bounds finishes.
        """
        free = np.ones(len(start), dtype=bool)
        place = start
        while True:
            place = self.free_minimum(place, tolerance=FINE, free=free)
            outside = (place < self.low) | (place > self.high)
            if not np.any(outside):
                break
            place = np.clip(place, self.low, self.high)
            free &= ~outside
            if not np.any(free):
                break
        residuals, slopes = self.evaluate(place)
        gradient = slopes @ residuals
        inward = np.where(place <= self.low, -gradient, gradient)
        if np.any(~free & (inward > 1e-9)):
            return self._bounded_minimum(place)
        return place

    def _bounded_minimum(self, start: Floats) -> Floats:
        """Find the minimum within the bounds by a trust-region solver (slower)."""
        margin = 1e-3 * (self.high - self.low)

        def misfit(inner: Floats) -> Floats:
            return self.evaluate(inner)[0]

        def slopes(inner: Floats) -> Floats:
            return self.evaluate(inner)[1].T

        found = least_squares(
            misfit,
            np.clip(start, self.low + margin, self.high - margin),
            jac=slopes,
            bounds=(self.low, self.high),
            xtol=1e-10,
            ftol=1e-10,
            max_nfev=100,
        )
        return np.asarray(found.x)


def _quantiles(arcs: int, number: int) -> list[float]:
    """Where the arcs of a start peak, as shares of the area under -Z'' over ln w."""
    if number == 0:
        known = {1: [0.5], 2: [0.2, 0.75], 3: [0.1, 0.4, 0.8]}
        return known.get(arcs, [(arc + 0.5) / arcs for arc in range(arcs)])
    return sorted((number * GOLDEN + arc / arcs) % 1 for arc in range(arcs))
