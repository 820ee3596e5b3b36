"""What may turn a verdict: groups followed unlike, and cells that a person stopped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.comparison.contrast import BETWEEN_CHECKS, MonteCarlo, primary_test
from trivet.science.comparison.contrast_measures import NAN, Measure
from trivet.science.comparison.verdict import Verdict, widest
from trivet.science.lives.observation import Observation
from trivet.science.survival.exact_log_rank import ExactLogRank, exact_log_rank
from trivet.science.survival.imputation import MOST_CELLS, ImputedTest, imputation_permutation
from trivet.science.survival.location_scale import Family
from trivet.science.survival.log_rank import log_rank
from trivet.science.survival.parametric import TimeRatio, time_ratio

UNLIKE_P = 0.1
"""p of the test on the times of censoring at which follow-up is called unlike (common practice,
no source): it has little power with few cells."""

LAWS: tuple[Family, ...] = ("weibull", "lognormal")

MOST_IMPUTATIONS = 20_000


@dataclass(frozen=True)
class Bound:
    """The contrast as it would be if stopped cells had ended at once, or never.

    Attributes
    ----------
    name : str
        Which cells were taken how.
    exact : ExactLogRank
        Primary test of the changed lives.
    ratio : TimeRatio
        Time ratio of the changed lives, at the confidence of equivalence.
    limits : tuple of float
        Limits that decide on equivalence: the wider of the Weibull and the lognormal model [1].
    changed : ChangedLives
        The lives so taken.
    """

    name: str
    exact: ExactLogRank
    ratio: TimeRatio
    limits: tuple[float, float]
    changed: ChangedLives


@dataclass(frozen=True)
class ChangedLives:
    """Lives with some stopped cells taken as ended, or as living on; shape (n_cells,) each."""

    duration: np.ndarray
    observed: np.ndarray
    observation: Observation


@dataclass(frozen=True)
class Doubts:
    """Doubts about one contrast.

    Attributes
    ----------
    unlike_p : float
        p of the test on the times of censoring, or of entry where smaller [1]; NaN where nothing
        was censored.
    imputed : ImputedTest or None
        Test that stays valid at unlike follow-up; None where follow-up is not called unlike.
    bounds : tuple of Bound
        Both bounds; empty where of every cell it is known why it was followed no longer.
    looked_bad : Bound or None
        The lives with cells that looked bad taken as ended; None where there are none.
    """

    unlike_p: float
    imputed: ImputedTest | None
    bounds: tuple[Bound, ...]
    looked_bad: Bound | None = None

    @property
    def unlike(self) -> bool:
        """Whether the groups were not followed alike."""
        return self.unlike_p <= UNLIKE_P


def doubts(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: MonteCarlo,
    equivalence: float,
    observation: Observation,
) -> Doubts:
    """Look for what may turn the verdict of a contrast.

    Parameters
    ----------
    duration, observed, group, stratum, drawing, observation
        As in `trivet.science.comparison.contrast.contrast`.
    equivalence : float
        Confidence of the time ratio's interval that decides on equivalence [1].

    Returns
    -------
    Doubts
    """
    unlike_p = followed_alike(
        duration, observed=observed, group=group, stratum=stratum, drawing=drawing
    )
    if observation.delayed and observation.entry is not None:
        entered = exact_log_rank(
            observation.entry,
            observed=np.ones(len(duration), dtype=int),
            group=group,
            stratum=stratum,
            enumeration_limit=drawing.enumeration_limit,
            draws=drawing.draws,
            seed=drawing.seed,
        ).p
        unlike_p = float(np.fmin(unlike_p, entered))
    imputed = None
    if unlike_p <= UNLIKE_P:
        imputed = _imputed(duration, observed, group, stratum, drawing, observation)
    bounds: tuple[Bound, ...] = ()
    if observation.any_stopped and not observation.delayed:
        bounds = tuple(
            _bound(duration, observed, group, stratum, drawing, equivalence, observation, side)
            for side in (1, 0)
        )
    looked_bad = None
    if observation.any_looked_bad and not observation.delayed:
        ended = np.asarray(observation.looked_bad, dtype=bool)
        changed = taken(duration, observed, observation, ended=ended, lives_on=~ended & False)
        looked_bad = _tested(
            "sensitivity: cells that looked bad ended when stopped",
            changed, group, stratum, drawing, equivalence,
        )  # fmt: skip
    return Doubts(unlike_p, imputed, bounds, looked_bad)


def _imputed(
    duration: np.ndarray,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: MonteCarlo,
    observation: Observation,
) -> ImputedTest:
    """Test that stays valid at unlike follow-up; without a p where there is none."""
    if observation.delayed:
        return ImputedTest(NAN, NAN, NAN, NAN, 0)
    if len(duration) > MOST_CELLS:
        plain = log_rank(duration, observed=observed, group=group, stratum=stratum)
        return ImputedTest(np.sqrt(plain.statistic), plain.p, plain.p, plain.p, 0)
    return imputation_permutation(
        duration,
        observed=observed,
        group=group,
        stratum=stratum,
        draws=min(drawing.draws, MOST_IMPUTATIONS),
        seed=drawing.seed,
    )


def _bound(
    duration: np.ndarray,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: MonteCarlo,
    equivalence: float,
    observation: Observation,
    fails: int,
) -> Bound:
    """Stopped cells of one side ended when stopped; those of the other outlive the campaign."""
    stopped = np.asarray(observation.stopped, dtype=bool)
    changed = taken(
        duration,
        observed,
        observation,
        ended=stopped & (group == fails),
        lives_on=stopped & (group != fails),
    )
    sides = ("group's", "control's") if fails else ("control's", "group's")
    name = f"bound: {sides[0]} stopped cells ended, {sides[1]} never"
    return _tested(name, changed, group, stratum, drawing, equivalence)


def taken(
    duration: np.ndarray,
    observed: np.ndarray,
    observation: Observation,
    *,
    ended: np.ndarray,
    lives_on: np.ndarray,
    until: float | None = None,
) -> ChangedLives:
    """Take some cells as ended when they were stopped, and some as living on.

    Parameters
    ----------
    duration, observed, observation
        As in `doubts`.
    ended, lives_on : numpy.ndarray of bool
        Cells taken so, shape (n_cells,).
    until : float or None
        Time up to which the latter live on; None: to the end of the longest life [unit of the
        durations].
    """
    last = float(duration.max()) if until is None else until
    times = np.where(lives_on, np.maximum(duration, last), duration)
    ends = np.where(ended, 1, np.where(lives_on, 0, observed))
    changed = Observation()
    if observation.lower is not None and observation.upper is not None:
        low = np.where(lives_on | ended, times, observation.lower)
        high = np.where(lives_on, np.inf, np.where(ended, times, observation.upper))
        changed = Observation(lower=low, upper=high)
    return ChangedLives(times, ends, changed)


def _tested(
    name: str,
    changed: ChangedLives,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: MonteCarlo,
    equivalence: float,
) -> Bound:
    """Test and effect of changed lives."""
    exact = primary_test(
        changed.duration,
        observed=changed.observed,
        group=group,
        stratum=stratum,
        drawing=drawing,
        observation=changed.observation,
    )
    if changed.observation.lower is not None:
        none = TimeRatio(reason=BETWEEN_CHECKS)
        return Bound(name, exact, none, (NAN, NAN), changed)
    ratio, lognormal = (
        time_ratio(
            changed.duration, observed=changed.observed, group=group, stratum=stratum, family=law,
            confidences=(equivalence,),
        )
        for law in LAWS
    )  # fmt: skip
    limits = (NAN, NAN)
    if ratio.intervals and lognormal.intervals:
        both = (ratio.intervals[0], lognormal.intervals[0])
        limits = widest([(each.lower, each.upper) for each in both])
    return Bound(name, exact, ratio, limits, changed)


def after_bounds(base: Verdict, *, longer: bool, bounds: list[tuple[Verdict, bool]]) -> Verdict:
    """Verdict after the bounds: one that either bound turns is `inconclusive`.

    Parameters
    ----------
    base : Verdict
        Verdict of the lives as seen.
    longer : bool
        Whether the group then lasts longer.
    bounds : list of (Verdict, bool)
        The same at each bound.
    """
    if base in ("inconclusive", "not estimable"):
        return base
    kept = all(
        verdict == base and (base == "equivalent" or side == longer) for verdict, side in bounds
    )
    return base if kept else "inconclusive"


def doubt_measures(found: Doubts, *, stratified: bool) -> tuple[Measure, ...]:
    """Doubts as measures of the contrast."""
    measures = []
    if found.imputed is not None:
        draws = found.imputed.draws
        how = f"{draws} imputations drawn" if draws else "asymptotic, since the cells are many"
        if not np.isfinite(found.imputed.p):
            how = "no such test: cells entered after their start, or nothing to compare"
        measures.append(
            Measure(
                "imputation-permutation log-rank",
                stratified,
                statistic=found.imputed.statistic,
                p=found.imputed.p,
                reason=how,
            )
        )
    for bound in (*found.bounds, *((found.looked_bad,) if found.looked_bad else ())):
        measures.append(
            Measure(
                bound.name,
                stratified,
                statistic=bound.exact.statistic,
                estimate=bound.ratio.estimate,
                lower=bound.limits[0],
                upper=bound.limits[1],
                confidence=bound.ratio.intervals[0].confidence if bound.ratio.intervals else NAN,
                p=bound.exact.p,
                reason=f"p: exact log-rank; estimate: time ratio. {bound.ratio.reason}".rstrip(),
            )
        )
    return tuple(measures)


def followed_alike(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None,
    drawing: MonteCarlo,
) -> float:
    """Give p of the exact log-rank test on the times of censoring, ends taken as censored.

    A cell that ended at the time of a censoring was no longer at risk of being censored.

    Parameters
    ----------
    duration, observed, group, stratum
        As in `trivet.science.survival.exact_log_rank.exact_log_rank`.
    drawing : MonteCarlo
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
