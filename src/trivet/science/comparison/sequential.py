"""Contrasts looked at every week: what was shown, when, and at one level in all.

A contrast is shown where it and every set of contrasts that contains it have crossed their own
boundary, as in closed testing; each of these tests spends the level over the looks. What else
stands against a difference (unlike follow-up, cells that nobody knows why they were stopped) is
judged at that look with what was known then. What was shown stays shown.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

from trivet.reasons import AtLooks
from trivet.science.comparison.closed_testing import MOST_CONTRASTS
from trivet.science.comparison.family import ContrastVerdict, Rules, compare_groups
from trivet.science.lives.lives import Lives
from trivet.science.survival.group_life import restriction_time
from trivet.science.survival.looks import MOST_RELABELLINGS, Look, lives_at, looks

_MOST_LABELS = 20_000_000
"""Labels held at once, relabellings times cells [1]."""
_MOST_STATISTICS = 20_000_000
"""Statistics in all, relabellings times looks times sets of groups [1]."""
_FEWEST_DRAWN = 5_000

Judge = Callable[[int], tuple[ContrastVerdict, ...]]
"""Gives the verdicts of all contrasts at a look, by its place."""


@dataclass(frozen=True)
class Calendar:
    """When cells began, when their ends were known, and when the campaign is looked at.

    Attributes
    ----------
    start, known_at : numpy.ndarray
        Calendar time at which each cell's clock starts, and at which its end was known, NaN where
        not seen; shape (n_cells,) [unit of the durations].
    looks, fractions : tuple of float
        Calendar time of each look [unit of the durations], and its share of the planned time [1].
    """

    start: np.ndarray
    known_at: np.ndarray
    looks: tuple[float, ...]
    fractions: tuple[float, ...]


@dataclass(frozen=True)
class Shown:
    """A difference that was shown at a look.

    Attributes
    ----------
    look : int
        Place of the look.
    longer : bool
        Whether the group lasted longer than the control then.
    """

    look: int
    longer: bool


@dataclass(frozen=True)
class Held:
    """A difference that the tests had crossed for, and that something stood against.

    Attributes
    ----------
    look : int
        Place of the look by which all of them had crossed.
    how : AtLooks
        What held it back there: cells that nobody knows why they were followed no longer, cells
        that looked bad, or else follow-up that differed or the plain test of those lives.
    """

    look: int
    how: AtLooks


@dataclass(frozen=True)
class Sequential:
    """All looks at the contrasts of one set of lives.

    Attributes
    ----------
    series : dict of tuple of int to tuple of Look
        Looks at each set of groups against the control, by the numbers of the groups.
    shown : tuple of Shown or None
        For each contrast, the look at which it was shown first.
    held : tuple of Held or None
        For each contrast that was not shown, what held it back once the tests had crossed.
    """

    series: dict[tuple[int, ...], tuple[Look, ...]]
    shown: tuple[Shown | None, ...]
    held: tuple[Held | None, ...]


def sequential(lives: Lives, *, groups: int, rules: Rules, calendar: Calendar) -> Sequential:
    """Look at all contrasts at every look so far.

    Parameters
    ----------
    lives : Lives
        As in `compare_groups`; ends seen when they come, no delayed entry.
    groups : int
        Number of groups, with the control [1].
    rules : Rules
        What decides; the level in all is 1 less the confidence.
    calendar : Calendar
        Times of cells and looks.

    References
    ----------
    Lan & DeMets 1983, Biometrika 70, 659 (spending); Marcus, Peritz & Gabriel 1976, Biometrika 63,
    655 (closed testing): a set's test over all looks holds its level, so their closure does.
    """
    known = [
        lives_at(lives, look, start=calendar.start, known_at=calendar.known_at)
        for look in calendar.looks
    ]
    sizes = np.bincount(lives.group, minlength=groups)
    there = [place for place in range(1, groups) if sizes[place] and sizes[0]]
    alpha = 1 - rules.confidence
    sets: list[tuple[int, ...]] = [(place,) for place in there]
    if len(there) > MOST_CONTRASTS:
        alpha /= len(there)
    else:
        sets = [own for size in range(1, len(there) + 1) for own in combinations(there, size)]
    most = min(MOST_RELABELLINGS, _MOST_STATISTICS // max(1, len(sets) * len(known)))
    series = {own: _series(own, known, rules, calendar, alpha=alpha, most=most) for own in sets}
    judge = _judge(known, groups, rules)
    found = [_found(place, series, len(known), judge) for place in range(1, groups)]
    return Sequential(
        series,
        tuple(each if isinstance(each, Shown) else None for each in found),
        tuple(each if isinstance(each, Held) else None for each in found),
    )


def _series(
    own: tuple[int, ...],
    known: Sequence[Lives],
    rules: Rules,
    calendar: Calendar,
    *,
    alpha: float,
    most: int,
) -> tuple[Look, ...]:
    """Looks at one set of groups and the control."""
    cells = np.isin(known[0].group, (0, *own))
    number = np.searchsorted((0, *own), known[0].group[cells])
    mine = [lives.of(cells, group=number) for lives in known]
    return looks(
        mine if rules.stratify else [lives.unstratified() for lives in mine],
        times=calendar.looks,
        fractions=calendar.fractions,
        alpha=alpha,
        most=max(_FEWEST_DRAWN, min(most, _MOST_LABELS // int(cells.sum()))),
        seed=rules.drawing.seed,
    )


def _judge(known: Sequence[Lives], groups: int, rules: Rules) -> Judge:
    """What all contrasts were with what was known at a look; each look is worked out once."""

    @cache
    def judged(look: int) -> tuple[ContrastVerdict, ...]:
        lives = known[look]
        restricted = restriction_time(lives.duration, group=lives.group)
        found = compare_groups(lives, groups=groups, restriction_time=restricted, rules=rules)
        return found.contrasts

    return judged


def _found(
    place: int, series: dict[tuple[int, ...], tuple[Look, ...]], looks: int, judge: Judge
) -> Shown | Held | None:
    """First look at which nothing stands against a difference any more, or what did at first."""
    crossings = [
        next((number for number, look in enumerate(found) if look.crossed), None)
        for own, found in series.items()
        if place in own
    ]
    first = max((number for number in crossings if number is not None), default=None)
    if first is None or None in crossings:
        return None
    held = None
    for look in range(first, looks):
        judged = judge(look)[place - 1]
        if judged.verdict == "different":
            return Shown(look, judged.contrast.exact.statistic < 0)
        held = held or Held(look, _how(judged))
    return held


def _how(judged: ContrastVerdict) -> AtLooks:
    """What stood against a difference."""
    if judged.turned:
        return AtLooks.HELD_BY_STOPS
    return AtLooks.HELD_BY_BAD if judged.turned_by_bad else AtLooks.HELD
