"""The problem of a registration: four sampled curves, their residuals and slopes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

POINTS = 100
"""Points at which a curve is compared: finer than any feature of a slow cycle."""
FINER = 4
"""Points of the earlier curve for each of these."""
WIDE = 2
"""Steps of a later curve on either side, over which a slope counts as information."""
CERTAIN = 4.5
"""A slope of the earlier curve counts where it is so many times its noise."""
NARROW = 2.3
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
