"""Every measure of one contrast: a group against its control."""

from __future__ import annotations

from dataclasses import dataclass
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
from trivet.science.lives.observation import PLAIN, Observation
from trivet.science.survival.exact_log_rank import ExactLogRank, exact_log_rank, exact_score_test
from trivet.science.survival.interval_censored import interval_scores
from trivet.science.survival.log_rank import log_rank
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


def contrast(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    confidence: float,
    contrasts: int,
    restriction_time: float,
    drawing: MonteCarlo,
    observation: Observation = PLAIN,
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
    drawing : MonteCarlo
        How the exact test enumerates or draws.
    observation : Observation
        What else is known of the lives.

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
    data: dict[str, Any] = {"observed": observed, "group": group, "stratum": stratum}
    exact = primary_test(
        duration, **data, drawing=drawing, thresholds=thresholds, observation=observation
    )
    asymptotic = log_rank(duration, **data, entry=observation.entry)
    confidences = (confidence, equivalence_confidence(confidence, contrasts=contrasts))
    between = observation.lower is not None
    if observation.delayed or between:
        why = NO_ENTRY_RATIO if observation.delayed else BETWEEN_CHECKS
        ratio = lognormal = TimeRatio(reason=why)
    else:
        ratio = time_ratio(duration, **data, confidences=confidences)
        lognormal = time_ratio(duration, **data, family="lognormal", confidences=confidences)
    within = stratum is not None
    few = has_few_ends(observed, group)
    measures = (
        *log_rank_measures(exact, asymptotic, stratified=within, group=1, between=between),
        ratio_measure("time ratio", ratio, within, few=few),
        equivalence_measure(ratio, lognormal, within),
        ratio_measure("time ratio lognormal", lognormal, within, few=few),
        restricted_difference(
            duration, observed, group, observation.entry, confidence, restriction_time
        )
        if not between
        else Measure("restricted mean difference", stratified=False, reason=BETWEEN_CHECKS),
        hazard_measure(duration, observed, group, stratum, observation.entry, confidence)
        if not between
        else Measure("hazard ratio", within, reason=BETWEEN_CHECKS),
        *gray_measures(duration, group, stratum, observation),
    )
    return Contrast(exact, ratio, measures)


def equivalence_confidence(confidence: float, *, contrasts: int) -> float:
    """Confidence of the interval that decides on equivalence: 1 less twice alpha's share [1]."""
    return round(1 - 2 * (1 - confidence) / max(contrasts, 1), 12)


def primary_test(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: MonteCarlo,
    thresholds: tuple[float, ...] = (),
    observation: Observation = PLAIN,
) -> ExactLogRank:
    """Exact log-rank test; where lives are known only between checks, on interval scores.

    Parameters
    ----------
    duration, observed, group, stratum, drawing, observation
        As in `contrast`; groups may be several.
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
    how: dict[str, Any] = {
        "group": group,
        "stratum": stratum,
        "enumeration_limit": drawing.enumeration_limit,
        "draws": drawing.draws,
        "seed": drawing.seed,
        "thresholds": thresholds,
    }
    if observation.lower is not None and observation.upper is not None:
        scores = interval_scores(observation.lower, upper=observation.upper, stratum=stratum)
        return exact_score_test(scores, **how)
    return exact_log_rank(duration, observed=observed, entry=observation.entry, **how)
