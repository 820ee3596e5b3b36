"""A contrast of this campaign pooled with those of earlier ones; each batch is a stratum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from trivet.science.comparison.contrast import MonteCarlo, no_ratio, scores_of
from trivet.science.comparison.random_effects import RandomEffects, random_effects
from trivet.science.comparison.sensitivity import Doubts, doubts
from trivet.science.lives.lives import Lives
from trivet.science.lives.shared_strata import in_shared_strata
from trivet.science.survival.exact_log_rank import (
    ExactLogRank,
    exact_score_test,
    permutation_covariance,
)
from trivet.science.survival.location_scale import Family
from trivet.science.survival.parametric import TimeRatio, time_ratio
from trivet.science.survival.permutation_sums import strata_of


@dataclass(frozen=True)
class Share:
    """What one campaign gives to a pooled contrast, or all together.

    Attributes
    ----------
    difference : float
        Ends seen less expected in the group, over strata; sum of its scores [1].
    variance : float
        Permutation variance of the difference [1].
    weight : float
        Share of the variance of all campaigns [1]; NaN where no campaign has any.
    exact : ExactLogRank
        Exact test.
    ratio : TimeRatio
        Ratio of times, group over control, with one interval for each confidence asked.
    """

    difference: float
    variance: float
    weight: float
    exact: ExactLogRank
    ratio: TimeRatio


@dataclass(frozen=True)
class Pooled:
    """A contrast over several campaigns.

    Attributes
    ----------
    shares : tuple of Share
        One for each campaign, as given.
    together : Share
        Over the strata of all.
    lognormal : TimeRatio
        Its ratio of times by the lognormal model.
    without_ratio : tuple of int
        Campaigns whose lives the common time ratio can't take in.
    effects : RandomEffects
        Of the log time ratios of the campaigns that have one.
    with_effect : tuple of int
        These campaigns, in the order of `effects.effects`.
    doubts : Doubts
        What may turn a verdict on all of them: unlike follow-up, stopped cells.
    """

    shares: tuple[Share, ...]
    together: Share
    lognormal: TimeRatio
    without_ratio: tuple[int, ...]
    effects: RandomEffects
    with_effect: tuple[int, ...]
    doubts: Doubts


def shared_batches(lives: Lives) -> np.ndarray:
    """Whether the batch of each cell holds cells of both groups, shape (n_cells,).

    Parameters
    ----------
    lives : Lives
        Lives of a group (1) and its control (0), with batches.
    """
    if lives.batch is None:
        return np.full(len(lives.group), len(np.unique(lives.group)) > 1)
    return in_shared_strata(lives.group, stratum=lives.batch)


def pool(
    campaigns: Sequence[Lives],
    *,
    confidences: tuple[float, ...],
    drawing: MonteCarlo,
    spread_beforehand: float,
    thresholds: tuple[float, ...] = (),
) -> Pooled:
    """Pool a contrast over campaigns: exact test over all strata, time ratios, random effects.

    Parameters
    ----------
    campaigns : sequence of Lives
        Lives of the group (1) and the control (0) of each campaign, at least one campaign;
        stratified where they have batches. Batches of different campaigns are never one stratum.
    confidences : tuple of float
        Confidences of the intervals of time ratios; the first is that of the random effects, the
        last decides on equivalence [1].
    drawing : MonteCarlo
        How the exact test enumerates or draws.
    spread_beforehand : float
        See `trivet.science.comparison.random_effects.random_effects`.
    thresholds : tuple of float
        See `trivet.science.survival.exact_log_rank.exact_log_rank`.

    Returns
    -------
    Pooled

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.

    References
    ----------
    Scores and labels within strata: see `trivet.science.survival.exact_log_rank`. The sum of
    differences over strata is that of the stratified log-rank test, Klein & Moeschberger, Survival
    Analysis, section 7.5.
    """
    own = [_scored(place, lives) for place, lives in enumerate(campaigns)]
    how: dict[str, Any] = {"drawing": drawing, "thresholds": thresholds}
    alone = [_tested(each, **how) for each in own]
    together = _tested(_joined(own), **how)
    without = tuple(
        place for place, lives in enumerate(campaigns) if lives.delayed or lives.between_checks
    )
    ratios = [_time_ratio([each], confidences) for each in own]
    fit = [each for place, each in enumerate(own) if place not in without]
    total = together.variance
    shares = [
        replace(each, ratio=ratio, weight=each.variance / total if total > 0 else float("nan"))
        for each, ratio in zip(alone, ratios, strict=True)
    ]
    with_effect = tuple(
        place
        for place, ratio in enumerate(ratios)
        if ratio.estimate > 0 and ratio.log_standard_error > 0
    )
    effects = random_effects(
        np.array([np.log(ratios[place].estimate) for place in with_effect]),
        variance=np.array([ratios[place].log_standard_error ** 2 for place in with_effect]),
        confidence=confidences[0],
        spread_beforehand=spread_beforehand,
    )
    common = _time_ratio(fit or own[:1], confidences)
    lognormal = _time_ratio(fit or own[:1], confidences, "lognormal")
    together = replace(together, ratio=common, weight=1.0 if total > 0 else float("nan"))
    doubted = doubts(_as_one(own), drawing=drawing, equivalence=confidences[-1])
    return Pooled(tuple(shares), together, lognormal, without, effects, with_effect, doubted)


@dataclass(frozen=True)
class _Scored:
    """Lives of one campaign or all, with scores within their strata and labels of these."""

    lives: tuple[Lives, ...]
    scores: np.ndarray
    group: np.ndarray
    stratum: np.ndarray


def _scored(place: int, lives: Lives) -> _Scored:
    """Scores of one campaign, and strata that bear its number."""
    batch = np.zeros(len(lives.group), dtype=int) if lives.batch is None else lives.batch
    labels = np.array([f"{place} {name}" for name in batch], dtype=object).astype(str)
    return _Scored((lives,), scores_of(lives), np.asarray(lives.group), labels)


def _joined(own: Sequence[_Scored]) -> _Scored:
    """All campaigns; each keeps its scores, since these are made within strata."""
    return _Scored(
        tuple(lives for each in own for lives in each.lives),
        np.concatenate([each.scores for each in own]),
        np.concatenate([each.group for each in own]),
        np.concatenate([each.stratum for each in own]),
    )


def _tested(own: _Scored, *, drawing: MonteCarlo, thresholds: tuple[float, ...]) -> Share:
    """Difference, variance and exact test; the weight and the ratio are for others to fill."""
    exact = exact_score_test(
        own.scores,
        group=own.group,
        stratum=own.stratum,
        **drawing.arguments,
        thresholds=thresholds,
    )
    number = np.unique(own.stratum, return_inverse=True)[1]
    strata = strata_of(own.scores, group=own.group, stratum=number, groups=2)
    inside = in_shared_strata(own.group, stratum=number)
    return Share(
        difference=float(np.sum(own.scores[inside & (own.group == 1)])),
        variance=float(permutation_covariance(strata, groups=2)[1, 1]),
        weight=float("nan"),
        exact=exact,
        ratio=TimeRatio(),
    )


def _as_one(own: Sequence[_Scored]) -> Lives:
    """Lives of all campaigns as if of one, each of their strata a batch.

    Where some are known between checks, a life known to the hour lies between equal times.
    """
    lives = [part for each in own for part in each.lives]
    none = [np.zeros(len(part.group), dtype=bool) for part in lives]
    lower = upper = None
    if any(part.between_checks for part in lives):
        lower = np.concatenate([_or(part.lower, part.duration) for part in lives])
        upper = np.concatenate([_or(part.upper, _first_bad(part)) for part in lives])
    return Lives(
        duration=np.concatenate([part.duration.astype(float) for part in lives]),
        observed=np.concatenate([part.observed for part in lives]),
        group=np.concatenate([each.group for each in own]),
        batch=np.unique(np.concatenate([each.stratum for each in own]), return_inverse=True)[1],
        entry=np.concatenate([_or(part.entry, 0.0 * part.duration) for part in lives]),
        lower=lower,
        upper=upper,
        stopped=np.concatenate([_or(p.stopped, no) for p, no in zip(lives, none, strict=True)]),
        looked_bad=np.concatenate(
            [_or(p.looked_bad, no) for p, no in zip(lives, none, strict=True)]
        ),
    )


def _or(given: np.ndarray | None, otherwise: np.ndarray) -> np.ndarray:
    """Values, or others where there are none."""
    return otherwise if given is None else given


def _first_bad(lives: Lives) -> np.ndarray:
    """First time known bad of lives known exactly, infinite where none was seen."""
    return np.where(lives.observed == 1, lives.duration, np.inf)


def _time_ratio(
    own: Sequence[_Scored], confidences: tuple[float, ...], family: Family = "weibull"
) -> TimeRatio:
    """Time ratio over the strata of some campaigns."""
    lives = [part for each in own for part in each.lives]
    for part in lives:
        if part.delayed or part.between_checks:
            return TimeRatio(reason=no_ratio(part))
    return time_ratio(
        np.concatenate([part.duration for part in lives]),
        observed=np.concatenate([part.observed for part in lives]),
        group=np.concatenate([part.group for part in lives]),
        stratum=np.concatenate([each.stratum for each in own]),
        family=family,
        confidences=confidences,
    )
