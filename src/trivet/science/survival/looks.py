"""Looking every week without paying for it: alpha spent over looks, exact over relabellings.

A test that is repeated every week at 5 % finds something in far more than 5 % of campaigns in
which nothing is. So the 5 % are spent bit by bit. At each look a boundary is set such that, of all
ways to hand out the labels within batches, no more have crossed it by then than may. The same
relabellings run through all looks, so that what is counted is exact for few cells.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from trivet.science.lives.lives import Lives
from trivet.science.survival.exact_log_rank import permutation_covariance
from trivet.science.survival.log_rank import inverse_covariance, log_rank_scores
from trivet.science.survival.permutation_sums import multinomial, strata_of

Floats = NDArray[np.float64]
Labels = NDArray[np.int8]

EQUAL = 1e-9
"""Statistics this close, by their size, are one."""
MOST_RELABELLINGS = 200_000
"""Relabellings taken one by one; beyond as many, so many are drawn."""


@dataclass(frozen=True)
class Look:
    """One look.

    Attributes
    ----------
    time : float
        Calendar time of the look [any unit].
    fraction, may_spend : float
        Share of the planned time, and of relabellings that may have crossed by then [1].
    statistic, p : float
        Statistic of the labels at hand, and its own exact p [1].
    boundary : float
        Smallest statistic that may reject here; infinite where none may [1].
    nominal_level : float
        Share of all relabellings that reach the boundary here [1].
    spent : float
        Share that has crossed at this look or before [1].
    crossed : bool
        Whether the labels at hand cross here for the first time.
    """

    time: float
    fraction: float
    may_spend: float
    statistic: float
    p: float
    boundary: float
    nominal_level: float
    spent: float
    crossed: bool


def spending(fraction: float, *, alpha: float) -> float:
    """Alpha that may be spent by a share of the planned time.

    Parameters
    ----------
    fraction : float
        Share of the planned time, 0 to 1 [1].
    alpha : float
        Two-sided level in all [1].

    References
    ----------
    Lan & DeMets 1983, Biometrika 70, 659: 2 - 2 Phi(z / sqrt f), the type of O'Brien and Fleming.
    """
    if fraction <= 0.0:
        return 0.0
    if fraction >= 1.0:
        return alpha
    return float(2.0 - 2.0 * ndtr(ndtri(1.0 - alpha / 2.0) / math.sqrt(fraction)))


def lives_at(lives: Lives, look: float, *, start: Floats, known_at: Floats) -> Lives:
    """Lives as they stood at a look.

    Parameters
    ----------
    lives : Lives
        Lives as they are known in the end, observed from their start.
    look : float
        Calendar time of the look [unit of the others].
    start : ndarray, shape (n_cells,)
        Calendar time at which a cell's clock starts.
    known_at : ndarray, shape (n_cells,)
        Calendar time from which the end is known; not before it happened.

    Returns
    -------
    Lives
        A cell whose end had come but was not known yet counts as alive at the look, and one that
        has not begun lasts 0. Nobody had looked on a cell as stopped, or knew its cause, before it
        was so.
    """
    age = np.clip(look - start, 0.0, None)
    ended = lives.observed == 1
    known = ended & (known_at <= look)
    gone = start + lives.duration <= look
    return replace(
        lives,
        duration=np.where(
            known, lives.duration, np.where(ended, age, np.minimum(lives.duration, age))
        ),
        observed=known.astype(np.int64),
        stopped=None if lives.stopped is None else lives.stopped & gone,
        looked_bad=None if lives.looked_bad is None else lives.looked_bad & gone,
        cause=None if lives.cause is None else np.where(known, lives.cause, 0),
    )


def relabelled(
    group: NDArray[np.int64],
    *,
    stratum: NDArray[np.int64],
    most: int = MOST_RELABELLINGS,
    seed: int = 0,
) -> tuple[Labels, bool]:
    """Ways to hand out the labels within strata, the one at hand first where they are drawn.

    Parameters
    ----------
    group, stratum : ndarray of int, shape (n_cells,)
        Numbers of group and stratum.
    most : int
        Most ways that are taken; beyond them so many are drawn [1].
    seed : int
        Seed of the draws.

    Returns
    -------
    labels : ndarray, shape (n_ways, n_cells)
        Group of each cell.
    complete : bool
        Whether these are all ways.
    """
    places = [np.flatnonzero(stratum == name) for name in np.unique(stratum)]
    ways = math.prod(multinomial(np.bincount(group[own]).tolist()) for own in places)
    if ways <= most:
        parts = [np.array(list(_splits(group[own])), dtype=np.int8) for own in places]
        labels = np.zeros((ways, group.size), dtype=np.int8)
        for row, chosen in enumerate(product(*(range(len(part)) for part in parts))):
            for own, part, which in zip(places, parts, chosen, strict=True):
                labels[row, own] = part[which]
        return labels, True
    random = np.random.default_rng(seed)
    drawn = np.tile(group.astype(np.int8), (most, 1))
    for own in places:
        drawn[1:, own] = random.permuted(drawn[1:, own], axis=1)
    return drawn, False


def _splits(group: NDArray[np.int64]) -> list[list[int]]:
    """Every way to hand out labels to the cells of one stratum."""
    sizes = np.bincount(group)
    found = [[-1] * group.size]
    for label, size in enumerate(sizes):
        following = []
        for held in found:
            free = [place for place, taken in enumerate(held) if taken < 0]
            for chosen in combinations(free, int(size)):
                one = list(held)
                for place in chosen:
                    one[place] = label
                following.append(one)
        found = following
    return found


def statistics(
    labels: Labels, lives: Sequence[Lives], *, stratum: NDArray[np.int64], groups: int
) -> Floats:
    """Log-rank statistic of every relabelling at every look.

    Parameters
    ----------
    labels : ndarray, shape (n_ways, n_cells)
        From `relabelled`.
    lives : sequence of Lives
        What is known at each look.
    stratum : ndarray of int, shape (n_cells,)
        Stratum, within which scores are made.
    groups : int
        Number of groups [1].

    Returns
    -------
    ndarray, shape (n_ways, n_looks)
        Two groups: size of the sum of the scores of group 1, the score of a cell being its end
        seen less expected. More groups: quadratic form of all sums with their permutation
        covariance.
    """
    out = np.zeros((len(labels), len(lives)))
    for place, known in enumerate(lives):
        scores = log_rank_scores(known.duration, observed=known.observed, stratum=stratum)
        if groups == 2:
            out[:, place] = np.abs((labels == 1) @ scores)
            continue
        sums = np.stack([(labels == k) @ scores for k in range(groups)], axis=1)
        strata = strata_of(scores, group=labels[0], stratum=stratum, groups=groups)
        inverse, rank = inverse_covariance(permutation_covariance(strata, groups=groups))
        if rank:
            out[:, place] = np.einsum("ng,gh,nh->n", sums, inverse, sums)
    return out


def looks(
    lives: Sequence[Lives],
    *,
    times: Sequence[float],
    fractions: Sequence[float],
    alpha: float,
    most: int = MOST_RELABELLINGS,
    seed: int = 0,
) -> tuple[Look, ...]:
    """Look at a comparison several times at one level in all.

    Parameters
    ----------
    lives : sequence of Lives
        What was known at each look, in order of time, of the control and one group or several;
        labels are exchanged within batches.
    times, fractions : sequence of float
        Calendar time of each look [any unit], and its share of the planned time [1].
    alpha : float
        Two-sided level in all [1].
    most, seed : int
        As in `relabelled`.

    Returns
    -------
    tuple of Look
        At each look the boundary is the smallest attained statistic such that the relabellings
        that never crossed before and reach it, added to those that had, stay within what may be
        spent by then.

    References
    ----------
    Spending: `spending`. Permutation in place of an asymptotic law: as in `exact_log_rank`, with
    the same labels at every look.
    """
    group, batch = lives[0].group, lives[0].batch
    stratum = np.zeros(group.size, dtype=np.int64)
    if batch is not None:
        stratum = np.unique(batch, return_inverse=True)[1]
    labels, complete = relabelled(group, stratum=stratum, most=most, seed=seed)
    values = statistics(labels, lives, stratum=stratum, groups=int(group.max()) + 1)
    seen = values[_at_hand(labels, group)] if complete else values[0]
    never = np.ones(len(values), dtype=bool)
    spent, before = 0.0, False
    out = []
    for place, (time, fraction) in enumerate(zip(times, fractions, strict=True)):
        own, slack = values[:, place], EQUAL * max(float(values[:, place].max()), 1e-3)
        may = spending(fraction, alpha=alpha)
        boundary = _boundary(own[never], room=(may - spent) * len(values), slack=slack)
        reach = own >= boundary - slack
        spent += float(np.mean(never & reach))
        crossed = bool(seen[place] >= boundary - slack) and not before
        out.append(
            Look(
                time=time,
                fraction=fraction,
                may_spend=may,
                statistic=float(seen[place]),
                p=float(np.mean(own >= seen[place] - slack)),
                boundary=boundary,
                nominal_level=float(np.mean(reach)),
                spent=spent,
                crossed=crossed,
            )
        )
        before = before or crossed
        never &= ~reach
    return tuple(out)


def _at_hand(labels: Labels, group: NDArray[np.int64]) -> int:
    """Row of the labels at hand."""
    return int(np.flatnonzero((labels == group.astype(np.int8)[None]).all(axis=1))[0])


def _boundary(values: Floats, *, room: float, slack: float) -> float:
    """Smallest attained value that so few reach; infinite where none is.

    Where nothing has ended all values are 0, and 0 rejects nothing.
    """
    ordered = np.sort(values)[::-1]
    best = math.inf
    place = 0
    while place < ordered.size and ordered[place] > slack:
        alike = int(np.searchsorted(-ordered, -(ordered[place] - slack), side="right"))
        if alike > room + EQUAL * len(values):
            break
        best, place = float(ordered[alike - 1]), alike
    return best
