"""When a running cell will reach its limit: a straight line through its own readings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

FEWEST_READINGS = 3
"""Readings that a line needs before its scatter is known at all."""


@dataclass(frozen=True)
class Crossing:
    """Time at which a straight trend reaches a limit.

    Attributes
    ----------
    time : float
        Time at which the line is at the limit [unit of the times]; NaN where not estimable.
    lower, upper : float
        Limits of the time at which a reading is at the limit [unit of the times]; the upper one is
        infinite where the trend may as well never lead there, both are NaN where not estimable.
    slope : float
        Slope of the line [unit of the readings per unit of the times]; NaN where not estimable.
    readings : int
        Readings used [1].
    """

    time: float
    lower: float
    upper: float
    slope: float
    readings: int


def crossing_of_trend(
    time: np.ndarray,
    reading: np.ndarray,
    *,
    limit: float,
    falling: bool,
    confidence: float = 0.95,
) -> Crossing:
    """Forecast when a straight line through all readings of a unit reaches a limit.

    The interval holds the times t at which a reading of the value `limit` agrees with the line:
    ``|a + b t - limit| <= q s sqrt(1 + 1/n + (t - mean)^2 / S)``, with Student's quantile q of
    n - 2 degrees of freedom. It is an interval for the time at which a reading is at the limit,
    not only for the line. Readings are taken to scatter independently about a straight line:
    where a trend bends, or scatter adds up from reading to reading, the interval is too short: of
    the 15 lasers of table C.17 it held the end of the whole line 8 times from readings up to
    2,000 h and 15 times from those up to 3,500 h. Print its record on past ends beside it.

    Parameters
    ----------
    time, reading : numpy.ndarray
        Time and value of each reading, shape (n_readings,); missing values are NaN and passed over.
    limit : float
        Value at which the unit counts as ended [unit of the readings].
    falling : bool
        Whether readings fall towards the limit (capacity) or rise (resistance).
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    Crossing
        NaN where fewer than three readings at two times are there, or the line leads away from
        the limit.

    Raises
    ------
    ValueError
        If the two shapes differ.

    References
    ----------
    Fieller 1954, J. R. Stat. Soc. B 16, 175-185, for the limits; Meeker & Escobar, Statistical
    Methods for Reliability Data (1998), section 13.2 and table C.17, for the line of each unit.
    """
    t, y = np.asarray(time, dtype=float), np.asarray(reading, dtype=float)
    if t.shape != y.shape:
        message = f"times {t.shape} and readings {y.shape} must have one shape"
        raise ValueError(message)
    known = np.isfinite(t) & np.isfinite(y)
    t, y = t[known], y[known]
    n = len(t)
    if n < FEWEST_READINGS or np.unique(t).size < 2:
        return Crossing(math.nan, math.nan, math.nan, math.nan, n)
    away = t - t.mean()
    spread = float(away @ away)
    slope = float(away @ y) / spread
    if slope == 0 or (slope < 0) != falling:
        return Crossing(math.nan, math.nan, math.nan, slope, n)
    residual = y - y.mean() - slope * away
    reach = float(stdtrit(n - 2, 0.5 + confidence / 2)) ** 2 * float(residual @ residual) / (n - 2)
    lower, upper = _limits(slope, limit - float(y.mean()), reach, spread, n)
    centre = float(t.mean())
    return Crossing(
        centre + (limit - float(y.mean())) / slope, centre + lower, centre + upper, slope, n
    )


def _limits(
    slope: float, distance: float, reach: float, spread: float, n: int
) -> tuple[float, float]:
    """Limits about the mean time: roots of (slope u - distance)^2 = reach (1 + 1/n + u^2/S)."""
    square = slope**2 - reach / spread
    half = slope * distance
    constant = distance**2 - reach * (1 + 1 / n)
    root = half**2 - square * constant
    if square <= 0:
        # the slope may be nought: no latest time; the earliest is where the far limit is met
        if root <= 0 or square == 0:
            return -math.inf, math.inf
        ends = sorted((half + sign * math.sqrt(root)) / square for sign in (-1.0, 1.0))
        return (ends[1], math.inf) if half > 0 else (-math.inf, math.inf)
    reach_u = math.sqrt(max(root, 0.0))
    return (half - reach_u) / square, (half + reach_u) / square


@dataclass(frozen=True)
class Coverage:
    """How forecasts fared against the ends that came afterwards.

    Attributes
    ----------
    inside, ends : int
        Forecast intervals that held the end, and forecasts whose end has come since [1].
    share : float
        Share inside [1]; NaN where no end has come.
    """

    inside: int
    ends: int
    share: float


def coverage_of_forecasts(lower: np.ndarray, upper: np.ndarray, *, end: np.ndarray) -> Coverage:
    """Count the forecast intervals that held the end.

    Parameters
    ----------
    lower, upper : numpy.ndarray
        Limits of each forecast, shape (n_forecasts,) [unit of time]; NaN where none was made.
    end : numpy.ndarray
        End that came afterwards, shape (n_forecasts,) [unit of time]; NaN where it has not.
    """
    judged = np.isfinite(end) & ~np.isnan(lower) & ~np.isnan(upper)
    inside = int(np.sum(judged & (lower <= end) & (end <= upper)))
    ends = int(judged.sum())
    return Coverage(inside, ends, inside / ends if ends else math.nan)
