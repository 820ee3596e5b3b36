"""Least squares of the registration of four curves: starts, descent and minimum."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray

from trivet.science.electrodes.registration_errors import bounded, noise_covariance
from trivet.science.electrodes.registration_problem import (
    POINTS,
    FitProblem,
    Floats,
    SMALLEST_SPREAD_mV,
)

STARTS = 4
"""Descents, from the best places of a coarse search."""
GOOD_ENOUGH = 0.1
"""A mean loss of a point below this, 0.6 mV, is near the right place: no other is looked for."""
ITERATIONS = 40
SETTLED = 1e-7
"""A step that gains less of the sum than this share ends a descent."""
AGAIN = (11, 41)
"""Active shares and shifts of the search around the first minimum, once the spreads are known."""
AROUND = 0.08
"""How far that search looks for shifts: narrow ends of flat curves make minima side by side."""
SCORING = 25
"""Steps with slopes that have little noise in them."""


@dataclass(frozen=True)
class Bounds:
    """Between what the parameters lie, and what is known of them before any curve; shape (11,).

    Attributes
    ----------
    low, high : ndarray
        Bounds.
    middle, precision : ndarray
        What is likeliest, and the inverse of its variance, 0 for nothing known.
    """

    low: Floats
    high: Floats
    middle: Floats
    precision: Floats


def bounds(active: tuple[float, float], largest_shift: float, charge_error: float) -> Bounds:
    """Bounds of a registration, and what they say: a law as wide as a uniform one between them.

    Parameters
    ----------
    active : tuple of float
        Of the active shares [1].
    largest_shift : float
        Of the shifts, as share of the scale.
    charge_error : float
        Standard error of the charge of each half-cycle, as a share of it [1]; both cycles have it.
    """
    edge = np.array([np.inf, *[active[1], largest_shift, largest_shift, np.inf] * 2])
    other = np.array([-np.inf, *[active[0], -largest_shift, -largest_shift, -np.inf] * 2])
    width = edge - other
    finite = np.isfinite(width)
    centre = np.zeros(width.size)
    centre[finite] = (edge[finite] + other[finite]) / 2.0
    counted = np.full(2, 10.0 * charge_error)
    known = 1.0 / (2.0 * charge_error**2) if charge_error > 0.0 else 1.0
    return Bounds(
        low=np.concatenate([other, -counted]),
        high=np.concatenate([edge, counted]),
        middle=np.concatenate([centre, [0.0, 0.0]]),
        precision=np.concatenate([12.0 / width**2, [known, known]]),
    )


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


def _prior(place: Floats, within: Bounds) -> float:
    """What a place costs for being unlikely before any curve."""
    return float(within.precision @ (place - within.middle) ** 2)


def _normal(
    residuals: Floats, slopes: Floats, place: Floats, within: Bounds
) -> tuple[Floats, Floats]:
    """Pull on each parameter, and matrix of the normal equations."""
    robust = 1.0 / np.sqrt(1.0 + residuals**2 / 4.0)
    flat = slopes.reshape(-1, place.size)
    pull = flat.T @ (robust * residuals).ravel() + within.precision * (place - within.middle)
    return pull, flat.T @ (flat * robust.reshape(-1, 1)) + np.diag(within.precision)


def descend(
    problem: FitProblem, start: Floats, within: Bounds
) -> tuple[Floats, float, NDArray[np.bool_]]:
    """Find the minimum near a start within the bounds (Marquardt, reweighted).

    Returns
    -------
    place, cost, held : ndarray (11,), float, ndarray of bool (11,)
        Minimum, its cost, and which parameters lie at a bound that they would leave.
    """
    place, damping = start.copy(), 1e-3
    residuals, slopes = problem.evaluate(place)
    cost = _cost(residuals) + _prior(place, within)
    held = np.zeros(place.size, dtype=bool)
    for _ in range(ITERATIONS):
        pull, normal = _normal(residuals, slopes, place, within)
        held = _held(place, pull, within)
        free = np.flatnonzero(~held)
        inner, size = normal[np.ix_(free, free)], np.diag(normal)[free]
        gained = 0.0
        while damping < 1e8:
            step = np.zeros(place.size)
            # A hair keeps a parameter that no point depends on from dividing by zero.
            damped = inner + np.diag(damping * size + 1e-9)
            step[free] = np.linalg.solve(damped, -pull[free])
            tried = np.clip(place + step, within.low, within.high)
            new_residuals, new_slopes = problem.evaluate(tried)
            new_cost = _cost(new_residuals) + _prior(tried, within)
            if new_cost < cost:
                gained = (cost - new_cost) / cost
                place, residuals, slopes, cost = tried, new_residuals, new_slopes, new_cost
                damping = max(damping / 10.0, 1e-9)
                break
            damping *= 10.0
        if gained < SETTLED:
            break
    return place, cost, held


def _held(place: Floats, pull: Floats, within: Bounds) -> NDArray[np.bool_]:
    """Which parameters lie at a bound that they would leave, or can't move at all."""
    low, high = (place <= within.low) & (pull > 0), (place >= within.high) & (pull < 0)
    return np.asarray(low | high | (within.low == within.high))


def _score(problem: FitProblem, start: Floats, within: Bounds) -> tuple[Floats, NDArray[np.bool_]]:
    """Go on from a minimum with slopes that have little noise in them.

    The sum has its least value also where noise of the earlier curve fits that of the later one;
    with slopes that do not follow the noise, parameters that no feature tells stay in the middle.
    """
    place, held = start.copy(), np.zeros(start.size, dtype=bool)
    length, before = 1.0, np.inf
    for _ in range(SCORING):
        residuals, slopes = problem.evaluate(place)
        slopes = problem.information(place, slopes, levers=False)
        pull, normal = _normal(residuals, slopes, place, within)
        held = _held(place, pull, within)
        free = np.flatnonzero(~held)
        step = np.zeros(place.size)
        hair = np.diag(np.full(free.size, 1e-9))
        step[free] = np.linalg.solve(normal[np.ix_(free, free)] + hair, -pull[free])
        gain = float(-pull @ step)
        if gain < 1e-6:
            break
        length = length if gain < before else max(length / 2.0, 0.1)
        before = gain
        place = np.clip(place + length * step, within.low, within.high)
    return place, held


def _misfits(
    problem: FitProblem, curve: int, active: Floats, shift: Floats
) -> tuple[Floats, Floats, Floats]:
    """Misfits [mV] of every other point at many places, their weights and the overlaps."""
    charge = (problem.charges[curve][None, ::2] - shift[:, None]) / active[:, None]
    misfit = problem.earlier[curve].at(charge) - problem.later[curve].potential_mV[None, ::2]
    weight = problem.window(curve, charge)[0]
    return misfit, weight, np.maximum(weight.mean(axis=1), 0.05)


def _scores(problem: FitProblem, electrode: int, active: Floats, shift: Floats) -> Floats:
    """Mean misfit of one electrode at many places, by overlap, apart from a common potential."""
    score = np.zeros(active.size)
    for curve in (2 * electrode, 2 * electrode + 1):
        misfit, weight, share = _misfits(problem, curve, active, shift)
        middle = (weight * misfit).mean(axis=1) / share
        score += (weight * np.abs(misfit - middle[:, None])).mean(axis=1) / share**2
    return score


def _scores_near(
    problem: FitProblem, electrode: int, active: Floats, shift: Floats, place: Floats
) -> Floats:
    """Cost of one electrode at many places, with all other parameters as they are at one."""
    first = 1 + 4 * electrode
    score = np.zeros(active.size)
    for curve in (2 * electrode, 2 * electrode + 1):
        other = place[first + 1 + problem.DIRECTION[curve]] - place[first + 1]
        misfit, weight, share = _misfits(problem, curve, active, shift + other)
        common = place[0] + problem.SIGN[curve] * place[first + 3]
        scaled = weight * (misfit + common) / share[:, None] / problem.spread_mV[curve]
        score += (np.sqrt(1.0 + scaled**2 / 4.0) - 1.0).sum(axis=1)
    return score


def _searched(problem: FitProblem, electrode: int, within: Bounds) -> list[Floats]:
    """Best places of a coarse search for one electrode: active share and shift, best first."""
    first = 1 + 4 * electrode
    low, high = within.low, within.high
    actives = np.linspace(max(low[first], 0.88), min(high[first], 1.04), 5)
    shifts = np.linspace(low[first + 1], high[first + 1], 33)
    active, shift = (axis.ravel() for axis in np.meshgrid(actives, shifts, indexing="ij"))
    score = _scores(problem, electrode, active, shift)
    found: list[Floats] = []
    for index in np.argsort(score):
        here = np.array([active[index], shift[index]])
        if all(abs(here[1] - other[1]) > 0.04 for other in found):
            found.append(here)
        if len(found) == 2:
            break
    return found


def _starts(problem: FitProblem, within: Bounds) -> Iterator[Floats]:
    """Where to start: nothing changed, then the best of a coarse search for each electrode."""
    plain = np.array([0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    yield np.clip(plain, within.low, within.high)
    searched = [_searched(problem, electrode, within) for electrode in (0, 1)]
    for positive, negative in islice(product(*searched), STARTS - 1):
        start = plain.copy()
        start[1:4] = positive[0], positive[1], positive[1]
        start[5:8] = negative[0], negative[1], negative[1]
        yield np.clip(start, within.low, within.high)


def _best_again(problem: FitProblem, place: Floats, within: Bounds) -> Floats:
    """The least minimum once the spreads are known: flat curves have several, close together."""
    best, least, _ = descend(problem, place, within)
    for electrode in (0, 1):
        first = 1 + 4 * electrode
        actives = np.linspace(within.low[first], within.high[first], AGAIN[0])
        shifts = best[first + 1] + np.linspace(-AROUND, AROUND, AGAIN[1])
        active, shift = (axis.ravel() for axis in np.meshgrid(actives, shifts, indexing="ij"))
        # the minimum itself comes first
        active, shift = np.append(best[first], active), np.append(best[first + 1], shift)
        here = int(np.argmin(_scores_near(problem, electrode, active, shift, best)))
        if here == 0:
            continue
        start = best.copy()
        start[first] = active[here]
        start[first + 1 : first + 3] += shift[here] - best[first + 1]
        tried, cost, _ = descend(problem, np.clip(start, within.low, within.high), within)
        if cost < least:
            best, least = tried, cost
    return best


def _spread(residuals: Floats) -> float:
    """Spread of residuals by their median size; right for normal ones, deaf to few large."""
    return float(np.median(np.abs(residuals))) * 1.4826


def fitted(problem: FitProblem, within: Bounds) -> Minimum:
    """Fit all parameters: descents with one spread, then the best with each curve's own.

    Parameters
    ----------
    problem : FitProblem
        The curves.
    within : Bounds
        Bounds, and what is known before.

    Returns
    -------
    Minimum
        Covariance is infinite for parameters that are held.
    """
    ends = []
    for start in _starts(problem, within):
        ends.append(descend(problem, start, within))
        if ends[-1][1] < GOOD_ENOUGH * 4 * POINTS:
            break
    place = min(ends, key=lambda end: end[1])[0]
    overlap = np.maximum(problem.overlap(place), 0.05)
    residuals = problem.evaluate(place)[0]
    own = [
        _spread(residuals[curve]) * overlap[curve] * problem.spread_mV[curve] for curve in range(4)
    ]
    problem.spread_mV = np.maximum(np.array(own), SMALLEST_SPREAD_mV)
    place = _best_again(problem, place, within)
    place, held = _score(problem, place, within)
    residuals, slopes = problem.evaluate(place)
    # nor is a spread smaller than a channel resolves
    least = (SMALLEST_SPREAD_mV / problem.spread_mV) ** 2
    covariance = noise_covariance(
        residuals, problem.information(place, slopes), held, within.precision, least
    )
    misfit = np.sqrt(np.mean(bounded(residuals) ** 2, axis=1))
    overlap = problem.overlap(place)
    return Minimum(place, covariance, held, misfit * problem.spread_mV * overlap, overlap)
