"""Holm's adjustment, and the verdict of a contrast."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

Verdict = Literal["different", "equivalent", "inconclusive", "not estimable"]

ROUNDING = 1e-12
"""A p that equals its limit but for rounding is at the limit."""


def holm(p: np.ndarray) -> np.ndarray:
    """Holm's step-down adjustment of a family of p values.

    Parameters
    ----------
    p : numpy.ndarray
        Shape (n_contrasts,) [1]; NaN where there is none, which then does not count.

    Returns
    -------
    numpy.ndarray
        Adjusted, shape (n_contrasts,) [1].

    References
    ----------
    Holm 1979, Scand. J. Stat. 6, 65-70.
    """
    values = np.asarray(p, dtype=float)
    adjusted = np.full(len(values), np.nan)
    order = [place for place in np.argsort(values, kind="stable") if np.isfinite(values[place])]
    highest = 0.0
    for rank, place in enumerate(order):
        highest = max(highest, min(1.0, float(values[place]) * (len(order) - rank)))
        adjusted[place] = highest
    return adjusted


def verdict(
    *,
    confounded: bool,
    p_adjusted: float,
    p_adjusted_upper: float,
    interval: Sequence[float],
    margin: float,
    alpha: float,
) -> Verdict:
    """Verdict of one contrast.

    Parameters
    ----------
    confounded : bool
        Whether no batch holds cells of both groups.
    p_adjusted, p_adjusted_upper : float
        Exact p over the contrasts, and the same of the upper ends of the intervals of drawn p [1].
    interval : sequence of float
        Lower and upper limit of the time ratio at the confidence of equivalence [1].
    margin : float
        Largest ratio that still counts as the same [1].
    alpha : float
        Level of the test [1].

    Returns
    -------
    Verdict
        The first that holds: `not estimable`, `equivalent` (a difference may be significant
        too), `different`, `inconclusive`.
    """
    if confounded or not np.isfinite(p_adjusted):
        return "not estimable"
    lower, upper = interval
    if lower >= 1 / margin and upper <= margin:  # false where a limit is missing
        return "equivalent"
    if max(p_adjusted, p_adjusted_upper) <= alpha + ROUNDING:
        return "different"
    return "inconclusive"


def widest(intervals: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Interval that holds all of several; without a limit on a side where one has none.

    Parameters
    ----------
    intervals : sequence of tuple of float
        Lower and upper limits; NaN where there is no limit.

    Returns
    -------
    tuple of float
        Lower and upper limit; NaN where there is none, or no interval was given.
    """
    if not intervals:
        return float("nan"), float("nan")
    lower, upper = np.asarray(intervals, dtype=float).T
    return float(np.min(lower)), float(np.max(upper))  # NaN goes through both, as it must
