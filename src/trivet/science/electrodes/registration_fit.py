"""Least squares of the registration of four curves: starts, descent and minimum."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray

from trivet.science.electrodes.registration_errors import (
    bounded,
    moved_by_charge,
    noise_covariance,
    without_charge,
)
from trivet.science.electrodes.registration_problem import (
    POINTS,
    FitProblem,
    Floats,
    SMALLEST_SPREAD_mV,
)

STARTS = 4
"""Descents, from the best places of a coarse search."""
GOOD_ENOUGH = 0.1
"""A mean loss of a point below this, 0.6 mV, is that of the right place: no other is looked for."""
ITERATIONS = 40
SETTLED = 1e-7
"""A step that gains less of the sum than this share ends a descent."""


@dataclass(frozen=True)
class Minimum:
    """Where the sum is least: parameters, covariance, held ones, spread and overlap by curve."""

    place: Floats
    covariance: Floats
    held: NDArray[np.bool_]
    misfit_mV: Floats
    overlap: Floats


def _cost(residuals: Floats) -> float:
    """Sum of a loss that grows with the square of small residuals and with the size of large."""
    return float(np.sum(np.sqrt(1.0 + residuals**2 / 4.0) - 1.0) * 8.0)


def descend(
    problem: FitProblem, start: Floats, low: Floats, high: Floats
) -> tuple[Floats, float, NDArray[np.bool_]]:
    """Find the minimum near a start within the bounds (Marquardt, reweighted).

    Returns
    -------
    place, cost, held : ndarray (9,), float, ndarray of bool (9,)
        Minimum, its cost, and which parameters lie at a bound that they would leave.
    """
    place, damping = start.copy(), 1e-3
    residuals, slopes = problem.evaluate(place)
    cost = _cost(residuals)
    held = np.zeros(place.size, dtype=bool)
    for _ in range(ITERATIONS):
        robust = 1.0 / np.sqrt(1.0 + residuals**2 / 4.0)
        flat = slopes.reshape(-1, place.size)
        pull = flat.T @ (robust * residuals).ravel()
        normal = flat.T @ (flat * robust.reshape(-1, 1))
        held = ((place <= low) & (pull > 0)) | ((place >= high) & (pull < 0))
        free = np.flatnonzero(~held)
        inner, size = normal[np.ix_(free, free)], np.diag(normal)[free]
        gained = 0.0
        while damping < 1e8:
            step = np.zeros(place.size)
            # A hair keeps a parameter that no point depends on from dividing by zero.
            damped = inner + np.diag(damping * size + 1e-9 * (1.0 + size.max()))
            step[free] = np.linalg.solve(damped, -pull[free])
            tried = np.clip(place + step, low, high)
            new_residuals, new_slopes = problem.evaluate(tried)
            new_cost = _cost(new_residuals)
            if new_cost < cost:
                gained = (cost - new_cost) / cost
                place, residuals, slopes, cost = tried, new_residuals, new_slopes, new_cost
                damping = max(damping / 10.0, 1e-9)
                break
            damping *= 10.0
        if gained < SETTLED:
            break
    return place, cost, held


def _searched(problem: FitProblem, electrode: int, low: Floats, high: Floats) -> list[Floats]:
    """Best places of a coarse search for one electrode: active share and shift, best first."""
    first = 1 + 4 * electrode
    actives = np.linspace(max(low[first], 0.88), min(high[first], 1.04), 5)
    shifts = np.linspace(low[first + 1], high[first + 1], 33)
    active, shift = (axis.ravel() for axis in np.meshgrid(actives, shifts, indexing="ij"))
    score = np.zeros(active.size)
    for curve in (2 * electrode, 2 * electrode + 1):
        charge = (problem.charges[curve][None, ::2] - shift[:, None]) / active[:, None]
        model = problem.earlier[curve].at(charge)[0]
        misfit = model - problem.later[curve].potential_mV[None, ::2]
        weight = problem.window(curve, charge)[0]
        share = np.maximum(weight.mean(axis=1), 0.05)
        middle = (weight * misfit).mean(axis=1) / share
        score += (weight * np.abs(misfit - middle[:, None])).mean(axis=1) / share**2
    found: list[Floats] = []
    for index in np.argsort(score):
        here = np.array([active[index], shift[index]])
        if all(abs(here[1] - other[1]) > 0.04 for other in found):
            found.append(here)
        if len(found) == 2:
            break
    return found


def _starts(problem: FitProblem, low: Floats, high: Floats) -> Iterator[Floats]:
    """Where to start: nothing changed, then the best of a coarse search for each electrode."""
    plain = np.array([0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0])
    yield np.clip(plain, low, high)
    searched = [_searched(problem, electrode, low, high) for electrode in (0, 1)]
    for positive, negative in islice(product(*searched), STARTS - 1):
        start = plain.copy()
        start[1:4] = positive[0], positive[1], positive[1]
        start[5:8] = negative[0], negative[1], negative[1]
        yield np.clip(start, low, high)


def _spread(residuals: Floats) -> float:
    """Spread of residuals by their median size; right for normal ones, deaf to few large."""
    return float(np.median(np.abs(residuals))) * 1.4826


def fitted(problem: FitProblem, low: Floats, high: Floats, charge_error: float = 0.0) -> Minimum:
    """Fit all parameters: descents with one spread, then the best with each curve's own.

    Parameters
    ----------
    problem : FitProblem
        The curves.
    low, high : ndarray, shape (9,)
        Bounds.
    charge_error : float
        Standard error of the charge of each half-cycle, as a share of it [1].

    Returns
    -------
    Minimum
        Covariance is infinite for parameters that are held.
    """
    ends = []
    for start in _starts(problem, low, high):
        ends.append(descend(problem, start, low, high))
        if ends[-1][1] < GOOD_ENOUGH * 4 * POINTS:
            break
    place = min(ends, key=lambda end: end[1])[0]
    overlap = np.maximum(problem.overlap(place), 0.05)
    residuals = problem.evaluate(place)[0]
    own = [
        _spread(residuals[curve]) * overlap[curve] * problem.spread_mV[curve] for curve in range(4)
    ]
    problem.spread_mV = np.maximum(np.array(own), SMALLEST_SPREAD_mV)
    place, _, held = descend(problem, place, low, high)
    residuals = problem.evaluate(place)[0]
    # A uniform law between the bounds is known of each parameter that has bounds.
    width = np.where(np.isfinite(high - low), high - low, np.inf)
    told = problem.information(place)
    clean = without_charge(problem, place, charge_error)
    # nor is a spread smaller than a channel resolves
    least = (SMALLEST_SPREAD_mV / problem.spread_mV) ** 2
    known_before = 12.0 / width**2
    covariance = noise_covariance(clean, told, held, known_before, least)
    if charge_error > 0.0:
        moved = moved_by_charge(problem, place, told, held, known_before)
        covariance += charge_error**2 * moved
    misfit = np.sqrt(np.mean(bounded(residuals) ** 2, axis=1))
    overlap = problem.overlap(place)
    return Minimum(place, covariance, held, misfit * problem.spread_mV * overlap, overlap)
