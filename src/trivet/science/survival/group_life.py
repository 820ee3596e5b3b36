"""Life of one group: curve, median, restricted mean and Weibull life together."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from trivet.science.survival.beta_product import (
    beta_product_limits,
    beta_product_median,
    beta_product_start,
)
from trivet.science.survival.interval_censored import turnbull
from trivet.science.survival.parametric import WeibullLife, weibull
from trivet.science.survival.probability_plot import plotting_positions
from trivet.science.survival.product_limit import (
    Median,
    ProductLimit,
    RestrictedMean,
    median,
    product_limit,
    restricted_mean,
)

BETWEEN_CHECKS = "no limits, no mean and no Weibull life: the ends are known only between checks"
MOST_TIMES = 7
"""Most times at which the cells at risk are given."""


@dataclass(frozen=True)
class GroupLife:
    """Life of one group.

    Attributes
    ----------
    cells, events : int
        Cells and ends seen [1].
    curve, median, restricted_mean, weibull
        Its estimates.
    plotting_position : numpy.ndarray
        Share ended at each end, for a probability plot, shape (n_steps,) [1].
    beta_lower, beta_upper : numpy.ndarray
        Beta product limits of the curve, shape (n_steps,) [1]; NaN with delayed entry.
    median_beta : tuple of float
        Limits of the median from them [unit of the durations].
    start_lower : float
        Beta product lower limit of survival before the first end [1]; NaN with delayed entry.
    reason : str
        Why some are missing; empty where none is.
    """

    cells: int
    events: int
    curve: ProductLimit
    plotting_position: np.ndarray
    beta_lower: np.ndarray
    beta_upper: np.ndarray
    median: Median
    median_beta: tuple[float, float]
    start_lower: float
    restricted_mean: RestrictedMean
    weibull: WeibullLife
    reason: str


def group_life(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    restriction_time: float,
    confidence: float,
    entry: np.ndarray | None = None,
) -> GroupLife:
    """Estimate the life of one group.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    restriction_time : float
        Upper end of the restricted mean [unit of the durations].
    confidence : float
        Confidence of the limits [1].
    entry : numpy.ndarray or None
        Delayed entry, see `trivet.science.lives.delayed_entry.checked_entry`.

    Returns
    -------
    GroupLife

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.
    """
    curve = product_limit(duration, observed=observed, entry=entry, confidence=confidence)
    delayed = entry is not None and bool(np.any(entry > 0))
    beta = beta_product_limits(curve, confidence=confidence)
    middle_beta = beta_product_median(curve, confidence=confidence)
    if delayed:
        middle_beta = (float("nan"), float("nan"))
        beta = (np.full(len(curve.time), np.nan), np.full(len(curve.time), np.nan))
    middle = median(curve)
    area = restricted_mean(curve, restriction_time=restriction_time)
    life = (
        WeibullLife(reason="no Weibull life: cells entered after their start")
        if delayed
        else weibull(duration, observed=observed, confidence=confidence)
    )
    missing = [life.reason]
    if np.isnan(middle.median):
        missing.append("median not reached")
    if np.isnan(area.mean):
        missing.append(f"not followed up to the restriction time {restriction_time:.6g}")
    return GroupLife(
        cells=len(duration),
        events=int(np.sum(observed)),
        curve=curve,
        plotting_position=plotting_positions(curve),
        beta_lower=beta[0],
        beta_upper=beta[1],
        median=middle,
        median_beta=middle_beta,
        start_lower=float("nan")
        if delayed
        else beta_product_start(len(duration), confidence=confidence),
        restricted_mean=area,
        weibull=life,
        reason="; ".join(part for part in missing if part),
    )


def between_checks(lower: np.ndarray, *, upper: np.ndarray) -> GroupLife:
    """Estimate the life of one group whose ends are known only between checks.

    Parameters
    ----------
    lower, upper : numpy.ndarray
        Bounds as in `trivet.science.survival.interval_censored.turnbull`, shape (n_cells,).

    Returns
    -------
    GroupLife
        Curve and median by the ends of the intervals that hold the ends; no limits, no mean and
        no Weibull life, with the reason.
    """
    found = turnbull(lower, upper=upper)
    seen = np.isfinite(upper)
    times = np.unique(np.concatenate([found.upper, lower[~seen]]))
    left = np.concatenate([[1.0], found.survival])
    survival = left[np.searchsorted(found.upper, times, side="right")]
    nothing = np.full(len(times), np.nan)
    curve = ProductLimit(
        time=times,
        at_risk=np.array([int(np.sum(np.where(seen, upper, lower) >= time)) for time in times]),
        events=np.array([int(np.sum(seen & (upper == time))) for time in times]),
        censored=np.array([int(np.sum(~seen & (lower == time))) for time in times]),
        survival=survival,
        standard_error=nothing,
        lower=nothing,
        upper=nothing,
        exact=tuple(Fraction(float(value)) for value in survival),
        confidence=float("nan"),
    )
    reached = found.upper[found.survival <= 0.5 + 1e-9]
    nan = float("nan")
    return GroupLife(
        cells=len(lower),
        events=int(seen.sum()),
        curve=curve,
        plotting_position=nothing,
        beta_lower=nothing,
        beta_upper=nothing,
        median=Median(float(reached[0]) if len(reached) else nan, nan, nan),
        median_beta=(nan, nan),
        start_lower=nan,
        restricted_mean=RestrictedMean(nan, nan, nan),
        weibull=WeibullLife(reason=BETWEEN_CHECKS),
        reason=BETWEEN_CHECKS + ("" if len(reached) else "; median not reached"),
    )


def restriction_time(duration: np.ndarray, *, group: np.ndarray) -> float:
    """Shortest follow-up of the groups: up to it every curve is known.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    group : numpy.ndarray
        Number of the group, shape (n_cells,) [1].

    Returns
    -------
    float
        Smallest of the groups' last times [unit of the durations], groups that were never
        followed left out; 0 where none was.
    """
    last = [float(duration[group == number].max()) for number in np.unique(group)]
    return min((value for value in last if value > 0), default=0.0)


def round_times(longest: float) -> np.ndarray:
    """Round times from 0 to the longest follow-up, 1, 2 or 5 times a power of ten apart.

    Parameters
    ----------
    longest : float
        Longest follow-up [hours or cycles].

    Returns
    -------
    numpy.ndarray
        At most `MOST_TIMES` times.
    """
    if not longest > 0:
        return np.zeros(1)
    power = 10.0 ** np.floor(np.log10(longest / MOST_TIMES))
    step = next(s * power for s in (1, 2, 5, 10, 20) if longest / (s * power) < MOST_TIMES)
    times: np.ndarray = np.arange(int(longest / step) + 1) * step
    return times
