"""Weibull life of a group, and the ratio of times between two groups."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trivet.science.lives.shared_strata import in_shared_strata
from trivet.science.survival.location_scale import (
    Data,
    Family,
    Fit,
    fit,
    profile_location,
    profile_spread,
)
from trivet.science.survival.product_limit import checked
from trivet.science.survival.profile_limits import deviance_cut, deviance_p, profile_limits

FEWEST_WEIBULL_EVENTS = 3
"""With fewer ends a shape says nothing (common practice, no source)."""

FEWEST_GROUP_EVENTS = 2
"""Ends that each group needs for a time ratio, in batches that hold both groups."""

LOG_TENTH = float(np.log(-np.log(0.9)))
"""Value of the smallest-extreme-value law below which one in ten lies."""

NAN = float("nan")


@dataclass(frozen=True)
class Interval:
    """Limits at a confidence; NaN: no limit on this side."""

    lower: float
    upper: float
    confidence: float


NO_INTERVAL = Interval(NAN, NAN, NAN)


@dataclass(frozen=True)
class WeibullLife:
    """Weibull life of one group.

    Attributes
    ----------
    shape, scale, b10 : float
        Shape [1], scale and time by which one in ten has ended [unit of the durations]; NaN
        where not estimable.
    shape_interval, scale_interval, b10_interval : Interval
        Profile-likelihood limits for few events.
    log_likelihood : float
        At the maximum.
    reason : str
        Why nothing is estimated; empty otherwise.
    """

    shape: float = NAN
    scale: float = NAN
    b10: float = NAN
    shape_interval: Interval = NO_INTERVAL
    scale_interval: Interval = NO_INTERVAL
    b10_interval: Interval = NO_INTERVAL
    log_likelihood: float = NAN
    reason: str = ""


@dataclass(frozen=True)
class TimeRatio:
    """Ratio of times, group over control, at equal share ended.

    Attributes
    ----------
    estimate : float
        Ratio [1]; NaN where not estimable.
    intervals : tuple of Interval
        One for each confidence asked.
    log_standard_error : float
        Standard error of the logarithm of the ratio, from the observed information [1].
    statistic, p : float
        Twice the log-likelihood lost at a ratio of 1, and its two-sided p for few events [1].
    spread : float
        Scale of log time, common to all [1]; one over the Weibull shape.
    log_likelihood : float
        At the maximum.
    reason : str
        Why nothing is estimated; empty otherwise.
    """

    estimate: float = NAN
    intervals: tuple[Interval, ...] = ()
    log_standard_error: float = NAN
    statistic: float = NAN
    p: float = NAN
    spread: float = NAN
    log_likelihood: float = NAN
    reason: str = ""


def weibull(duration: np.ndarray, *, observed: np.ndarray, confidence: float = 0.95) -> WeibullLife:
    """Weibull shape, scale and B10 life with profile-likelihood limits.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    confidence : float
        Confidence of the limits [1].

    Returns
    -------
    WeibullLife

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3. Limits: see
    `trivet.science.survival.profile_limits.deviance_cut`.
    """
    times, seen = checked(duration, observed)
    events = int(seen.sum())
    if events < FEWEST_WEIBULL_EVENTS:
        return WeibullLife(reason=f"too few ends for a Weibull life: {events}, at least 3 needed")
    if np.any(seen & (times == 0)):
        return WeibullLife(reason="no Weibull life: an end at time 0 has no logarithm")
    used = times > 0  # a cell censored at 0 says nothing
    data = Data(np.log(times[used]), seen[used], np.ones((int(used.sum()), 1)), "weibull")
    best = fit(data)
    if best is None:
        return WeibullLife(reason="no Weibull life: the ends fall together")
    return _weibull_life(data, best, confidence)


def _weibull_life(data: Data, best: Fit, confidence: float) -> WeibullLife:
    """Limits around a fitted Weibull life."""
    cut = deviance_cut(confidence, events=int(data.seen.sum()), locations=1)
    location, spread = float(best.coefficients[0]), best.spread
    variance = best.covariance
    tenth = location + LOG_TENTH * spread
    gradient = np.array([1.0, LOG_TENTH * spread])
    highest = best.log_likelihood
    scale = profile_limits(
        lambda value: profile_location(data, value),
        best=location, highest=highest, step=float(np.sqrt(variance[0, 0])), cut=cut,
    )  # fmt: skip
    b10 = profile_limits(
        lambda value: profile_location(data, value, anchor=LOG_TENTH),
        best=tenth, highest=highest, step=float(np.sqrt(gradient @ variance @ gradient)), cut=cut,
    )  # fmt: skip
    log_spread = profile_limits(
        lambda value: profile_spread(data, value),
        best=float(np.log(spread)), highest=highest, step=float(np.sqrt(variance[1, 1])), cut=cut,
    )  # fmt: skip
    return WeibullLife(
        shape=1 / spread,
        scale=float(np.exp(location)),
        b10=float(np.exp(tenth)),
        shape_interval=Interval(
            float(np.exp(-log_spread[1])), float(np.exp(-log_spread[0])), confidence
        ),
        scale_interval=Interval(float(np.exp(scale[0])), float(np.exp(scale[1])), confidence),
        b10_interval=Interval(float(np.exp(b10[0])), float(np.exp(b10[1])), confidence),
        log_likelihood=highest,
    )


def time_ratio(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None = None,
    family: Family = "weibull",
    confidences: tuple[float, ...] = (0.95,),
) -> TimeRatio:
    """Ratio of times of group 1 over group 0, with a location of its own for each stratum.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    group : numpy.ndarray
        1 for the group, 0 for the control, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: one stratum.
    family : Family
        `weibull` or `lognormal`.
    confidences : tuple of float
        Confidences of the intervals [1].

    Returns
    -------
    TimeRatio

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.

    References
    ----------
    Accelerated failure time model: Klein & Moeschberger, Survival Analysis, chapter 12.
    Intervals: see `trivet.science.survival.profile_limits.deviance_cut`.
    """
    times, seen = checked(duration, observed)
    treated = np.asarray(group).astype(bool)
    labels = np.zeros(len(times), dtype=int) if stratum is None else np.asarray(stratum)
    reason = _too_little(times, seen, treated, labels)
    if reason:
        return TimeRatio(reason=reason)
    # A stratum without an end, or a cell censored at 0, leaves the likelihood as it is.
    used = (times > 0) & np.isin(labels, np.unique(labels[seen]))
    levels = np.unique(labels[used])
    design = np.column_stack([treated[used], labels[used][:, None] == levels[None, :]])
    data = Data(np.log(times[used]), seen[used], design.astype(float), family)
    events = int(seen.sum())
    if events <= design.shape[1]:
        return TimeRatio(
            reason=f"no time ratio: {events} ends for {design.shape[1]} locations and a spread"
        )
    best = fit(data)
    if best is None:
        return TimeRatio(reason="no time ratio: the likelihood has no maximum")
    return _ratio(data, best, events, confidences)


def _too_little(
    times: np.ndarray, seen: np.ndarray, treated: np.ndarray, labels: np.ndarray
) -> str:
    """Why two groups can't give a time ratio; empty where they may."""
    if np.any(seen & (times == 0)):
        return "no time ratio: an end at time 0 has no logarithm"
    both = in_shared_strata(treated, stratum=labels)
    if not np.any(both):
        return "no time ratio: no batch holds cells of both groups"
    ends = [int(np.sum(seen & both & side)) for side in (treated, ~treated)]
    if min(ends) < FEWEST_GROUP_EVENTS:
        return (
            f"no time ratio: {ends[0]} ends in the group and {ends[1]} in the control that can "
            f"be compared, at least {FEWEST_GROUP_EVENTS} each needed"
        )
    return ""


def _ratio(data: Data, best: Fit, events: int, confidences: tuple[float, ...]) -> TimeRatio:
    """Intervals and test around a fitted time ratio."""
    effect, locations = float(best.coefficients[0]), data.design.shape[1]
    error = float(np.sqrt(best.covariance[0, 0]))
    drop = 2 * (best.log_likelihood - profile_location(data, 0.0))
    result = TimeRatio(
        estimate=float(np.exp(effect)),
        log_standard_error=error,
        statistic=drop,
        p=deviance_p(drop, events=events, locations=locations),
        spread=best.spread,
        log_likelihood=best.log_likelihood,
    )
    intervals = []
    for confidence in confidences:
        lower, upper = profile_limits(
            lambda value: profile_location(data, value),
            best=effect,
            highest=best.log_likelihood,
            step=error,
            cut=deviance_cut(confidence, events=events, locations=locations),
        )
        intervals.append(Interval(float(np.exp(lower)), float(np.exp(upper)), confidence))
    return replace(result, intervals=tuple(intervals))
