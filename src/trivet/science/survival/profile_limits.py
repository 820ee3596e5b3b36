"""Limits and p from a profile likelihood, with a correction for few ends."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq
from scipy.special import stdtr, stdtrit

FARTHEST = 40.0
"""Distance in log time, or log spread, beyond which a limit counts as not reached."""
NO_LIMIT = float("nan")


def deviance_cut(confidence: float, *, events: int, locations: int) -> float:
    """Drop of twice the log-likelihood that bounds an interval, for few events.

    Without censoring and with normal W, d log(1 + t^2 / (d - q)) makes the interval of a
    location exact, with d ends, q locations and t the quantile of Student's t with d - q degrees
    of freedom; it tends to the chi-squared quantile. Elsewhere it is an approximation.

    Parameters
    ----------
    confidence : float
        Confidence of the interval [1].
    events, locations : int
        Ends seen and columns of the location; there must be more ends than columns [1].

    Returns
    -------
    float
        The drop [1].
    """
    freedom = events - locations
    quantile = float(stdtrit(freedom, 0.5 + confidence / 2))
    return float(events * np.log1p(quantile**2 / freedom))


def deviance_p(drop: float, *, events: int, locations: int) -> float:
    """Two-sided p of a drop of twice the log-likelihood [1], the inverse of `deviance_cut`."""
    freedom = events - locations
    quantile = np.sqrt(freedom * np.expm1(max(drop, 0.0) / events))
    return float(2 * stdtr(freedom, -quantile))


def profile_limits(
    profile: Callable[[float], float], *, best: float, highest: float, step: float, cut: float
) -> tuple[float, float]:
    """Values at which twice a profile log-likelihood has dropped by a cut.

    Parameters
    ----------
    profile : callable
        Log-likelihood at a value of the parameter.
    best, highest : float
        Estimate, and the log-likelihood there.
    step : float
        First step away from the estimate, such as a standard error.
    cut : float
        Drop of twice the log-likelihood [1].

    Returns
    -------
    tuple of float
        Lower and upper limit; NaN where the profile never drops as far.
    """

    def gap(value: float) -> float:
        return max(2 * (highest - profile(value)), 0.0) - cut

    limits = []
    for direction in (-1.0, 1.0):
        inner, reach = 0.0, max(step, 1e-6)
        while reach < FARTHEST and not gap(best + direction * reach) > 0:
            inner, reach = reach, 2 * reach
        if reach >= FARTHEST or not np.isfinite(gap(best + direction * reach)):
            limits.append(NO_LIMIT)
            continue
        root = brentq(lambda away, sign=direction: gap(best + sign * away), inner, reach, xtol=1e-9)
        limits.append(best + direction * float(root))
    return limits[0], limits[1]
