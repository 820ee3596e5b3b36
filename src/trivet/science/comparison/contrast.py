"""Every measure of one contrast: a group against its control."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from trivet.science.comparison.contrast_measures import (
    Measure,
    equivalence_measure,
    gray_measures,
    has_few_ends,
    hazard_measure,
    log_rank_measures,
    ratio_measure,
    restricted_difference,
)
from trivet.science.lives.lives import Lives
from trivet.science.survival.exact_log_rank import ExactLogRank, exact_score_test
from trivet.science.survival.interval_censored import interval_scores
from trivet.science.survival.log_rank import log_rank, log_rank_scores
from trivet.science.survival.parametric import TimeRatio, time_ratio

BETWEEN_CHECKS = "not estimable: the ends are known only between checks"
NO_ENTRY_RATIO = "no time ratio: cells entered after their start, which its model does not take in"


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
class MonteCarlo:
    """How the exact test enumerates or draws: see `exact_log_rank`."""

    enumeration_limit: int = 1_500_000
    draws: int = 200_000
    seed: int = 0

    @property
    def arguments(self) -> dict[str, Any]:
        """The same as the exact tests take it."""
        return asdict(self)


def contrast(
    lives: Lives,
    *,
    confidence: float,
    contrasts: int,
    restriction_time: float,
    drawing: MonteCarlo,
) -> Contrast:
    """Every measure of group 1 over group 0.

    Parameters
    ----------
    lives : Lives
        Lives of both groups; stratified where they have batches.
    confidence : float
        Confidence of the intervals; alpha is 1 less this [1].
    contrasts : int
        Contrasts of the family; alpha of equivalence is divided by them [1].
    restriction_time : float
        Upper end of the restricted means [unit of the durations].
    drawing : MonteCarlo
        How the exact test enumerates or draws.

    Returns
    -------
    Contrast

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.

    References
    ----------
    Equivalence by an interval at 1 - 2 alpha: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15,
    657-680; alpha over the number of contrasts: Lauzon & Caffo 2009, Am. Stat. 63, 147-154.
    """
    alpha = 1 - confidence
    thresholds = tuple(alpha / step for step in range(1, contrasts + 1))
    exact = primary_test(lives, drawing=drawing, thresholds=thresholds)
    asymptotic = log_rank(lives.duration, **lives.arms, entry=lives.entered)
    confidences = (confidence, equivalence_confidence(confidence, contrasts=contrasts))
    between = lives.between_checks
    if lives.delayed or between:
        ratio = lognormal = TimeRatio(reason=no_ratio(lives))
    else:
        data: dict[str, Any] = lives.arms | {"confidences": confidences}
        ratio = time_ratio(lives.duration, **data)
        lognormal = time_ratio(lives.duration, **data, family="lognormal")
    within = lives.batch is not None
    few = has_few_ends(lives.observed, lives.group)
    measures = (
        *log_rank_measures(exact, asymptotic, stratified=within, group=1, between=between),
        ratio_measure("time ratio", ratio, within, few=few),
        equivalence_measure(ratio, lognormal, within),
        ratio_measure("time ratio lognormal", lognormal, within, few=few),
        restricted_difference(lives, confidence, restriction_time)
        if not between
        else Measure("restricted mean difference", stratified=False, reason=BETWEEN_CHECKS),
        hazard_measure(lives, confidence)
        if not between
        else Measure("hazard ratio", within, reason=BETWEEN_CHECKS),
        *gray_measures(lives),
    )
    return Contrast(exact, ratio, measures)


def no_ratio(lives: Lives) -> str:
    """Why lives that entered late, or are known between checks only, have no time ratio."""
    return NO_ENTRY_RATIO if lives.delayed else BETWEEN_CHECKS


def equivalence_confidence(confidence: float, *, contrasts: int) -> float:
    """Confidence of the interval that decides on equivalence: 1 less twice alpha's share [1]."""
    return round(1 - 2 * (1 - confidence) / max(contrasts, 1), 12)


def primary_test(
    lives: Lives, *, drawing: MonteCarlo, thresholds: tuple[float, ...] = ()
) -> ExactLogRank:
    """Exact log-rank test; where lives are known only between checks, on interval scores.

    Parameters
    ----------
    lives : Lives
        Of the control and of one group or several.
    drawing : MonteCarlo
        How the test enumerates or draws.
    thresholds : tuple of float
        See `trivet.science.survival.exact_log_rank.exact_log_rank`.

    Returns
    -------
    ExactLogRank

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked` and
        `trivet.science.survival.interval_censored`.
    """
    return exact_score_test(
        scores_of(lives),
        group=lives.group,
        stratum=lives.batch,
        **drawing.arguments,
        thresholds=thresholds,
    )


def scores_of(lives: Lives) -> np.ndarray:
    """Scores that the exact test permutes within batches, shape (n_cells,) [1].

    Parameters
    ----------
    lives : Lives
        As in `primary_test`.

    Raises
    ------
    ValueError
        See `primary_test`.
    """
    if lives.lower is not None and lives.upper is not None:
        return interval_scores(lives.lower, upper=lives.upper, stratum=lives.batch)
    return log_rank_scores(
        lives.duration, observed=lives.observed, stratum=lives.batch, entry=lives.entered
    )
