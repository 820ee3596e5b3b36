"""Slopes over the life of a cell, and what one separator adds, from few points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from trivet.science.cycling.robust_slope import pair_slopes

Floats = NDArray[np.float64]

FEWEST = 3
"""Points that a slope with an error needs."""
_NONE = float("nan")


@dataclass(frozen=True)
class Slope:
    """A straight line through few points.

    Attributes
    ----------
    slope, standard_error, lower, upper : float
        Slope, its standard error and limits [unit of y per unit of x]; NaN where there are none.
    start : float
        Value of the line at the smallest x [unit of y].
    rank_correlation : float
        Spearman's correlation of the ranks of x and y [1].
    points : int
        Points used.
    reason : str
        Why a value is missing; empty otherwise.
    """

    slope: float
    standard_error: float
    lower: float
    upper: float
    start: float
    rank_correlation: float
    points: int
    reason: str


def robust_slope(x: Floats, y: Floats, *, errors: Floats, confidence: float) -> Slope:
    """Slope as the median of the slopes between all pairs of points, with an interval.

    Parameters
    ----------
    x, y : numpy.ndarray
        Points, shape (n,); those with a missing value are passed over.
    errors : numpy.ndarray
        Standard errors of y, NaN where not known, shape (n,).
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    Slope
        The standard error is the larger of two: from the scatter about the line, and from the
        errors of the points. The interval is that error times Student's t for n - 2.

    References
    ----------
    H. Theil, Indag. Math. 12 (1950) 85 and P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379 (slope;
    from memory). Error: that of a straight line by least squares, with residuals about this line.
    """
    known = np.isfinite(x) & np.isfinite(y)
    x, y, errors = x[known], y[known], errors[known]
    points = int(x.size)
    if np.unique(x).size < FEWEST:
        reason = f"{points} usable spectra, {FEWEST} at different times needed"
        return Slope(_NONE, _NONE, _NONE, _NONE, _NONE, _NONE, points, reason)
    slope = float(np.median(pair_slopes(x, y)))
    residuals = y - slope * x
    height = float(np.median(residuals))
    away = x - x.mean()
    spread = float(away @ away)
    residuals = residuals - residuals.mean()
    scatter = float(residuals @ residuals) / (points - 2) / spread
    of_points = np.where(np.isfinite(errors), errors, 0.0)
    carried = float((away**2) @ (of_points**2)) / spread**2
    error = float(np.sqrt(max(scatter, carried)))
    reach = error * float(stdtrit(points - 2, 0.5 + 0.5 * confidence))
    return Slope(
        slope,
        error,
        slope - reach,
        slope + reach,
        height + slope * float(x.min()),
        rank_correlation(x, y),
        points,
        "",
    )


def alike(values: Floats, *, tolerance: float) -> NDArray[np.bool_]:
    """Which values lie near their median; a missing one does not.

    Parameters
    ----------
    values : numpy.ndarray
        Shape (n,).
    tolerance : float
        Largest distance from the median of those known [unit of the values].

    Returns
    -------
    numpy.ndarray of bool
        Shape (n,).
    """
    known = np.isfinite(values)
    near = np.zeros(len(values), dtype=bool)
    if np.any(known):
        near[known] = np.abs(values[known] - np.median(values[known])) <= tolerance
    return near


def share(own: float | None, other: float | None) -> float | None:
    """Share of one electrode in the sum of both [1]; None where one is missing or negative.

    Parameters
    ----------
    own, other : float or None
        Resistances [ohm].
    """
    if own is None or other is None or own < 0 or other < 0 or own + other == 0:
        return None
    return own / (own + other)


def rank_correlation(x: Floats, y: Floats) -> float:
    """Spearman's correlation: that of the ranks, equal values sharing their mean rank [1].

    Parameters
    ----------
    x, y : numpy.ndarray
        Points, shape (n,).

    Returns
    -------
    float
        Between -1 and 1; NaN where one of the two does not vary.
    """
    first, second = (_ranks(values) - (len(values) + 1) / 2 for values in (x, y))
    size = float(np.sqrt((first @ first) * (second @ second)))
    return float(first @ second) / size if size > 0 else _NONE


def _ranks(values: Floats) -> Floats:
    """Ranks from 1, equal values at their mean."""
    _, place, counts = np.unique(values, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts)
    return (ends - (counts - 1) / 2)[place]


@dataclass(frozen=True)
class PerUnit:
    """What one more of something adds, within strata.

    Attributes
    ----------
    estimate, standard_error, lower, upper : float
        Rise per one more, its standard error and limits [unit of y]; NaN where not estimable.
    cells, strata : int
        Cells and strata that tell: those of strata in which the number differs.
    reason : str
        Why it is not estimable; empty otherwise.
    """

    estimate: float
    standard_error: float
    lower: float
    upper: float
    cells: int
    strata: int
    reason: str


def per_unit_within(
    count: Floats, y: Floats, *, stratum: NDArray[np.object_], confidence: float
) -> PerUnit:
    """Regress y on a number of things, with a height of its own for every stratum.

    Parameters
    ----------
    count : numpy.ndarray
        How many each cell has, shape (n,).
    y : numpy.ndarray
        What is explained, NaN where missing, shape (n,).
    stratum : numpy.ndarray of str
        Stratum of each cell, shape (n,).
    confidence : float
        Confidence of the interval [1].

    Returns
    -------
    PerUnit
        Least squares with Student's t for n - strata - 1; `not estimable` with a reason where no
        stratum has cells that differ in the number.

    References
    ----------
    Frisch and Waugh, Econometrica 1 (1933) 387 (heights of strata removed by their means; from
    memory).
    """
    known = np.isfinite(count) & np.isfinite(y)
    telling = [
        mine
        for mine in (known & (stratum == name) for name in np.unique(stratum.astype(str)))
        if np.unique(count[mine]).size > 1
    ]
    cells = int(sum(np.count_nonzero(mine) for mine in telling))
    if not telling:
        reason = "not estimable: the cells of no batch differ in the number"
        if not np.any(known):
            reason = "not estimable: no cell has a number and a value"
        return PerUnit(_NONE, _NONE, _NONE, _NONE, 0, 0, reason)
    across = np.concatenate([count[mine] - count[mine].mean() for mine in telling])
    up = np.concatenate([y[mine] - y[mine].mean() for mine in telling])
    freedom = cells - len(telling) - 1
    estimate = float(across @ up) / float(across @ across)
    if freedom < 1:
        reason = f"no interval: {cells} cells in {len(telling)} batches leave no scatter"
        return PerUnit(estimate, _NONE, _NONE, _NONE, cells, len(telling), reason)
    rest = up - estimate * across
    error = float(np.sqrt((rest @ rest) / freedom / (across @ across)))
    reach = error * float(stdtrit(freedom, 0.5 + 0.5 * confidence))
    return PerUnit(estimate, error, estimate - reach, estimate + reach, cells, len(telling), "")
