"""Distribution of relaxation times: regularised, never negative, with areas and not heights.

Z(w) = R0 + j w L + tail + sum of g(ln tau) / (1 + j w tau) d ln tau. The height of a peak depends
on the regularisation, its area (a resistance) and its position hardly do.

References
----------
A. L. Gavrilyuk, D. A. Osinkin, D. I. Bronin, arXiv:1309.4498 (non-negative least squares, choice
of the regularisation). B. A. Boukamp, J. Phys. Energy 2 (2020) 042001 (inversions differ).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

POINTS_A_DECADE = 10
"""Time constants a decade; common practice, no source."""
LADDER: tuple[float, ...] = tuple(float(value) for value in 10.0 ** np.arange(-6.0, 0.1, 0.5))
"""Regularisations tried, from the weakest [1]."""
MISFIT_ALLOWED = 1.1
"""The strongest whose misfit is within this ratio of the noise is taken."""
ROUNDING = 1e-4
"""Relative misfits below this are not told apart [1]."""
SMALLEST_SHARE = 0.05
"""A peak with less than this share of the total joins its neighbour; common practice, no source."""
VALLEY = 0.05
"""Two peaks are two where the curve between falls by this share of the lower one."""


@dataclass(frozen=True)
class Peak:
    """A process as the distribution shows it.

    Attributes
    ----------
    resistance_ohm : float
        Area between the valleys beside it [ohm].
    time_constant_s : float
        Where it is highest, by a parabola through three points [s].
    from_s, to_s : float
        The valleys [s].
    """

    resistance_ohm: float
    time_constant_s: float
    from_s: float
    to_s: float


@dataclass(frozen=True)
class Distribution:
    """A distribution of relaxation times.

    Attributes
    ----------
    time_constant_s : numpy.ndarray
        Time constants, shape (K,) [s].
    density_ohm : numpy.ndarray
        Resistance per unit of ln tau, shape (K,) [ohm].
    ohmic_ohm, inductance_H, tail : float
        Series resistance [ohm], inductance [H], size of the tail at 1 rad/s [ohm].
    regularisation : float
        The one used [1].
    rms_percent : float
        Root mean square of the 2N parts of the relative residuals [%].
    peaks : tuple of Peak
        In order of time constant.
    """

    time_constant_s: Floats
    density_ohm: Floats
    ohmic_ohm: float
    inductance_H: float
    tail: float
    regularisation: float
    rms_percent: float
    peaks: tuple[Peak, ...]

    @property
    def resistance_ohm(self) -> float:
        """Area of the whole distribution [ohm]."""
        return float(np.sum(self.density_ohm)) * _step(self.time_constant_s)


def distribution(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    tail_exponent: float | None = 0.5,
    inductance: bool = True,
    regularisation: float | None = None,
) -> Distribution:
    """Invert a spectrum.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Impedance, shape (N,) [ohm].
    tail_exponent : float or None
        Exponent of a diffusion tail A (jw)^-m fitted beside the distribution; None: no tail.
    inductance : bool
        Whether a series inductance is fitted beside it.
    regularisation : float or None
        Weight of the squared second difference against the squared relative misfit, the density
        counted in units of the largest |Z|; None: chosen, see Notes.

    Notes
    -----
    The regularisation is the strongest of `LADDER` whose rms misfit is at most `MISFIT_ALLOWED`
    times the noise, which is estimated from the misfit of the weakest.
    """
    system = _System(frequency_Hz, impedance_ohm, tail_exponent, inductance=inductance)
    if regularisation is None:
        weakest = system.solve(LADDER[0])
        limit = MISFIT_ALLOWED * max(system.noise(*weakest), ROUNDING)
        solution, misfit, regularisation = *weakest, LADDER[0]
        for trial in reversed(LADDER[1:]):
            found = system.solve(trial)
            if found[1] <= limit:
                solution, misfit, regularisation = *found, trial
                break
    else:
        solution, misfit = system.solve(regularisation)
    return system.distribution(solution, misfit, regularisation)


class _System:
    """One spectrum as linear equations in what is never negative."""

    def __init__(
        self,
        frequency_Hz: Floats,
        impedance_ohm: Complex,
        tail_exponent: float | None,
        *,
        inductance: bool,
    ) -> None:
        laplace = 2j * np.pi * frequency_Hz
        self.size = float(np.max(np.abs(impedance_ohm)))
        fastest, slowest = 1 / float(np.max(laplace.imag)), 1 / float(np.min(laplace.imag))
        number = int(np.ceil(np.log10(slowest / fastest) * POINTS_A_DECADE)) + 1
        self.time_constant_s = np.geomspace(fastest, slowest, number)
        columns = [np.ones_like(laplace)]
        if inductance:
            columns.append(laplace / np.max(laplace.imag))
        if tail_exponent is not None:
            columns.append((laplace / np.min(laplace.imag)) ** -tail_exponent)
        self.beside = len(columns)
        self.inductance, self.tail_exponent = inductance, tail_exponent
        self.extremes = float(np.max(laplace.imag)), float(np.min(laplace.imag))
        relaxing = 1 / (1 + np.outer(laplace, self.time_constant_s))
        model = np.column_stack([*columns, relaxing * _step(self.time_constant_s)])
        weight = self.size / np.abs(impedance_ohm)
        self.matrix = np.concatenate([model.real * weight[:, None], model.imag * weight[:, None]])
        target = impedance_ohm / np.abs(impedance_ohm)
        self.target = np.concatenate([target.real, target.imag])
        # Second difference, with nothing beyond both ends, so that the ends bend down.
        bend = np.zeros((number, self.beside + number))
        bend[:, self.beside :] = (
            np.diag(np.full(number, -2.0))
            + np.diag(np.ones(number - 1), 1)
            + np.diag(np.ones(number - 1), -1)
        )
        self.bend = bend / _step(self.time_constant_s) ** 1.5

    def solve(self, regularisation: float) -> tuple[Floats, float]:
        """Solution in units of the largest |Z|, and rms of the relative misfit [1]."""
        stacked = np.concatenate([self.matrix, np.sqrt(regularisation) * self.bend])
        right = np.concatenate([self.target, np.zeros(len(self.bend))])
        # The normal equations through QR keep the matrix square and the search short.
        orthogonal, triangle = np.linalg.qr(stacked)
        solution, _ = nnls(triangle, orthogonal.T @ right, maxiter=50 * triangle.shape[1])
        misfit = self.matrix @ solution - self.target
        return solution, float(np.sqrt(np.mean(misfit**2)))

    def noise(self, solution: Floats, misfit: float) -> float:
        """Estimate the relative noise: the misfit for as many terms as are not zero [1]."""
        equations, terms = len(self.target), int(np.count_nonzero(solution))
        return misfit * float(np.sqrt(equations / max(equations - terms, 1)))

    def distribution(self, solution: Floats, misfit: float, regularisation: float) -> Distribution:
        """Turn a solution into physical units."""
        beside = list(solution[: self.beside] * self.size)
        density = solution[self.beside :] * self.size
        highest, lowest = self.extremes
        tail = 0.0
        if self.tail_exponent is not None:
            tail = float(beside[-1] * lowest**self.tail_exponent)
        return Distribution(
            time_constant_s=self.time_constant_s,
            density_ohm=density,
            ohmic_ohm=float(beside[0]),
            inductance_H=float(beside[1] / highest) if self.inductance else 0.0,
            tail=tail,
            regularisation=regularisation,
            rms_percent=100 * misfit,
            peaks=peaks(self.time_constant_s, density),
        )


def peaks(time_constant_s: Floats, density_ohm: Floats) -> tuple[Peak, ...]:
    """Peaks of a distribution with their areas.

    Parameters
    ----------
    time_constant_s : numpy.ndarray
        Time constants evenly spaced in their logarithm, shape (K,) [s].
    density_ohm : numpy.ndarray
        Resistance per unit of ln tau, shape (K,) [ohm].
    """
    step = _step(time_constant_s)
    edges = _joined(density_ohm, _valleys(density_ohm))
    found = []
    for left, right in pairwise(edges):
        mine = density_ohm[left:right]
        if not np.any(mine > 0):
            continue
        top = left + int(np.argmax(mine))
        found.append(
            Peak(
                float(np.sum(mine)) * step,
                float(time_constant_s[top] * np.exp(step * _summit(density_ohm, top))),
                float(time_constant_s[left]),
                float(time_constant_s[right - 1]),
            )
        )
    return tuple(found)


def _joined(density_ohm: Floats, edges: list[int]) -> list[int]:
    """Borders without those beside peaks too small to be told from noise, smallest first."""
    edges, total = list(edges), float(np.sum(density_ohm))
    while len(edges) > 2:
        areas = np.add.reduceat(density_ohm, edges[:-1])
        small = int(np.argmin(areas))
        if areas[small] >= SMALLEST_SHARE * total:
            break
        beside = [at for at in (small, small + 1) if 0 < at < len(edges) - 1]
        edges.pop(max(beside, key=lambda at: density_ohm[edges[at]]))
    return edges


def _valleys(density_ohm: Floats) -> list[int]:
    """Borders of the peaks: both ends, and every lowest point between two that stand out."""
    edges, top, low = [0], 0, 0
    for place in range(1, len(density_ohm)):
        if density_ohm[place] <= density_ohm[low]:
            low = place
        lower = min(density_ohm[place], density_ohm[top])
        if low > top and density_ohm[low] < (1 - VALLEY) * lower:
            edges.append(low)
            top = low = place
        elif density_ohm[place] >= density_ohm[top]:
            top = low = place
    return [*edges, len(density_ohm)]


def _summit(density_ohm: Floats, top: int) -> float:
    """How far the summit of a parabola through three points lies from the middle one [steps]."""
    if not 0 < top < len(density_ohm) - 1:
        return 0.0
    left, middle, right = density_ohm[top - 1 : top + 2]
    bend = left - 2 * middle + right
    return float(0.5 * (left - right) / bend) if bend < 0 else 0.0


def _step(time_constant_s: Floats) -> float:
    """Step of ln tau [1]."""
    return float(np.log(time_constant_s[1] / time_constant_s[0]))
