"""All contrasts of one endpoint, clock and factor: each group against the control, and verdicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trivet.science.comparison.contrast import (
    Contrast,
    Drawing,
    contrast,
    equivalence_confidence,
    primary_test,
)
from trivet.science.comparison.contrast_measures import Measure, gray_measures, log_rank_measures
from trivet.science.comparison.sensitivity import (
    Bound,
    Doubts,
    after_bounds,
    doubt_measures,
    doubts,
)
from trivet.science.comparison.verdict import Verdict, holm, verdict
from trivet.science.lives.observation import PLAIN, Observation
from trivet.science.survival.exact_log_rank import ExactLogRank
from trivet.science.survival.log_rank import log_rank


@dataclass(frozen=True)
class Rules:
    """What decides, set before the data are seen.

    Attributes
    ----------
    confidence : float
        Confidence of intervals; alpha is 1 less this [1].
    margin : float
        Largest ratio of times that still counts as the same [1].
    stratify : bool
        Whether batches are strata.
    drawing : Drawing
        How the exact test enumerates or draws.
    """

    confidence: float
    margin: float
    stratify: bool
    drawing: Drawing


@dataclass(frozen=True)
class Judged:
    """One contrast with its verdict.

    Attributes
    ----------
    contrast : Contrast
        Its test and effect.
    measures : tuple of Measure
        All its measures, the primary test first, those of the doubts last.
    p_adjusted : tuple of float
        p of each measure after Holm over the contrasts [1].
    verdict : Verdict
        What may be concluded.
    undecided : bool
        Whether the interval of a drawn p, after Holm, holds alpha.
    confounded : bool
        Whether no batch holds cells of both groups.
    idle_cells : int
        Cells in strata without the other group, which add nothing to the test [1].
    doubts : Doubts
        Unlike follow-up, and stopped cells.
    deciding_p : float
        p after Holm that decides: the larger of both tests where follow-up is unlike [1].
    turned : bool
        Whether a bound of the stopped cells turned the verdict to `inconclusive`.
    """

    contrast: Contrast
    measures: tuple[Measure, ...]
    p_adjusted: tuple[float, ...]
    verdict: Verdict
    undecided: bool
    confounded: bool
    idle_cells: int
    doubts: Doubts
    deciding_p: float
    turned: bool


@dataclass(frozen=True)
class Family:
    """Contrasts in order of the groups, and the overall tests where there are several."""

    contrasts: tuple[Judged, ...]
    overall: tuple[Measure, ...]


def compare_groups(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    batch: np.ndarray,
    groups: int,
    restriction_time: float,
    rules: Rules,
    observation: Observation = PLAIN,
) -> Family:
    """Compare each group with the control, group 0.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    group : numpy.ndarray
        Number of the group, 0 for the control, shape (n_cells,) [1].
    batch : numpy.ndarray
        Label of the batch, shape (n_cells,).
    groups : int
        Number of groups, with the control [1].
    restriction_time : float
        Upper end of the restricted means [unit of the durations].
    rules : Rules
        What decides.
    observation : Observation
        What else is known of the lives.

    Returns
    -------
    Family

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.
    """
    contrasts, doubted, labels, batches = [], [], [], []
    equivalence = equivalence_confidence(rules.confidence, contrasts=groups - 1)
    for place in range(1, groups):
        own = (group == place) | (group == 0)
        label = (group[own] == place).astype(int)
        data: dict[str, Any] = {
            "observed": observed[own],
            "group": label,
            "stratum": batch[own] if rules.stratify else None,
            "drawing": rules.drawing,
            "observation": observation.of(own),
        }
        contrasts.append(
            contrast(
                duration[own],
                **data,
                confidence=rules.confidence,
                contrasts=groups - 1,
                restriction_time=restriction_time,
            )
        )
        doubted.append(doubts(duration[own], **data, equivalence=equivalence))
        labels.append(label)
        batches.append(batch[own])
    judged = tuple(
        _judged(contrasts, doubted, place, shared_strata(labels[place], stratum=batches[place]),
                rules)
        for place in range(groups - 1)
    )  # fmt: skip
    overall: tuple[Measure, ...] = ()
    if groups > 2:
        stratum = batch if rules.stratify else None
        overall = _overall(duration, observed, group, stratum, rules.drawing, observation)
    return Family(judged, overall)


def _judged(
    contrasts: Sequence[Contrast],
    doubted: Sequence[Doubts],
    place: int,
    shared: np.ndarray,
    rules: Rules,
) -> Judged:
    """One contrast judged within its family."""
    this, found = contrasts[place], doubted[place]
    extra = doubt_measures(found, stratified=rules.stratify)
    adjusted = [_holm_at([each.measures[number].p if number < len(each.measures) else np.nan
                          for each in contrasts], place)
                for number in range(len(this.measures))]  # fmt: skip
    tests = [each.exact for each in contrasts]
    lowest, deciding, highest = (
        _holm_at([getattr(test, end) for test in tests], place)
        for end in ("p_lower", "p", "p_upper")
    )
    for measure in extra:
        mine = [test.p for test in tests]
        mine[place] = measure.p
        adjusted.append(_holm_at(mine, place))
    if found.unlike and found.imputed is not None:
        ends = (found.imputed.p_lower, found.imputed.p, found.imputed.p_upper)
        other = [_holm_at([*(t.p for t in tests[:place]), end, *(t.p for t in tests[place + 1 :])],
                          place) for end in ends]  # fmt: skip
        # without such a test nothing can be concluded, hence no maximum that passes over NaN
        lowest, deciding, highest = np.maximum((lowest, deciding, highest), other)
    same = this.measure("time ratio for equivalence")
    confounded = not np.any(shared)
    base = _word(confounded, deciding, highest, (same.lower, same.upper), rules)
    word = after_bounds(
        base,
        longer=this.exact.statistic < 0,
        bounds=[
            (_bound_word(bound, tests, place, rules), bound.exact.statistic < 0)
            for bound in found.bounds
        ],
    )
    alpha = 1 - rules.confidence
    return Judged(
        contrast=this,
        measures=(*this.measures, *extra),
        p_adjusted=tuple(adjusted),
        verdict=word,
        undecided=bool(lowest <= alpha < highest),
        confounded=confounded,
        idle_cells=int(np.sum(~shared)) if rules.stratify else 0,
        doubts=found,
        deciding_p=float(deciding),
        turned=word != base,
    )


def _holm_at(p: Sequence[float], place: int) -> float:
    """Adjusted p of one contrast of a family."""
    return float(holm(np.array(p, dtype=float))[place])


def _bound_word(bound: Bound, tests: Sequence[ExactLogRank], place: int, rules: Rules) -> Verdict:
    """Verdict that a contrast would have at a bound of the stopped cells."""
    p = [test.p for test in tests]
    p[place] = bound.exact.p
    adjusted = _holm_at(p, place)
    return _word(False, adjusted, adjusted, bound.limits, rules)


def _word(
    confounded: bool, p: float, p_upper: float, interval: Sequence[float], rules: Rules
) -> Verdict:
    """Verdict from what decides it."""
    return verdict(
        confounded=confounded,
        p_adjusted=p,
        p_adjusted_upper=p_upper,
        interval=interval,
        margin=rules.margin,
        alpha=1 - rules.confidence,
    )


def shared_strata(group: np.ndarray, *, stratum: np.ndarray) -> np.ndarray:
    """Whether the stratum of each cell holds both groups, shape (n_cells,)."""
    both = np.intersect1d(stratum[group == 1], stratum[group == 0])
    return np.isin(stratum, both)


def _overall(
    duration: np.ndarray,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: Drawing,
    observation: Observation,
) -> tuple[Measure, ...]:
    """Exact and asymptotic log-rank test of all groups at once, and Gray's test of each cause."""
    exact = primary_test(
        duration,
        observed=observed,
        group=group,
        stratum=stratum,
        drawing=drawing,
        observation=observation,
    )
    asymptotic = log_rank(
        duration, observed=observed, group=group, stratum=stratum, entry=observation.entry
    )
    tests = log_rank_measures(
        exact,
        asymptotic,
        stratified=stratum is not None,
        group=None,
        between=observation.lower is not None,
    )
    return (*tests, *gray_measures(duration, group, stratum, observation))
