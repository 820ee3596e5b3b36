"""When a running cell will reach its limit: a straight line through its own readings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

FEWEST_READINGS = 8
"""Readings that a forecast needs: fewer tell nothing of how readings follow each other (common
practice, no source)."""
_FEWEST_EFFECTIVE = 3.0
"""A line takes two; so many are left at least, so that its error stays finite."""
_HIGHEST_CORRELATION = 0.99


@dataclass(frozen=True)
class Crossing:
    """Time at which a straight trend reaches a limit.

    Attributes
    ----------
    time : float
        Time at which the line is at the limit [unit of the times]; NaN where the line leads away
        from it or can't be drawn.
    error : float
        Standard error of that time, a reading's own scatter in it [unit of the times].
    slope, slope_error : float
        Slope of the line and its standard error [unit of the readings per unit of the times].
    readings : int
        Readings used [1].
    effective : float
        Readings that would tell as much if they did not follow each other [1].
    """

    time: float
    error: float
    slope: float
    slope_error: float
    readings: int
    effective: float


def crossing_of_trend(
    time: np.ndarray, reading: np.ndarray, *, limit: float, falling: bool
) -> Crossing:
    """Tell when a straight line through all readings of a unit reaches a limit.

    Least squares with intercept. Residuals of a capacity follow each other, since fade bends and
    scatter adds up. So with r, the correlation of one residual with the next (raised by
    ``(2 + 4 r) / n``, by which two fitted constants lower it), n readings count as
    ``n (1 - r) / (1 + r)``, and errors follow from so many.

    Parameters
    ----------
    time, reading : numpy.ndarray
        Time and value of each reading in order of time, (n_readings,); missing values are NaN and
        passed over.
    limit : float
        Value at which the unit counts as ended [unit of the readings].
    falling : bool
        Whether readings fall towards the limit (capacity) or rise (resistance).

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
    Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 13.2 and table C.17,
    for the line of each unit; Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8, 184-197, for the
    effective number; Marriott & Pope 1954, Biometrika 41, 390-402, for the bias of r (its size for
    a line is from memory).
    """
    t, y = np.asarray(time, dtype=float), np.asarray(reading, dtype=float)
    if t.shape != y.shape:
        message = f"times {t.shape} and readings {y.shape} must have one shape"
        raise ValueError(message)
    known = np.isfinite(t) & np.isfinite(y)
    t, y = t[known], y[known]
    n = len(t)
    if n < 3 or np.unique(t).size < 2:
        return Crossing(math.nan, math.nan, math.nan, math.nan, n, math.nan)
    away = t - t.mean()
    spread = float(away @ away)
    slope = float(away @ y) / spread
    residual = y - y.mean() - slope * away
    effective = effective_readings(residual)
    share = effective / n
    scatter2 = float(residual @ residual) / n * effective / max(effective - 2.0, 1.0)
    slope_error = math.sqrt(scatter2 / (spread * share))
    if slope == 0 or (slope < 0) != falling:
        return Crossing(math.nan, math.nan, slope, slope_error, n, effective)
    ahead = (limit - float(y.mean())) / slope
    error = math.sqrt(scatter2 * (1 + 1 / effective + ahead**2 / (spread * share))) / abs(slope)
    return Crossing(float(t.mean()) + ahead, error, slope, slope_error, n, effective)


def effective_readings(residual: np.ndarray) -> float:
    """Number of independent readings that tell as much as these residuals of a line [1].

    Parameters
    ----------
    residual : numpy.ndarray
        Residuals in order of time, (n_readings,).
    """
    n, total = len(residual), float(residual @ residual)
    if total <= 0.0:
        return float(n)
    r = float(residual[:-1] @ residual[1:]) / total
    r = min(max(r + (2.0 + 4.0 * r) / n, 0.0), _HIGHEST_CORRELATION)
    return max(n * (1.0 - r) / (1.0 + r), min(_FEWEST_EFFECTIVE, float(n)))
