"""The problem of a registration: four sampled curves, their residuals and slopes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

POINTS = 100
"""Points at which a curve is compared: finer than any feature of a slow cycle."""
BINS = 400
"""Means of the earlier curve from which its slopes are taken, at most."""
REACHES = (0.005, 0.01, 0.02, 0.04, 0.08, 0.16, 0.32)
"""Half-widths over which slopes are tried, of the span; the smallest is that of a compared mean."""
AGREE = 3.0
"""A wider slope is taken while its interval of so many errors meets those of all narrower ones."""
CERTAIN = 4.5
"""A slope is a feature where it is so many times its error."""
WIDE = 2
"""Its rise over so many hundredths to either side has to be certain too, by two compared means.

Slopes fainter than that would be lent by ends that lie far off."""
SHORTEST_LEVER = 0.2
"""Features of an electrode spread over so much of the capacity, or they tell only where they are.

How wide one feature is depends on more than the active share."""
SMALLEST_SPREAD_mV = 0.05
"""Residuals are not believed to be smaller than this; a channel resolves no better."""


@dataclass(frozen=True)
class Features:
    """Where a curve certainly slopes: slopes [mV] at charges (shares of the scale), 0 elsewhere.

    The slope of a flat curve between two rows is noise, and noise looks like a feature that would
    tell a shift to a hair.
    """

    charge: Floats
    slope_mV: Floats

    def at(self, charge: Floats) -> Floats:
        """Slopes [mV], linear between points."""
        return np.asarray(np.interp(charge, self.charge, self.slope_mV))


@dataclass(frozen=True)
class Sampled:
    """A later curve as means [mV] around charges (shares of the scale), half so wide as `half`."""

    charges: Floats
    half: float
    potential_mV: Floats
    slopes: Floats


@dataclass(frozen=True)
class Line:
    """Rows by their charge with straight lines between them.

    Attributes
    ----------
    charge, potential_mV : ndarray, shape (n,)
        Sorted charges (shares of the scale) and potentials [mV].
    steep_mV : ndarray, shape (n - 1,)
        Slope of each line, 0 where two rows have one charge [mV].
    area : ndarray, shape (n,)
        Area under the lines up to each row [mV].
    """

    charge: Floats
    potential_mV: Floats
    steep_mV: Floats
    area: Floats

    def area_to(self, edge: Floats) -> Floats:
        """Area up to each edge, exact for straight lines; beyond the ends these go on [mV]."""
        left = np.searchsorted(self.charge, edge, side="right") - 1
        left = np.minimum(np.maximum(left, 0), self.charge.size - 2)
        along = edge - self.charge[left]
        middle = self.potential_mV[left] + along * self.steep_mV[left] / 2.0
        return np.asarray(self.area[left] + along * middle)


@dataclass(frozen=True)
class Rows:
    """An earlier curve as measured: its rows and its features."""

    line: Line
    features: Features

    @property
    def first(self) -> float:
        """Charge of the first row, as share of the scale."""
        return float(self.line.charge[0])

    @property
    def last(self) -> float:
        """Charge of the last row, as share of the scale."""
        return float(self.line.charge[-1])

    def at(self, charge: Floats) -> Floats:
        """Potentials [mV], linear between rows; flat beyond the ends."""
        return np.asarray(np.interp(charge, self.line.charge, self.line.potential_mV))


@dataclass(frozen=True)
class EarlierCurves:
    """Earlier curves one behind the other, so that one step takes all of them.

    Attributes
    ----------
    lines : tuple of Line
        The curves.
    first, last : ndarray, shape (k, 1)
        Charge of the first and of the last row of each, as share of the scale.
    offset, lines_of : ndarray of int, shape (k, 1, 1)
        Where its rows begin, and the last of its lines.
    charge, potential_mV, steep_mV, area : ndarray, shape (sum of n,)
        As in `Line`; a slope that is none fills up each curve's own.
    """

    lines: tuple[Line, ...]
    first: Floats
    last: Floats
    offset: NDArray[np.intp]
    lines_of: NDArray[np.intp]
    charge: Floats
    potential_mV: Floats
    steep_mV: Floats
    area: Floats

    def mean(self, charge: Floats, half: Floats) -> tuple[Floats, Floats]:
        """Means [mV] over `half` to either side, and how they change along the charge.

        Parameters
        ----------
        charge : ndarray, shape (k, m)
            Places on each curve.
        half : ndarray, shape (k, 1)
            Half the width of its means, as share of the scale.
        """
        edges = np.empty((len(self.lines), 2, charge.shape[1]))
        # twice as quick as clipping by one call, of which a registration makes a thousand
        np.minimum(np.maximum(charge - half, self.first), self.last - half, out=edges[:, 0])
        np.minimum(np.maximum(charge + half, self.first + half), self.last, out=edges[:, 1])
        width = edges[:, 1] - edges[:, 0]
        left, ends = np.empty(edges.shape, dtype=np.intp), np.empty(edges.shape)
        for place, line in enumerate(self.lines):
            left[place] = np.searchsorted(line.charge, edges[place], side="right")
            ends[place] = np.interp(edges[place], line.charge, line.potential_mV)
        left = np.minimum(np.maximum(left - 1, 0), self.lines_of) + self.offset
        along = edges - self.charge[left]
        middle = self.potential_mV[left] + along * self.steep_mV[left] / 2.0
        area = self.area[left] + along * middle
        return (area[:, 1] - area[:, 0]) / width, (ends[:, 1] - ends[:, 0]) / width


def together(curves: Sequence[Rows]) -> EarlierCurves:
    """Put curves one behind the other."""
    lines = tuple(curve.line for curve in curves)
    sizes = np.array([line.charge.size for line in lines])
    return EarlierCurves(
        lines=lines,
        first=np.array([[curve.first] for curve in curves]),
        last=np.array([[curve.last] for curve in curves]),
        offset=(np.cumsum(sizes) - sizes)[:, None, None],
        lines_of=(sizes - 2)[:, None, None],
        charge=np.concatenate([line.charge for line in lines]),
        potential_mV=np.concatenate([line.potential_mV for line in lines]),
        steep_mV=np.concatenate([np.append(line.steep_mV, 0.0) for line in lines]),
        area=np.concatenate([line.area for line in lines]),
    )


def _sorted(charge: Floats, potential_mV: Floats) -> Line:
    """Rows by their charge."""
    order = np.argsort(charge, kind="stable")
    charge, potential_mV = charge[order], potential_mV[order]
    run = np.diff(charge)
    steep = np.where(run > 0, np.diff(potential_mV) / np.where(run > 0, run, 1), 0)
    parts = run * (potential_mV[1:] + potential_mV[:-1]) / 2.0
    return Line(charge, potential_mV, steep, np.concatenate([[0.0], np.cumsum(parts)]))


def sampled(charge: Floats, potential_mV: Floats) -> Sampled:
    """Average a later curve in windows of a hundredth of its span; the two ends are no means.

    Means of the curve between its rows, so that many rows lose noise and few rows lose nothing.
    """
    line = _sorted(charge, potential_mV)
    first, last = float(line.charge[0]), float(line.charge[-1])
    grid = np.linspace(first, last, POINTS)
    half = (last - first) / POINTS / 2.0
    inner = grid[1:-1]
    edges = line.area_to(np.stack([inner - half, inner + half]))
    mean = (edges[1] - edges[0]) / (2.0 * half)
    ends = line.potential_mV
    return Sampled(
        grid, half, np.concatenate([ends[:1], mean, ends[-1:]]), _features(line).at(grid)
    )


def measured(charge: Floats, potential_mV: Floats) -> Rows:
    """An earlier curve with its features."""
    line = _sorted(charge, potential_mV)
    return Rows(line, _features(line))


def _features(line: Line) -> Features:
    """Features of a curve."""
    charge = line.charge
    edges = np.linspace(charge[0], charge[-1], min(BINS, charge.size) + 1)
    step = float(edges[1] - edges[0])
    means = np.diff(line.area_to(edges)) / step
    return Features(edges[:-1] + step / 2.0, steady_slopes(means, step))


def steady_slopes(means: Floats, step: float) -> Floats:
    """Slopes of means in a row, each over the widest stretch on which the curve is straight.

    Parameters
    ----------
    means : ndarray, shape (n,)
        Means of neighbouring windows [mV].
    step : float
        Width of a window, as share of the scale.

    Returns
    -------
    ndarray, shape (n,)
        By least squares over symmetric stretches, so that they do not follow the noise of the mean
        in the middle; 0 where noise alone could make them [mV].

    References
    ----------
    Goldenshluger & Nemirovski (1997), Math. Methods Stat. 6, 135 (intersection of intervals; from
    memory).
    """
    bend = np.abs(means[2:] - 2.0 * means[1:-1] + means[:-2])
    # The lower four fifths of a normal law end at 1.28 of its spread; a second difference has
    # six times the variance of a value.
    noise = max(float(np.quantile(bend, 0.8)) / 1.28 / 6.0**0.5, SMALLEST_SPREAD_mV)
    count = means.size
    place = np.arange(count)
    level = np.concatenate([[0.0], np.cumsum(means)])
    moment = np.concatenate([[0.0], np.cumsum(means * place)])
    slopes, errors = np.zeros(count), np.full(count, np.inf)
    low, high = np.full(count, -np.inf), np.full(count, np.inf)
    going = np.ones(count, dtype=bool)
    for reach in REACHES:
        bins = max(round(reach * count), 1)
        left, right = np.maximum(place - bins, 0), np.minimum(place + bins, count - 1) + 1
        wide = (right - left).astype(float)
        square = wide * (wide**2 - 1.0) / 12.0
        middle = (left + right - 1) / 2.0
        product = moment[right] - moment[left] - middle * (level[right] - level[left])
        slope, error = product / square / step, noise / np.sqrt(square) / step
        low = np.maximum(low, slope - AGREE * error)
        high = np.minimum(high, slope + AGREE * error)
        going &= low <= high
        slopes, errors = np.where(going, slope, slopes), np.where(going, error, errors)
    # A mean over a hundredth is what is compared.
    rise = noise * (2.0 * POINTS / max(count, POINTS)) ** 0.5
    least = np.maximum(errors, rise / (2.0 * WIDE / POINTS * count * step))
    return np.where(np.abs(slopes) > CERTAIN * least, slopes, 0.0)


def _window(charge: Floats, first: Floats | float, last: Floats | float) -> tuple[Floats, Floats]:
    """Weight of points by where they fall on an earlier curve, and its slope; 0 beyond it.

    It falls over a hundredth of the span, so that no point enters or leaves by a jump; half a
    hundredth at each end is left out, since a mean would reach beyond it.
    """
    edge = (last - first) / POINTS
    from_low, from_high = (charge - first) / edge, (last - charge) / edge
    nearest = np.minimum(np.maximum(np.minimum(from_low, from_high) - 0.5, 0.0), 1.0)
    weight = nearest**2 * (3.0 - 2.0 * nearest)
    weight[..., [0, -1]] = 0.0
    slope = 6.0 * nearest * (1.0 - nearest) / edge
    slope[..., [0, -1]] = 0.0
    return weight, np.where(from_low < from_high, slope, -slope)


def _mean(values: Floats) -> float:
    """Mean of values, as numpy has it and without the half of its time that it looks at them."""
    return float(np.add.reduce(values)) / values.size


class FitProblem:
    """Four later curves against four earlier ones, in the order of the parameters.

    Parameters: common offset, then for each electrode active share, shift of the charge curve,
    shift of the discharge curve (shares of the scale), polarisation; potentials in mV. Then by how
    much too large the earlier charge was counted against the later one, on charge and on discharge.
    """

    ELECTRODE = (0, 0, 1, 1)
    DIRECTION = (0, 1, 0, 1)
    SIGN = (1.0, -1.0, -1.0, 1.0)
    """Polarisation raises the positive on charge, the negative on discharge."""
    COUNTED = 9
    """Place of the first of the two errors of charge among the parameters."""
    COUNT = 11
    _ACTIVE = 1 + 4 * np.array(ELECTRODE)[:, None]
    _SHIFT = _ACTIVE + 1 + np.array(DIRECTION)[:, None]
    _POLARISED = (_ACTIVE + 3)[:, 0]
    _COUNTED = COUNTED + np.array(DIRECTION)[:, None]
    _MOVING = np.concatenate([_ACTIVE, _SHIFT, _COUNTED], axis=1).T
    """Places of the parameters of each curve; of those that move its points along the earlier."""

    def __init__(self, earlier: Sequence[Rows], later: Sequence[Sampled]) -> None:
        self.earlier, self.later = tuple(earlier), tuple(later)
        self.spread_mV = np.full(4, 2.0)
        self.charges = np.array([curve.charges for curve in later])
        self._curves = together(self.earlier)
        self._halves = np.array([[curve.half] for curve in later])
        self._potentials_mV = np.array([curve.potential_mV for curve in later])

    def window(self, curve: int, charge: Floats) -> tuple[Floats, Floats]:
        """Weight of points by where they fall on the earlier curve, and its slope; 0 beyond it."""
        base = self.earlier[curve]
        return _window(charge, base.first, base.last)

    def overlap(self, place: Floats) -> Floats:
        """Share of each later curve that falls on its earlier one, shape (4,)."""
        weights = [self.window(curve, self._charge(place, curve))[0] for curve in range(4)]
        return np.array([_mean(weight) for weight in weights])

    def _charge(self, place: Floats, curve: int) -> Floats:
        """Where the points of a later curve fall on the earlier one."""
        first, direction = 1 + 4 * self.ELECTRODE[curve], self.DIRECTION[curve]
        counted = self.charges[curve] * (1.0 + place[self.COUNTED + direction])
        return np.asarray((counted - place[first + 1 + direction]) / place[first])

    def _along(self, place: Floats, curve: int, moved: Floats) -> dict[int, Floats]:
        """How the places on the earlier curve move with each parameter that moves them."""
        first, direction = 1 + 4 * self.ELECTRODE[curve], self.DIRECTION[curve]
        active, charge = place[first], self.charges[curve]
        return {
            first: -moved / active,
            first + 1 + direction: np.full(charge.size, -1.0 / active),
            self.COUNTED + direction: charge / active,
        }

    def evaluate(self, place: Floats) -> tuple[Floats, Floats]:
        """Residuals divided by overlap and by spread, shape (4, n), and slopes, (4, n, 11).

        All four curves at once, in the steps of the functions for one: a fit asks for this a
        hundred times, and most of its time goes into calls.
        """
        curve = np.arange(4)
        active, sign = place[self._ACTIVE], np.array(self.SIGN)
        spread = self.spread_mV[:, None]
        charge = (self.charges * (1.0 + place[self._COUNTED]) - place[self._SHIFT]) / active
        model, steep = self._curves.mean(charge, self._halves / active)
        common = place[0] + sign * place[self._POLARISED]
        misfit = (model + common[:, None] - self._potentials_mV) / spread
        weight, change = _window(charge, self._curves.first, self._curves.last)
        share = np.maximum(np.add.reduce(weight, axis=1) / POINTS, 0.05)[:, None]
        slopes = np.zeros((4, POINTS, self.COUNT))
        along = np.stack([-charge / active, np.broadcast_to(-1.0 / active, charge.shape),
                          self.charges / active])  # fmt: skip
        changed = change * along
        lost = (np.add.reduce(changed, axis=2) / POINTS)[..., None] / share
        moved = weight * steep / spread * along + misfit * (changed - weight * lost)
        slopes[curve, :, self._MOVING] = moved / share
        slopes[:, :, 0] = weight / share / spread
        slopes[curve, :, self._POLARISED] = sign[:, None] * slopes[:, :, 0]
        return misfit * weight / share, slopes

    def information(self, place: Floats, evaluated: Floats, *, levers: bool = True) -> Floats:
        """Slopes that `evaluate` gave there, from those of earlier curves that have little noise.

        Where the features of an electrode lie close together they tell its shift at their place,
        and neither its active share nor an error of the charge, if `levers` says so.
        """
        slopes = evaluated.copy()
        for electrode in (0, 1):
            curves = [curve for curve in range(4) if self.ELECTRODE[curve] == electrode]
            shared = {curve: self._shared_slope(place, curve) for curve in curves}
            near = levers and self._lever(place, shared) < SHORTEST_LEVER
            for curve in curves:
                told = slopes[curve, :, 0] * shared[curve]
                power = told**2
                charge = self._charge(place, curve)
                for column, along in self._along(place, curve, charge).items():
                    middle = float(along @ power) / max(float(power.sum()), 1e-300)
                    slopes[curve, :, column] = told * (middle if near else along)
        return slopes

    def _shared_slope(self, place: Floats, curve: int) -> Floats:
        """Slopes that both the earlier and the later curve have at the same place [mV].

        A feature that the later curve does not have says that it ended before it, or that this is
        not its place; it does not tell where it is.
        """
        earlier = self.earlier[curve].features.at(self._charge(place, curve))
        later = self.later[curve].slopes * place[1 + 4 * self.ELECTRODE[curve]]
        both = np.maximum(earlier * later, 0.0)
        return np.asarray(np.sign(earlier) * np.sqrt(both))

    def _lever(self, place: Floats, slopes: Mapping[int, Floats]) -> float:
        """Over how much of the scale the features of an electrode spread."""
        parts = []
        for curve, slope in slopes.items():
            charge = self._charge(place, curve)
            parts.append(charge[(slope != 0.0) & (self.window(curve, charge)[0] > 0.0)])
        seen = np.concatenate(parts)
        return float(np.diff(np.quantile(seen, (0.2, 0.8)))[0]) if seen.size else 0.0
