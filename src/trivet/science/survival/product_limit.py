"""Survival of one group: product-limit curve, numbers at risk, median, restricted mean."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from scipy.special import ndtri

from trivet.science.lives.delayed_entry import checked_entry

HALF = Fraction(1, 2)

NEGLIGIBLE = 1e-9
"""A share this close to 0 or 1 is 0 or 1 but for rounding."""


MOST_EXACT = 1000
"""Most steps of a curve that are multiplied as fractions."""


@dataclass(frozen=True)
class ProductLimit:
    """A product-limit curve; arrays of shape (n_steps,), one step a distinct time.

    Attributes
    ----------
    time : numpy.ndarray
        Distinct times at which a cell ended or was last seen [unit of the durations].
    at_risk, events, censored : numpy.ndarray
        Cells at risk just before, ends, and cells last seen at the time [1].
    survival : numpy.ndarray
        Estimate from the time on [1].
    standard_error, lower, upper : numpy.ndarray
        Greenwood's standard error and log-log limits [1]; NaN where survival is 0 or 1, since
        the data then say nothing of the error.
    exact : tuple of fractions.Fraction
        The estimate without rounding.
    confidence : float
        Confidence of the limits [1].
    """

    time: np.ndarray
    at_risk: np.ndarray
    events: np.ndarray
    censored: np.ndarray
    survival: np.ndarray
    standard_error: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    exact: tuple[Fraction, ...]
    confidence: float


@dataclass(frozen=True)
class Median:
    """Median with limits [unit of the durations]; NaN: not reached."""

    median: float
    lower: float
    upper: float


@dataclass(frozen=True)
class RestrictedMean:
    """Mean time up to a restriction time, and its standard error [unit of the durations].

    Both are NaN where the curve is not known up to the restriction time.
    """

    mean: float
    standard_error: float
    restriction_time: float


def checked(duration: np.ndarray, observed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Durations as floats and ends as true or false.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].

    Raises
    ------
    ValueError
        Shapes differ, a duration is negative or not finite, `observed` is not 0 or 1.
    """
    times = np.asarray(duration, dtype=float)
    seen = np.asarray(observed)
    if times.ndim != 1 or times.shape != seen.shape:
        raise ValueError(f"durations {times.shape} and ends {seen.shape} must be two equal rows")
    if not np.all(np.isfinite(times)) or np.any(times < 0):
        raise ValueError("a duration is negative or not finite")
    if not np.all((seen == 0) | (seen == 1)):
        raise ValueError("observed must be 1 (end seen) or 0 (censored)")
    return times, seen.astype(bool)


def product_limit(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    entry: np.ndarray | None = None,
    confidence: float = 0.95,
) -> ProductLimit:
    """Product-limit curve with Greenwood's error and log-log limits.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    entry : numpy.ndarray or None
        See `trivet.science.lives.delayed_entry`; a cell is at risk after its entry only.
    confidence : float
        Confidence of the limits [1].

    Returns
    -------
    ProductLimit

    Raises
    ------
    ValueError
        See `checked`.

    References
    ----------
    Kaplan & Meier 1958, J. Am. Stat. Assoc. 53, 457-481. Greenwood 1926. The limits are normal
    for log(-log S), as in Kalbfleisch & Prentice, The Statistical Analysis of Failure Time Data.
    """
    times, seen = checked(duration, observed)
    steps = np.unique(times)
    entered = checked_entry(entry, times)
    at_risk_now = np.array(
        [np.sum((times >= step) & (entered < step)) for step in steps], dtype=int
    )
    events = np.array([np.sum(seen & (times == step)) for step in steps], dtype=int)
    censored = np.array([np.sum(~seen & (times == step)) for step in steps], dtype=int)
    exact = _without_rounding(at_risk_now, events)
    values = np.array([float(value) for value in exact])
    left = at_risk_now - events
    variance_log = np.cumsum(events / np.where(left > 0, at_risk_now * left, np.inf))
    inside = (values > 0) & (values < 1)
    error = np.where(inside, values * np.sqrt(variance_log), np.nan)
    lower, upper = log_log_limits(values, standard_error=error, confidence=confidence)
    return ProductLimit(
        steps, at_risk_now, events, censored, values, error, lower, upper, exact, confidence
    )


def _without_rounding(at_risk_now: np.ndarray, events: np.ndarray) -> tuple[Fraction, ...]:
    """Product of the shares left at each step.

    Beyond `MOST_EXACT` steps fractions grow too long; what is then within rounding of one half
    counts as one half.
    """
    if len(events) > MOST_EXACT:
        rough = np.cumprod(1 - events / at_risk_now)
        return tuple(HALF if abs(value - 0.5) < 1e-11 else Fraction(value)
                     for value in rough)  # fmt: skip
    exact: list[Fraction] = []
    survival = Fraction(1)
    for number, ended in zip(at_risk_now, events, strict=True):
        survival *= Fraction(int(number - ended), int(number))
        exact.append(survival)
    return tuple(exact)


def log_log_limits(
    share: np.ndarray, *, standard_error: np.ndarray, confidence: float
) -> tuple[np.ndarray, np.ndarray]:
    """Limits of a share that are symmetric for log(-log(share)).

    Parameters
    ----------
    share, standard_error : numpy.ndarray
        Estimates and their standard errors, any shape [1].
    confidence : float
        Confidence of the limits [1].

    Returns
    -------
    tuple of numpy.ndarray
        Lower and upper limits [1]; NaN where the share is 0 or 1.
    """
    inside = (share > NEGLIGIBLE) & (share < 1 - NEGLIGIBLE)
    safe = np.where(inside, share, 0.5)
    quantile = float(ndtri(0.5 + confidence / 2))
    with np.errstate(over="ignore"):  # a very wide interval ends at 0 or 1, which is right
        spread = np.exp(quantile * standard_error / np.abs(safe * np.log(safe)))
        lower = np.where(inside, safe**spread, np.nan)
        upper = np.where(inside, safe ** (1 / spread), np.nan)
    return lower, upper


def at_risk(duration: np.ndarray, *, at: np.ndarray, entry: np.ndarray | None = None) -> np.ndarray:
    """Cells still at risk at given times.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    at : numpy.ndarray
        Times, shape (n_times,) [same unit].
    entry : numpy.ndarray or None
        See `trivet.science.lives.delayed_entry`.

    Returns
    -------
    numpy.ndarray
        Cells whose duration is at least the time, shape (n_times,) [1].
    """
    times, points = np.asarray(duration, dtype=float), np.asarray(at)
    entered = checked_entry(entry, times)
    inside = (times[:, None] >= points[None, :]) & (entered[:, None] < points[None, :])
    number: np.ndarray = np.sum(inside, axis=0)
    return number


def median(curve: ProductLimit) -> Median:
    """First time with survival at most one half, decided without rounding.

    The limits are the first times at which the curve's own limits are at most one half.

    Parameters
    ----------
    curve : ProductLimit
        The curve.

    Returns
    -------
    Median

    References
    ----------
    Brookmeyer & Crowley 1982, Biometrics 38, 29-41, with log-log limits.
    """
    first = next((i for i, value in enumerate(curve.exact) if value <= HALF), None)
    return Median(
        median=float("nan") if first is None else float(curve.time[first]),
        lower=_first_time(curve.time, curve.lower),
        upper=_first_time(curve.time, curve.upper),
    )


def _first_time(time: np.ndarray, limit: np.ndarray) -> float:
    """First time at which a limit is at most one half; NaN where it never is."""
    reached = np.flatnonzero(limit <= 0.5)  # NaN compares as false: not estimable, not reached
    return float(time[reached[0]]) if len(reached) else float("nan")


def restricted_mean(curve: ProductLimit, *, restriction_time: float) -> RestrictedMean:
    """Area under a curve up to a time, with its Greenwood-type standard error.

    Parameters
    ----------
    curve : ProductLimit
        The curve.
    restriction_time : float
        Upper end of the area [unit of the durations].

    Returns
    -------
    RestrictedMean
        NaN where the last cell of the group was last seen alive before the restriction time.

    References
    ----------
    Klein & Moeschberger, Survival Analysis, section 4.5: variance = sum A(t)^2 d / (n (n - d)),
    with A(t) the area from t to the restriction time.
    """
    nothing = RestrictedMean(float("nan"), float("nan"), restriction_time)
    if not len(curve.time) or not restriction_time > 0:
        return nothing
    if restriction_time > curve.time[-1] and curve.exact[-1] > 0:
        return nothing
    edges = np.append(np.minimum(curve.time, restriction_time), restriction_time)
    pieces = curve.survival * np.diff(edges)
    after = np.cumsum(pieces[::-1])[::-1]
    left = curve.at_risk - curve.events
    weight = curve.events / np.where(left > 0, curve.at_risk * left, np.inf)
    return RestrictedMean(
        mean=float(edges[0] + np.sum(pieces)),
        standard_error=float(np.sqrt(np.sum(after**2 * weight))),
        restriction_time=restriction_time,
    )
