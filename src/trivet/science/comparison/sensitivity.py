"""What may turn a verdict: groups followed unlike, and cells that a person stopped.

A cell stopped because it looked bad would have ended soon, so that its censoring says something of
its life: taken as any other, three of eight cells of one group made one `different` too many in 18
campaigns of groups that last the same (`trivet.studies.calibration`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trivet.science.comparison.contrast import MonteCarlo, no_ratio, primary_test
from trivet.science.comparison.contrast_measures import NAN, Measure
from trivet.science.comparison.verdict import Verdict, widest
from trivet.science.lives.lives import Lives
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
    changed : Lives
        The lives so taken.
    """

    name: str
    exact: ExactLogRank
    ratio: TimeRatio
    limits: tuple[float, float]
    changed: Lives


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
        The lives with cells that looked bad taken as ended, where the verdict must hold too; None
        where there are none.
    """

    unlike_p: float
    imputed: ImputedTest | None
    bounds: tuple[Bound, ...]
    looked_bad: Bound | None = None

    @property
    def unlike(self) -> bool:
        """Whether the groups were not followed alike."""
        return self.unlike_p <= UNLIKE_P

    @property
    def taken(self) -> tuple[Bound, ...]:
        """Lives taken otherwise at which a verdict must stand: both bounds, then `looked_bad`."""
        return (*self.bounds, *((self.looked_bad,) if self.looked_bad else ()))


@dataclass(frozen=True)
class Stood:
    """A verdict after the doubts about it.

    Attributes
    ----------
    verdict : Verdict
        The verdict, or `inconclusive` where lives taken otherwise turn it.
    turned, turned_by_bad : bool
        Whether a bound turned it, and whether cells that looked bad did.
    """

    verdict: Verdict
    turned: bool
    turned_by_bad: bool


def doubts(lives: Lives, *, drawing: MonteCarlo, equivalence: float) -> Doubts:
    """Look for what may turn the verdict of a contrast.

    Parameters
    ----------
    lives, drawing
        As in `trivet.science.comparison.contrast.contrast`.
    equivalence : float
        Confidence of the time ratio's interval that decides on equivalence [1].

    Returns
    -------
    Doubts
    """
    unlike_p = followed_alike(lives, drawing=drawing)
    if lives.entered is not None:
        everyone = replace(lives, observed=np.ones(len(lives.duration), dtype=int))
        entered = _exact(lives.entered, everyone, drawing).p
        unlike_p = float(np.fmin(unlike_p, entered))
    imputed = _imputed(lives, drawing) if unlike_p <= UNLIKE_P else None
    bounds: tuple[Bound, ...] = ()
    if lives.any_stopped:
        bounds = tuple(_bound(lives, drawing, equivalence, side) for side in (1, 0))
    looked_bad = None
    if lives.any_looked_bad:
        ended = np.asarray(lives.looked_bad, dtype=bool)
        changed = taken(lives, ended=ended, lives_on=~ended & False)
        name = "sensitivity: cells that looked bad ended when stopped"
        looked_bad = _tested(name, changed, drawing, equivalence)
    return Doubts(unlike_p, imputed, bounds, looked_bad)


def _exact(times: np.ndarray, lives: Lives, drawing: MonteCarlo) -> ExactLogRank:
    """Exact log-rank test of other times of the same cells."""
    return exact_log_rank(
        times,
        **lives.arms,
        **drawing.arguments,
    )


def _imputed(lives: Lives, drawing: MonteCarlo) -> ImputedTest:
    """Test that stays valid at unlike follow-up; without a p where there is none."""
    if lives.delayed:
        return ImputedTest(NAN, NAN, NAN, NAN, 0)
    if len(lives.duration) > MOST_CELLS:
        plain = log_rank(lives.duration, **lives.arms)
        return ImputedTest(np.sqrt(plain.statistic), plain.p, plain.p, plain.p, 0)
    draws = min(drawing.draws, MOST_IMPUTATIONS)
    return imputation_permutation(lives.duration, **lives.arms, draws=draws, seed=drawing.seed)


def _bound(lives: Lives, drawing: MonteCarlo, equivalence: float, fails: int) -> Bound:
    """Stopped cells of one side ended when stopped; those of the other outlive the campaign."""
    stopped = np.asarray(lives.stopped, dtype=bool)
    mine = lives.group == fails
    changed = taken(lives, ended=stopped & mine, lives_on=stopped & ~mine)
    sides = ("group's", "control's") if fails else ("control's", "group's")
    name = f"bound: {sides[0]} stopped cells ended, {sides[1]} never"
    return _tested(name, changed, drawing, equivalence)


def taken(
    lives: Lives, *, ended: np.ndarray, lives_on: np.ndarray, until: float | None = None
) -> Lives:
    """Take some cells as ended when they were stopped, and some as living on.

    Parameters
    ----------
    lives : Lives
        All cells.
    ended, lives_on : numpy.ndarray of bool
        Cells taken so, shape (n_cells,).
    until : float or None
        Time up to which the latter live on; None: to the end of the longest life [unit of the
        durations].

    Returns
    -------
    Lives
        Without stops and causes: what became of every cell is then taken as known.
    """
    last = float(lives.duration.max()) if until is None else until
    times = np.where(lives_on, np.maximum(lives.duration, last), lives.duration)
    ends = np.where(ended, 1, np.where(lives_on, 0, lives.observed))
    low = high = None
    if lives.lower is not None and lives.upper is not None:
        low = np.where(lives_on | ended, times, lives.lower)
        high = np.where(lives_on, np.inf, np.where(ended, times, lives.upper))
    return Lives(
        duration=times,
        observed=ends,
        group=lives.group,
        batch=lives.batch,
        entry=lives.entry,
        lower=low,
        upper=high,
    )


def _tested(name: str, changed: Lives, drawing: MonteCarlo, equivalence: float) -> Bound:
    """Test and effect of changed lives."""
    exact = primary_test(changed, drawing=drawing)
    if changed.delayed or changed.between_checks:
        none = TimeRatio(reason=no_ratio(changed))
        return Bound(name, exact, none, (NAN, NAN), changed)
    ratio, lognormal = (
        time_ratio(changed.duration, **changed.arms, family=law, confidences=(equivalence,))
        for law in LAWS
    )
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


def after_doubts(found: Doubts, base: Verdict, *, longer: bool, words: Sequence[Verdict]) -> Stood:
    """Verdict after all doubts, and which of them turned it.

    Parameters
    ----------
    found : Doubts
        The doubts.
    base : Verdict
        Verdict of the lives as seen.
    longer : bool
        Whether the group then lasts longer.
    words : sequence of Verdict
        The verdict at each of `found.taken`.
    """
    at = [(word, bound.exact.statistic < 0) for word, bound in zip(words, found.taken, strict=True)]
    known = len(found.bounds)
    word = after_bounds(base, longer=longer, bounds=at[:known])
    last = after_bounds(word, longer=longer, bounds=at[known:])
    return Stood(last, word != base, last != word)


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
    for bound in found.taken:
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


def followed_alike(lives: Lives, *, drawing: MonteCarlo) -> float:
    """Give p of the exact log-rank test on the times of censoring, ends taken as censored.

    A cell that ended at the time of a censoring was no longer at risk of being censored.

    Parameters
    ----------
    lives : Lives
        Of the control and of one group or several.
    drawing : MonteCarlo
        How the test enumerates or draws.

    Returns
    -------
    float
        p [1]; NaN where nothing can be compared.
    """
    ends_first = np.unique(
        np.stack([lives.duration, 1.0 - lives.observed], axis=1), axis=0, return_inverse=True
    )[1].reshape(-1)
    return _exact(ends_first.astype(float), replace(lives, observed=1 - lives.observed), drawing).p
