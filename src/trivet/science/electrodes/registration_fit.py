"""Least squares of the registration of four curves: residuals, slopes, starts, minimum, errors."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

POINTS = 100
"""Points at which a curve is compared: finer than any feature of a slow cycle."""
FINER = 4
"""Points of the earlier curve for each of these."""

STARTS = 4
"""Descents, from the best places of a coarse search."""
GOOD_ENOUGH = 0.1
"""A mean loss of a point below this, 0.6 mV, is that of the right place: no other is looked for."""
ITERATIONS = 40
SETTLED = 1e-7
"""A step that gains less of the sum than this share ends a descent."""
WIDE = 2
"""Steps of a later curve on either side, over which a slope counts as information."""
CERTAIN = 4.5
"""A slope of the earlier curve counts where it is so many times its noise."""
NARROW = 2.0
"""Errors of shifts are so many times wider where a narrow end alone tells them: few points of a
mean over a hundredth of the capacity make it out (own trials)."""
SHORTEST_LEVER = 0.2
"""Features of an electrode spread over so much of the capacity, or they tell only where they are.

How wide one feature is depends on more than the active share."""
SMALLEST_SPREAD_mV = 0.05
"""Residuals are not believed to be smaller than this; a channel resolves no better."""


@dataclass(frozen=True)
class Sampled:
    """A curve averaged on a uniform grid: first charge, step (as shares), potentials [mV]."""

    first: float
    step: float
    potential_mV: Floats

    @property
    def last(self) -> float:
        """Charge of the last point, as share of the scale."""
        return self.first + self.step * (self.potential_mV.size - 1)

    @property
    def charges(self) -> Floats:
        """Charge of each point, as share of the scale."""
        return np.asarray(self.first + self.step * np.arange(self.potential_mV.size), dtype=float)

    def at(self, charge: Floats) -> tuple[Floats, Floats]:
        """Potentials [mV] and their slopes, linear between points; flat beyond the ends."""
        place = np.clip((charge - self.first) / self.step, 0.0, self.potential_mV.size - 1.000001)
        left = place.astype(np.int64)
        rise = self.potential_mV[left + 1] - self.potential_mV[left]
        return self.potential_mV[left] + (place - left) * rise, rise / self.step

    def certain_slope(self, charge: Floats) -> Floats:
        """Slopes over a wide step; 0 where noise alone could make them.

        The slope of a flat curve is noise, and noise looks like a feature that would tell a
        shift to a hair.
        """
        run = WIDE * FINER * self.step
        rise = self.at(charge + run)[0] - self.at(charge - run)[0]
        coarse = self.potential_mV[::FINER]
        bend = np.abs(coarse[2:] - 2.0 * coarse[1:-1] + coarse[:-2])
        # The lower four fifths of a normal law end at 1.28 of its spread; a second difference
        # has six times the variance of a value.
        noise = float(np.quantile(bend, 0.8)) / 1.28 / 6.0**0.5
        least = CERTAIN * 2.0**0.5 * max(noise, SMALLEST_SPREAD_mV)
        return np.where(np.abs(rise) > least, rise / (2.0 * run), 0.0)


def sampled(charge: Floats, potential_mV: Floats, *, points: int) -> Sampled:
    """Average a curve in windows of a hundredth of its span, narrower at the ends.

    Means of the curve between its rows, so that many rows lose noise and few rows lose nothing.
    """
    order = np.argsort(charge, kind="stable")
    charge, potential_mV = charge[order], potential_mV[order]
    area = np.concatenate(
        [[0.0], np.cumsum(np.diff(charge) * (potential_mV[1:] + potential_mV[:-1]) / 2.0)]
    )
    grid = np.linspace(charge[0], charge[-1], points)
    width = (charge[-1] - charge[0]) / POINTS
    half = np.minimum(width / 2.0, np.minimum(grid - charge[0], charge[-1] - grid))
    low, high = grid - half, grid + half
    area_low, area_high = (_area(charge, potential_mV, area, edge) for edge in (low, high))
    wide = high - low > 1e-12
    mean = np.where(wide, (area_high - area_low) / np.where(wide, high - low, 1.0), 0.0)
    ends = np.interp(grid, charge, potential_mV)
    return Sampled(float(grid[0]), float(grid[1] - grid[0]), np.where(wide, mean, ends))


def _area(charge: Floats, potential: Floats, area: Floats, edge: Floats) -> Floats:
    """Area under the curve up to each edge, exact for straight lines between rows."""
    left = np.clip(np.searchsorted(charge, edge, side="right") - 1, 0, charge.size - 2)
    run = charge[left + 1] - charge[left]
    along = edge - charge[left]
    slope = np.where(
        run > 0, (potential[left + 1] - potential[left]) / np.where(run > 0, run, 1), 0
    )
    return np.asarray(area[left] + along * (potential[left] + along * slope / 2.0))


class FitProblem:
    """Four later curves against four earlier ones, in the order of the parameters.

    Parameters: common offset, then for each electrode active share, shift of the charge curve,
    shift of the discharge curve (shares of the scale), polarisation; potentials in mV.
    """

    ELECTRODE = (0, 0, 1, 1)
    DIRECTION = (0, 1, 0, 1)
    SIGN = (1.0, -1.0, -1.0, 1.0)
    """Polarisation raises the positive on charge, the negative on discharge."""

    def __init__(self, earlier: Sequence[Sampled], later: Sequence[Sampled]) -> None:
        self.earlier, self.later = tuple(earlier), tuple(later)
        self.spread_mV = np.full(4, 2.0)
        self.charges = [curve.charges for curve in later]

    def window(self, curve: int, charge: Floats) -> tuple[Floats, Floats]:
        """Weight of points by where they fall on the earlier curve, and its slope; 0 beyond it.

        It falls over a hundredth of the span, so that no point enters or leaves by a jump; half a
        hundredth at each end is left out, where means are narrower.
        """
        base = self.earlier[curve]
        edge = (base.last - base.first) / POINTS
        from_low, from_high = (charge - base.first) / edge, (base.last - charge) / edge
        nearest = np.clip(np.minimum(from_low, from_high) - 0.5, 0.0, 1.0)
        weight = nearest**2 * (3.0 - 2.0 * nearest)
        weight[..., [0, -1]] = 0.0
        slope = 6.0 * nearest * (1.0 - nearest) / edge
        slope[..., [0, -1]] = 0.0
        return weight, np.where(from_low < from_high, slope, -slope)

    def overlap(self, place: Floats) -> Floats:
        """Share of each later curve that falls on its earlier one, shape (4,)."""
        weights = [self.window(curve, self._charge(place, curve))[0] for curve in range(4)]
        return np.array([float(np.mean(weight)) for weight in weights])

    def _charge(self, place: Floats, curve: int) -> Floats:
        """Where the points of a later curve fall on the earlier one."""
        first = 1 + 4 * self.ELECTRODE[curve]
        shift = place[first + 1 + self.DIRECTION[curve]]
        return np.asarray((self.charges[curve] - shift) / place[first])

    def evaluate(self, place: Floats) -> tuple[Floats, Floats]:
        """Residuals divided by overlap and by spread, shape (4, n), and slopes, (4, n, 9)."""
        count = self.later[0].potential_mV.size
        residuals, slopes = np.empty((4, count)), np.zeros((4, count, 9))
        for curve in range(4):
            first = 1 + 4 * self.ELECTRODE[curve]
            active, spread = place[first], self.spread_mV[curve]
            charge = self._charge(place, curve)
            model, steep = self.earlier[curve].at(charge)
            common = place[0] + self.SIGN[curve] * place[first + 3]
            misfit = (model + common - self.later[curve].potential_mV) / spread
            weight, change = self.window(curve, charge)
            share = max(float(np.mean(weight)), 0.05)
            residuals[curve] = misfit * weight / share
            for along, column in (
                (-charge / active, first),
                (np.full(count, -1.0 / active), first + 1 + self.DIRECTION[curve]),
            ):
                lost = float(np.mean(change * along)) / share
                moved = weight * steep / spread * along + misfit * (change * along - weight * lost)
                slopes[curve, :, column] = moved / share
            slopes[curve, :, 0] = weight / share / spread
            slopes[curve, :, first + 3] = self.SIGN[curve] * slopes[curve, :, 0]
        return residuals, slopes

    def information(self, place: Floats) -> Floats:
        """Slopes as in `evaluate`, of what the earlier curves certainly tell, shape (4, n, 9).

        Slopes within noise count as none. Where the features of an electrode lie close together
        they tell its shift at their place, and its active share not at all.
        """
        slopes = self.evaluate(place)[1]
        for electrode in (0, 1):
            first = 1 + 4 * electrode
            curves = [curve for curve in range(4) if self.ELECTRODE[curve] == electrode]
            charges = {curve: self._charge(place, curve) for curve in curves}
            moved = {
                curve: -slopes[curve, :, 0]
                * self.earlier[curve].certain_slope(charges[curve])
                / place[first]
                for curve in curves
            }
            seen = np.concatenate([charges[curve][moved[curve] != 0.0] for curve in curves])
            lever = float(np.diff(np.quantile(seen, (0.2, 0.8)))[0]) if seen.size else 0.0
            for curve in curves:
                charge, power = charges[curve], moved[curve] ** 2
                if lever < SHORTEST_LEVER and power.any():
                    charge = np.full(charge.size, float(charge @ power) / float(power.sum()))
                    moved[curve] = moved[curve] / NARROW
                slopes[curve, :, first] = charge * moved[curve]
                slopes[curve, :, first + 1 + self.DIRECTION[curve]] = moved[curve]
        return slopes


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


def fitted(problem: FitProblem, low: Floats, high: Floats) -> Minimum:
    """Fit all parameters: descents with one spread, then the best with each curve's own.

    Parameters
    ----------
    problem : FitProblem
        The curves.
    low, high : ndarray, shape (9,)
        Bounds.

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
    covariance, misfit = _errors(residuals, problem.information(place), held, 12.0 / width**2)
    overlap = problem.overlap(place)
    return Minimum(place, covariance, held, misfit * problem.spread_mV * overlap, overlap)


def _repeated(residuals: Floats) -> float:
    """How many points say what one says: the sum of correlations until they turn negative."""
    square = float(residuals @ residuals)
    if square <= 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, residuals.size // 2):
        follow = float(residuals[lag:] @ residuals[:-lag]) / square
        if follow <= 0.0:
            break
        total += 2.0 * follow
    return total


def _errors(
    residuals: Floats, slopes: Floats, held: NDArray[np.bool_], known_before: Floats
) -> tuple[Floats, Floats]:
    """Covariance widened by the misfit, and the spread of each curve's residuals.

    A model that is wrong leaves residuals that follow each other, so that a curve holds fewer
    values than points.

    References
    ----------
    Geyer (1992), Stat. Sci. 7, 473 (sum of correlations while they are positive; from memory);
    White (1982), Econometrica 50, 1 (the sandwich of a wrong model; from memory).
    """
    bounded = residuals / np.sqrt(1.0 + residuals**2 / 4.0)
    bend = (1.0 + residuals**2 / 4.0) ** -1.5
    count = slopes.shape[2]
    normal, between = np.zeros((count, count)), np.zeros((count, count))
    misfit, counted = np.zeros(len(residuals)), 0.0
    for curve, (here, steep) in enumerate(zip(bounded, slopes, strict=True)):
        mean_square, repeated = float(np.mean(here**2)), _repeated(here)
        misfit[curve] = mean_square**0.5
        normal += steep.T @ (steep * bend[curve, :, None])
        # Few points tell a shift: their own residuals count, where these are larger than usual.
        between += steep.T @ (steep * np.maximum(here**2, mean_square)[:, None]) * repeated
        counted += here.size / repeated
    # Residuals have lost what the parameters took; with few values that is most of them.
    between *= counted / max(counted - count, counted / 6.0)
    normal, between = normal + np.diag(known_before), between + np.diag(known_before)
    return _sandwich(normal, between, np.flatnonzero(~held)), misfit


def _sandwich(normal: Floats, between: Floats, free: NDArray[np.int64]) -> Floats:
    """Inverse, between, inverse, over the free parameters; infinite where nothing is known.

    A direction without information makes every parameter in it unknown.
    """
    covariance = np.zeros_like(normal)
    held = np.setdiff1d(np.arange(normal.shape[0]), free)
    size = np.sqrt(np.diag(normal)[free])
    blind = size <= 0.0
    size = np.where(blind, 1.0, size)
    scaled = normal[np.ix_(free, free)] / np.outer(size, size)
    power, axes = np.linalg.eigh(scaled)
    weak = power < 1e-10
    inverse = (axes[:, ~weak] / power[~weak]) @ axes[:, ~weak].T / np.outer(size, size)
    covariance[np.ix_(free, free)] = inverse @ between[np.ix_(free, free)] @ inverse
    unknown = blind | (np.sum(axes[:, weak] ** 2, axis=1) > 1e-6)
    for index in [*held, *free[unknown]]:
        covariance[index, index] = np.inf
    return covariance
