"""All contrasts of one endpoint, clock and factor: each group against the control, and verdicts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.comparison import Verdict, holm, verdict
from trivet.science.contrast import Contrast, Drawing, Measure, contrast, log_rank_measures
from trivet.science.exact_log_rank import exact_log_rank
from trivet.science.log_rank import log_rank


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
        Its measures.
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
    unlike_p : float
        p of the exact test on the times of censoring [1]; NaN where nothing was censored.
    """

    contrast: Contrast
    p_adjusted: tuple[float, ...]
    verdict: Verdict
    undecided: bool
    confounded: bool
    idle_cells: int
    unlike_p: float


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

    Returns
    -------
    Family

    Raises
    ------
    ValueError
        See `trivet.science.survival.checked`.
    """
    contrasts, pairs = [], []
    for place in range(1, groups):
        own = (group == place) | (group == 0)
        pairs.append(own)
        contrasts.append(
            contrast(
                duration[own],
                observed=observed[own],
                group=(group[own] == place).astype(int),
                stratum=batch[own] if rules.stratify else None,
                confidence=rules.confidence,
                contrasts=groups - 1,
                restriction_time=restriction_time,
                drawing=rules.drawing,
            )
        )
    judged = []
    for place, own in enumerate(pairs):
        label = (group[own] == place + 1).astype(int)
        unlike = followed_alike(
            duration[own], observed=observed[own], group=label,
            stratum=batch[own] if rules.stratify else None, drawing=rules.drawing,
        )  # fmt: skip
        judged.append(_judged(contrasts, place, label, batch[own], unlike, rules))
    overall: tuple[Measure, ...] = ()
    if groups > 2:
        stratum = batch if rules.stratify else None
        overall = _overall(duration, observed, group, stratum, rules.drawing)
    return Family(tuple(judged), overall)


def _judged(
    contrasts: list[Contrast],
    place: int,
    label: np.ndarray,
    batch: np.ndarray,
    unlike_p: float,
    rules: Rules,
) -> Judged:
    """One contrast judged within its family."""
    this, alpha = contrasts[place], 1 - rules.confidence
    adjusted = tuple(
        float(holm(np.array([each.measures[number].p for each in contrasts]))[place])
        for number in range(len(this.measures))
    )
    lowest, highest = (
        float(holm(np.array([getattr(each.exact, end) for each in contrasts]))[place])
        for end in ("p_lower", "p_upper")
    )
    shared = shared_strata(label, stratum=batch)
    same = this.measure("time ratio for equivalence")
    word = verdict(
        confounded=not np.any(shared),
        p_adjusted=adjusted[0],
        p_adjusted_upper=highest,
        interval=(same.lower, same.upper),
        margin=rules.margin,
        alpha=alpha,
    )
    return Judged(
        contrast=this,
        p_adjusted=adjusted,
        verdict=word,
        undecided=lowest <= alpha < highest,
        confounded=not np.any(shared),
        idle_cells=int(np.sum(~shared)) if rules.stratify else 0,
        unlike_p=unlike_p,
    )


def shared_strata(group: np.ndarray, *, stratum: np.ndarray) -> np.ndarray:
    """Whether the stratum of each cell holds both groups, shape (n_cells,)."""
    both = np.intersect1d(stratum[group == 1], stratum[group == 0])
    return np.isin(stratum, both)


def followed_alike(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: Drawing,
) -> float:
    """Give p of the exact log-rank test on the times of censoring, ends taken as censored.

    A cell that ended at the time of a censoring was no longer at risk of being censored.

    Parameters
    ----------
    duration, observed, group, stratum
        As in `trivet.science.exact_log_rank.exact_log_rank`.
    drawing : Drawing
        How the test enumerates or draws.

    Returns
    -------
    float
        p [1]; NaN where nothing can be compared.
    """
    ends_first = np.unique(
        np.stack([duration, 1.0 - observed], axis=1), axis=0, return_inverse=True
    )[1].reshape(-1)
    return exact_log_rank(
        ends_first.astype(float),
        observed=1 - observed,
        group=group,
        stratum=stratum,
        enumeration_limit=drawing.enumeration_limit,
        draws=drawing.draws,
        seed=drawing.seed,
    ).p


def _overall(
    duration: np.ndarray,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: Drawing,
) -> tuple[Measure, ...]:
    """Exact and asymptotic log-rank test of all groups at once."""
    exact = exact_log_rank(
        duration,
        observed=observed,
        group=group,
        stratum=stratum,
        enumeration_limit=drawing.enumeration_limit,
        draws=drawing.draws,
        seed=drawing.seed,
    )
    asymptotic = log_rank(duration, observed=observed, group=group, stratum=stratum)
    return log_rank_measures(exact, asymptotic, stratified=stratum is not None, group=None)
