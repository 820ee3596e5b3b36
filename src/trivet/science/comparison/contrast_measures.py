"""Single measures of a contrast: tests and effects, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from trivet.science.comparison.verdict import widest
from trivet.science.lives.lives import Lives
from trivet.science.survival.exact_log_rank import ExactLogRank
from trivet.science.survival.gray import gray
from trivet.science.survival.hazard import hazard_ratio
from trivet.science.survival.log_rank import LogRank
from trivet.science.survival.parametric import Interval, TimeRatio
from trivet.science.survival.product_limit import product_limit, restricted_mean

NAN = float("nan")

FEWEST_TRUSTED_ENDS = 4
"""With fewer ends in a group the interval of a ratio is descriptive; source: our calibration."""


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


def log_rank_measures(
    exact: ExactLogRank,
    asymptotic: LogRank,
    *,
    stratified: bool,
    group: int | None,
    between: bool = False,
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
    between : bool
        Whether the exact test uses scores of lives known only between checks.

    Returns
    -------
    tuple of Measure
    """
    seen = expected = NAN
    if group is not None:
        # a group of which no cell counts comes after the last that the test knows
        known = group < len(asymptotic.observed_events)
        seen = float(asymptotic.observed_events[group]) if known else 0.0
        expected = float(asymptotic.expected_events[group]) if known else 0.0
    nothing = "" if np.isfinite(exact.p) else "nothing to compare"
    total = permutations_in_words(exact.permutations)
    how = f"{total} permutations enumerated"
    if exact.draws:
        how = (
            f"{exact.draws} of {total} permutations drawn; "
            f"99 % interval of p {exact.p_lower:.2g} to {exact.p_upper:.2g}"
        )
    if group is None:
        how = f"quadratic form of all groups' ends less expected, permutation covariance; {how}"
    if between:
        how = f"scores of lives known only between checks; {how}"
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


def permutations_in_words(number: int) -> str:
    """Give a number of permutations that may have thousands of digits."""
    return str(number) if number < 10**15 else "more than 1e15"


def has_few_ends(observed: np.ndarray, group: np.ndarray) -> bool:
    """Whether a group has fewer ends than a ratio's interval can be trusted with.

    With so few a ratio often exists only because cells happened to end early, and leans their way.

    Parameters
    ----------
    observed, group : numpy.ndarray
        As in `trivet.science.comparison.contrast.contrast`.
    """
    return any(np.sum(observed[group == number]) < FEWEST_TRUSTED_ENDS for number in (0, 1))


def ratio_measure(name: str, ratio: TimeRatio, stratified: bool, *, few: bool) -> Measure:
    """Time ratio as a measure, with its interval at the confidence of the comparison."""
    if ratio.reason:
        return Measure(name, stratified, reason=ratio.reason)
    interval: Interval = ratio.intervals[0]
    open_sides = not (np.isfinite(interval.lower) and np.isfinite(interval.upper))
    notes = ["the likelihood sets no limit on one side"] if open_sides else []
    notes += ["descriptive: a group has fewer than four ends"] if few else []
    return Measure(
        name,
        stratified,
        statistic=ratio.statistic,
        estimate=ratio.estimate,
        lower=interval.lower,
        upper=interval.upper,
        confidence=interval.confidence,
        p=ratio.p,
        reason="; ".join(notes),
    )


def equivalence_measure(ratio: TimeRatio, lognormal: TimeRatio, stratified: bool) -> Measure:
    """Interval that decides on equivalence: the wider of both laws, at its own confidence.

    Under one law alone few cells call lives of the other law the same too often.
    """
    name = "time ratio for equivalence"
    if ratio.reason or lognormal.reason:
        return Measure(name, stratified, reason=ratio.reason or lognormal.reason)
    both = [each.intervals[1] for each in (ratio, lognormal)]
    lower, upper = widest([(each.lower, each.upper) for each in both])
    return Measure(
        name,
        stratified,
        estimate=ratio.estimate,
        lower=lower,
        upper=upper,
        confidence=both[0].confidence,
        reason="holds the limits of the Weibull and of the lognormal model",
    )


def restricted_difference(lives: Lives, confidence: float, restriction_time: float) -> Measure:
    """Difference of restricted means; without a p, which would be too small for few cells."""
    name = "restricted mean difference"
    means = []
    for number in (1, 0):
        own = lives.of(lives.group == number)
        curve = product_limit(own.duration, observed=own.observed, entry=own.entered)
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


def hazard_measure(lives: Lives, confidence: float) -> Measure:
    """Hazard ratio as a measure."""
    ratio = hazard_ratio(lives.duration, **lives.arms, entry=lives.entered, confidence=confidence)
    penalised = "Firth's penalty: a group has fewer than two ends, or no overlap"
    open_sides = not (np.isfinite(ratio.lower) and np.isfinite(ratio.upper))
    notes = [penalised] if ratio.penalised else []
    notes += ["the likelihood sets no limit on one side"] if open_sides else []
    notes += ["descriptive: too narrow for few ends"]
    return Measure(
        "hazard ratio",
        lives.batch is not None,
        statistic=ratio.statistic,
        estimate=ratio.estimate,
        lower=ratio.lower,
        upper=ratio.upper,
        confidence=NAN if ratio.reason else confidence,
        p=ratio.p,
        reason=ratio.reason or "; ".join(notes),
    )


def gray_measures(lives: Lives) -> tuple[Measure, ...]:
    """Gray's test of each cause, where there are several."""
    if lives.cause is None or len(lives.causes) < 2 or lives.delayed:
        return ()
    found = []
    for place, name in enumerate(lives.causes, start=1):
        test = gray(
            lives.duration, cause=lives.cause, of=place, group=lives.group, stratum=lives.batch
        )
        found.append(
            Measure(
                f"Gray: {name}",
                lives.batch is not None,
                statistic=test.statistic,
                p=test.p,
                reason="descriptive: asymptotic, the other causes competing"
                if np.isfinite(test.p)
                else "nothing to compare",
            )
        )
    return tuple(found)
