"""Every measure of one contrast: a group against its control."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtri

from trivet.science.exact_log_rank import ExactLogRank, exact_log_rank
from trivet.science.hazard import hazard_ratio
from trivet.science.log_rank import LogRank, log_rank
from trivet.science.parametric import Interval, TimeRatio, time_ratio
from trivet.science.survival import product_limit, restricted_mean

NAN = float("nan")


@dataclass(frozen=True)
class Measure:
    """One measure of a contrast; NaN where it has no such value.

    Attributes
    ----------
    measure : str
        Its name.
    stratified : bool
        Whether it works within strata.
    statistic : float
        Test statistic [1].
    observed_events, expected_events : float
        Ends seen and expected in the group [1].
    estimate, lower, upper : float
        Effect of group over control, and its limits [1, or the unit of the durations].
    confidence : float
        Confidence of the limits [1].
    p, smallest_attainable_p : float
        Two-sided p, and the smallest that these groups could give [1].
    reason : str
        Why a value is missing, or how it was got; empty otherwise.
    """

    measure: str
    stratified: bool
    statistic: float = NAN
    observed_events: float = NAN
    expected_events: float = NAN
    estimate: float = NAN
    lower: float = NAN
    upper: float = NAN
    confidence: float = NAN
    p: float = NAN
    smallest_attainable_p: float = NAN
    reason: str = ""


@dataclass(frozen=True)
class Contrast:
    """A group against its control.

    Attributes
    ----------
    exact : ExactLogRank
        Primary test.
    ratio : TimeRatio
        Primary effect; its intervals are at the confidence, then at that of equivalence.
    measures : tuple of Measure
        Every measure, the primary test first.
    """

    exact: ExactLogRank
    ratio: TimeRatio
    measures: tuple[Measure, ...]

    def measure(self, name: str) -> Measure:
        """Measure of a name."""
        return next(measure for measure in self.measures if measure.measure == name)


@dataclass(frozen=True)
class Drawing:
    """How the exact test enumerates or draws: see `exact_log_rank`."""

    enumeration_limit: int = 200_000
    draws: int = 200_000
    seed: int = 0


def contrast(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    confidence: float,
    contrasts: int,
    restriction_time: float,
    drawing: Drawing,
) -> Contrast:
    """Every measure of group 1 over group 0.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    group : numpy.ndarray
        1 for the group, 0 for the control, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: not stratified.
    confidence : float
        Confidence of the intervals; alpha is 1 less this [1].
    contrasts : int
        Contrasts of the family; alpha of equivalence is divided by them [1].
    restriction_time : float
        Upper end of the restricted means [unit of the durations].
    drawing : Drawing
        How the exact test enumerates or draws.

    Returns
    -------
    Contrast

    Raises
    ------
    ValueError
        See `trivet.science.survival.checked`.

    References
    ----------
    Equivalence by an interval at 1 - 2 alpha: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15,
    657-680; alpha over the number of contrasts: Lauzon & Caffo 2009, Am. Stat. 63, 147-154.
    """
    alpha = 1 - confidence
    equivalence = round(1 - 2 * alpha / contrasts, 12)
    data: dict[str, Any] = {"observed": observed, "group": group, "stratum": stratum}
    exact = exact_log_rank(
        duration,
        **data,
        enumeration_limit=drawing.enumeration_limit,
        draws=drawing.draws,
        seed=drawing.seed,
        thresholds=[alpha / step for step in range(1, contrasts + 1)],
    )
    asymptotic = log_rank(duration, **data)
    ratio = time_ratio(duration, **data, confidences=(confidence, equivalence))
    lognormal = time_ratio(duration, **data, family="lognormal", confidences=(confidence,))
    within = stratum is not None
    measures = (
        *log_rank_measures(exact, asymptotic, stratified=within, group=1),
        _ratio_measure("time ratio", ratio, within, 0),
        _ratio_measure("time ratio for equivalence", ratio, within, 1),
        _ratio_measure("time ratio lognormal", lognormal, within, 0),
        _restricted_difference(duration, observed, group, confidence, restriction_time),
        _hazard_measure(duration, observed, group, stratum, confidence),
    )
    return Contrast(exact, ratio, measures)


def log_rank_measures(
    exact: ExactLogRank, asymptotic: LogRank, *, stratified: bool, group: int | None
) -> tuple[Measure, Measure]:
    """Exact and asymptotic log-rank as measures.

    Parameters
    ----------
    exact, asymptotic : ExactLogRank, LogRank
        The two tests.
    stratified : bool
        Whether they work within strata.
    group : int or None
        Group whose ends are given; None for an overall test [1].

    Returns
    -------
    tuple of Measure
    """
    seen = expected = NAN
    if group is not None:
        seen = float(asymptotic.observed_events[group])
        expected = float(asymptotic.expected_events[group])
    nothing = "" if np.isfinite(exact.p) else "nothing to compare"
    how = f"{exact.permutations} permutations enumerated"
    if exact.draws:
        how = (
            f"{exact.draws} of {exact.permutations} permutations drawn; "
            f"99 % interval of p {exact.p_lower:.2g} to {exact.p_upper:.2g}"
        )
    if group is None:
        how = f"quadratic form of all groups' ends less expected, permutation covariance; {how}"
    first = Measure(
        measure="exact log-rank",
        stratified=stratified,
        statistic=exact.statistic,
        observed_events=seen,
        expected_events=expected,
        p=exact.p,
        smallest_attainable_p=exact.smallest_attainable_p,
        reason=nothing or how,
    )
    second = Measure(
        measure="log-rank",
        stratified=stratified,
        statistic=asymptotic.statistic,
        observed_events=seen,
        expected_events=expected,
        p=asymptotic.p,
        reason="" if np.isfinite(asymptotic.p) else "nothing to compare",
    )
    return first, second


def _ratio_measure(name: str, ratio: TimeRatio, stratified: bool, place: int) -> Measure:
    """Time ratio as a measure, with one of its intervals."""
    if ratio.reason:
        return Measure(name, stratified, reason=ratio.reason)
    interval: Interval = ratio.intervals[place]
    open_sides = not (np.isfinite(interval.lower) and np.isfinite(interval.upper))
    return Measure(
        name,
        stratified,
        statistic=NAN if place else ratio.statistic,  # the test stands once, with the effect
        estimate=ratio.estimate,
        lower=interval.lower,
        upper=interval.upper,
        confidence=interval.confidence,
        p=NAN if place else ratio.p,
        reason="the likelihood sets no limit on one side" if open_sides else "",
    )


def _restricted_difference(
    duration: np.ndarray,
    observed: np.ndarray,
    group: np.ndarray,
    confidence: float,
    restriction_time: float,
) -> Measure:
    """Difference of restricted means; without a p, which would be too small for few cells."""
    name = "restricted mean difference"
    means = []
    for number in (1, 0):
        own = group == number
        curve = product_limit(duration[own], observed=observed[own])
        means.append(restricted_mean(curve, restriction_time=restriction_time))
    difference = means[0].mean - means[1].mean
    if not np.isfinite(difference):
        reason = f"a group was not followed up to the restriction time {restriction_time:.6g}"
        return Measure(name, False, reason=reason)
    error = float(np.hypot(means[0].standard_error, means[1].standard_error))
    if not error > 0:
        return Measure(name, False, estimate=difference, reason="no spread, so no interval")
    reach = float(ndtri(0.5 + confidence / 2)) * error
    return Measure(
        name,
        False,
        estimate=difference,
        lower=difference - reach,
        upper=difference + reach,
        confidence=confidence,
        reason=f"up to {restriction_time:.6g}; descriptive: its normal interval is too narrow "
        "for few cells",
    )


def _hazard_measure(
    duration: np.ndarray,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    confidence: float,
) -> Measure:
    """Hazard ratio as a measure."""
    ratio = hazard_ratio(
        duration, observed=observed, group=group, stratum=stratum, confidence=confidence
    )
    penalised = "Firth's penalty: a group has fewer than two ends, or no overlap"
    open_sides = not (np.isfinite(ratio.lower) and np.isfinite(ratio.upper))
    notes = [penalised] if ratio.penalised else []
    notes += ["the likelihood sets no limit on one side"] if open_sides else []
    return Measure(
        "hazard ratio",
        stratum is not None,
        statistic=ratio.statistic,
        estimate=ratio.estimate,
        lower=ratio.lower,
        upper=ratio.upper,
        confidence=NAN if ratio.reason else confidence,
        p=ratio.p,
        reason=ratio.reason or "; ".join(notes),
    )
