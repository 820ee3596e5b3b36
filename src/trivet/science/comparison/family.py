"""All contrasts of one endpoint, clock and factor: each group against the control, and verdicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from trivet.science.comparison.closed_testing import MOST_CONTRASTS, closed_p
from trivet.science.comparison.contrast import (
    Contrast,
    MonteCarlo,
    contrast,
    equivalence_confidence,
    primary_test,
)
from trivet.science.comparison.contrast_measures import Measure, gray_measures, log_rank_measures
from trivet.science.comparison.sensitivity import (
    Doubts,
    after_doubts,
    doubt_measures,
    doubts,
    taken,
)
from trivet.science.comparison.verdict import Verdict, holm, verdict
from trivet.science.lives.lives import Lives
from trivet.science.lives.shared_strata import in_shared_strata
from trivet.science.survival.exact_log_rank import ExactLogRank
from trivet.science.survival.imputation import ImputedTest
from trivet.science.survival.log_rank import log_rank

Ends = tuple[float, float, float]
"""Lower end of an interval of p, p, and its upper end."""


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
    drawing : MonteCarlo
        How the exact test enumerates or draws.
    """

    confidence: float
    margin: float
    stratify: bool
    drawing: MonteCarlo


@dataclass(frozen=True)
class ContrastVerdict:
    """One contrast with its verdict.

    Attributes
    ----------
    contrast : Contrast
        Its test and effect.
    measures : tuple of Measure
        All its measures, the primary test first, those of the doubts last.
    p_adjusted : tuple of float
        p of each measure over the contrasts [1]: of the exact test and of what may turn it by
        closed testing, of the others by Holm.
    verdict : Verdict
        What may be concluded.
    undecided : bool
        Whether the interval of a drawn p, adjusted, holds alpha.
    confounded : bool
        Whether no batch holds cells of both groups.
    idle_cells : int
        Cells in strata without the other group, which add nothing to the test [1].
    doubts : Doubts
        Unlike follow-up, and stopped cells.
    deciding_p : float
        Adjusted p that decides: the larger of both tests where follow-up is unlike [1].
    turned : bool
        Whether a bound of the stopped cells turned the verdict to `inconclusive`.
    tipping : TippingPoint or None
        What would have had to become of which cells for that; None where not turned.
    bounds_p : float
        Largest adjusted p at a bound of the stopped cells [1]; NaN without such cells.
    bad_p : float
        Adjusted p with the cells that looked bad taken as ended when stopped [1]; NaN without such
        cells.
    turned_by_bad : bool
        Whether that turned the verdict to `inconclusive`.
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
    tipping: TippingPoint | None
    bounds_p: float
    bad_p: float
    turned_by_bad: bool


@dataclass(frozen=True)
class GroupComparison:
    """Contrasts in order of the groups, and the overall tests where there are several."""

    contrasts: tuple[ContrastVerdict, ...]
    overall: tuple[Measure, ...]


def compare_groups(
    lives: Lives, *, groups: int, restriction_time: float, rules: Rules
) -> GroupComparison:
    """Compare each group with the control, group 0.

    Parameters
    ----------
    lives : Lives
        All cells, with their batches.
    groups : int
        Number of groups, with the control [1].
    restriction_time : float
        Upper end of the restricted means [unit of the durations].
    rules : Rules
        What decides.

    Returns
    -------
    GroupComparison

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.
    """
    family = _Family(lives, groups, rules)
    contrasts, doubted = [], []
    equivalence = equivalence_confidence(rules.confidence, contrasts=groups - 1)
    for place in range(1, groups):
        pair = family.lives_of((place,))
        contrasts.append(
            contrast(
                pair,
                confidence=rules.confidence,
                contrasts=groups - 1,
                restriction_time=restriction_time,
                drawing=rules.drawing,
            )
        )
        doubted.append(doubts(pair, drawing=rules.drawing, equivalence=equivalence))
    family = family.tested(tuple(each.exact for each in contrasts))
    judged = tuple(_judged(family, contrasts, doubted[place], place) for place in range(groups - 1))
    overall: tuple[Measure, ...] = ()
    if groups > 2:
        overall = _overall(lives if rules.stratify else lives.unstratified(), rules.drawing)
    return GroupComparison(judged, overall)


@dataclass(frozen=True)
class _Family:
    """All lives of a comparison, and what is adjusted over its contrasts."""

    lives: Lives
    groups: int
    rules: Rules
    tests: tuple[ExactLogRank, ...] = ()
    joint: dict[tuple[int, ...], ExactLogRank] = field(default_factory=dict)

    def cells_of(self, places: tuple[int, ...]) -> np.ndarray:
        """Cells of some groups and of the control, shape (n_cells,)."""
        return np.isin(self.lives.group, (0, *places))

    def lives_of(self, places: tuple[int, ...], lives: Lives | None = None) -> Lives:
        """Lives of some groups, numbered from 1, and of the control; stratified as the rules say.

        Parameters
        ----------
        places : tuple of int
            Numbers of the groups.
        lives : Lives or None
            Others than those as seen.
        """
        cells = self.cells_of(places)
        number = np.searchsorted((0, *places), self.lives.group[cells])
        own = (lives or self.lives).of(cells, group=number)
        return own if self.rules.stratify else own.unstratified()

    def adjusted(self, place: int, own: Ends, changed: Lives | None = None) -> Ends:
        """Adjusted p of one contrast, with the ends of its interval where it was drawn.

        Parameters
        ----------
        place : int
            Place of the contrast among all.
        own : tuple of float
            Its lower end, its p and its upper end [1].
        changed : Lives or None
            Lives of its cells where they are taken otherwise: joint tests then take them too.
        """
        if place not in self.compared or not np.isfinite(own[1]):
            return own
        joint = self.joint
        if changed is not None:
            joint = joint | {
                places: self._joint(places, place, changed)
                for places in joint
                if place + 1 in places
            }
        ends = []
        for end, attribute in zip(own, ("p_lower", "p", "p_upper"), strict=True):
            p = [float(getattr(test, attribute)) for test in self.tests]
            p[place] = end
            if len(self.compared) > MOST_CONTRASTS:
                ends.append(_holm_at(p, place))
            else:
                of_joint = {places: float(getattr(joint[places], attribute)) for places in joint}
                ends.append(closed_p(range(1, self.groups), p, of_joint.__getitem__)[place])
        return ends[0], ends[1], ends[2]

    def tested(self, tests: tuple[ExactLogRank, ...]) -> _Family:
        """The family with the tests of its contrasts, and the joint test of each set of them."""
        family = replace(self, tests=tests)
        compared = [place + 1 for place in family.compared]
        if len(compared) > MOST_CONTRASTS:
            return family
        sets = (
            places
            for size in range(2, len(compared) + 1)
            for places in combinations(compared, size)
        )
        return replace(family, joint={places: family._joint(places) for places in sets})

    @property
    def compared(self) -> list[int]:
        """Places of the contrasts of which something can be said."""
        return [place for place, test in enumerate(self.tests) if np.isfinite(test.p)]

    def _joint(
        self, places: tuple[int, ...], place: int = 0, changed: Lives | None = None
    ) -> ExactLogRank:
        """Exact test that several groups and the control last the same.

        With changed lives they are those of the contrast at `place`.
        """
        lives = self.lives
        if changed is not None:
            own = self.cells_of((place + 1,))
            duration, observed = lives.duration.astype(float), lives.observed.copy()
            duration[own], observed[own] = changed.duration, changed.observed
            lives = replace(lives, duration=duration, observed=observed)
            if changed.lower is not None and lives.lower is not None:
                lower, upper = lives.lower.copy(), np.asarray(lives.upper).copy()
                lower[own], upper[own] = changed.lower, changed.upper
                lives = replace(lives, lower=lower, upper=upper)
        return primary_test(self.lives_of(places, lives), drawing=self.rules.drawing)


def _judged(
    family: _Family, contrasts: Sequence[Contrast], found: Doubts, place: int
) -> ContrastVerdict:
    """One contrast judged within its family."""
    this, rules = contrasts[place], family.rules
    own = family.lives.of(family.cells_of((place + 1,)))
    shared = np.ones(len(own.duration), dtype=bool)
    if own.batch is not None:
        shared = in_shared_strata(own.group, stratum=own.batch)
    ends = family.adjusted(place, _ends(this.exact))
    adjusted = [
        ends[1]
        if number == 0
        else _holm_at([each.measures[number].p if number < len(each.measures) else np.nan
                       for each in contrasts], place)
        for number in range(len(this.measures))
    ]  # fmt: skip
    lowest, deciding, highest = ends
    if found.imputed is not None:
        imputed = family.adjusted(place, _ends(found.imputed))
        adjusted.append(imputed[1])
        if found.unlike:
            # without such a test nothing can be concluded, hence no maximum that passes over NaN
            lowest, deciding, highest = np.maximum((lowest, deciding, highest), imputed)
    bounded = [family.adjusted(place, _ends(each.exact), each.changed)[1] for each in found.taken]
    same = this.measure("time ratio for equivalence")
    confounded = not np.any(shared)
    base = _word(confounded, deciding, highest, (same.lower, same.upper), rules)
    longer = this.exact.statistic < 0
    words = [
        _word(False, p, p, each.limits, rules) for each, p in zip(found.taken, bounded, strict=True)
    ]
    stood = after_doubts(found, base, longer=longer, words=words)
    alpha = 1 - rules.confidence
    return ContrastVerdict(
        contrast=this,
        measures=(*this.measures, *doubt_measures(found, stratified=rules.stratify)),
        p_adjusted=(*adjusted, *bounded),
        verdict=stood.verdict,
        undecided=bool(lowest <= alpha < highest),
        confounded=confounded,
        idle_cells=int(np.sum(~shared)) if rules.stratify else 0,
        doubts=found,
        deciding_p=float(deciding),
        turned=stood.turned,
        tipping=_tipping(family, place, longer) if stood.turned and base == "different" else None,
        bounds_p=max(bounded[: len(found.bounds)], default=float("nan")),
        bad_p=bounded[-1] if found.looked_bad else float("nan"),
        turned_by_bad=stood.turned_by_bad,
    )


def _ends(test: ExactLogRank | ImputedTest) -> Ends:
    """Lower end, p and upper end of a test."""
    return float(test.p_lower), float(test.p), float(test.p_upper)


@dataclass(frozen=True)
class TippingPoint:
    """What would have had to become of stopped cells for a difference to be shown no longer.

    Attributes
    ----------
    lives_on, ended : tuple of int
        Places of the cells that live on, and of those that ended when stopped.
    time : float or None
        Time up to which the former would have had to live [unit of the durations]; None where
        the latter are enough.
    """

    lives_on: tuple[int, ...]
    ended: tuple[int, ...]
    time: float | None


def _tipping(family: _Family, place: int, longer: bool) -> TippingPoint | None:
    """First time at which the cells of the side that lasts less would turn the verdict.

    Cells of the side that lasts longer count as ended when stopped, those of the other live on:
    the bound that speaks against the difference.
    """
    own = family.cells_of((place + 1,))
    lives = family.lives_of((place + 1,))
    stopped = np.asarray(lives.stopped, dtype=bool)
    ended, lives_on = stopped & (lives.group == longer), stopped & (lives.group != longer)
    duration = lives.duration
    places = np.flatnonzero(own)
    at = tuple(int(k) for k in places[lives_on]), tuple(int(k) for k in places[ended])
    later = np.unique(duration[duration > duration[lives_on].min()]) if lives_on.any() else ()
    for time in (None, *later):
        until = None if not lives_on.any() else (0.0 if time is None else float(time))
        changed = taken(lives, ended=ended, lives_on=lives_on, until=until)
        test = primary_test(changed, drawing=family.rules.drawing)
        p = family.adjusted(place, _ends(test), changed)[1]
        if p > 1 - family.rules.confidence or (test.statistic < 0) != longer:
            return TippingPoint(*at, None if time is None else float(time))
    return None


def _holm_at(p: Sequence[float], place: int) -> float:
    """Holm's adjusted p of one contrast of a family."""
    return float(holm(np.array(p, dtype=float))[place])


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


def _overall(lives: Lives, drawing: MonteCarlo) -> tuple[Measure, ...]:
    """Exact and asymptotic log-rank test of all groups at once, and Gray's test of each cause."""
    exact = primary_test(lives, drawing=drawing)
    asymptotic = log_rank(lives.duration, **lives.arms, entry=lives.entered)
    tests = log_rank_measures(
        exact,
        asymptotic,
        stratified=lives.batch is not None,
        group=None,
        between=lives.between_checks,
    )
    return (*tests, *gray_measures(lives))
