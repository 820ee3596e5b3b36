"""Chance that a design shows a difference, by the campaign's own rule: batches, family and looks.

A contrast counts as shown where its own test and every joint test of a set of groups that holds it
have crossed their boundaries, each at one level over all looks, as in
`trivet.science.comparison.sequential`. What else may stand against a difference there (stops that
nobody explains, unlike follow-up) is not planned for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from trivet.science.comparison.closed_testing import MOST_CONTRASTS
from trivet.science.comparison.planning import Power
from trivet.science.survival.exact_log_rank import proportion_limits
from trivet.science.survival.looks import EQUAL, relabelled, spending

RELABELLINGS = 1_000
"""Relabellings of a simulated test: all of them up to this number, else so many drawn."""


@dataclass(frozen=True)
class Design:
    """Cells of a campaign as planned, and its rule.

    Attributes
    ----------
    group, stratum : numpy.ndarray
        Number of the group, 0 for the control, and of the batch, shape (n_cells,) [1].
    start : numpy.ndarray
        Share of the planned time at which the clock of each cell starts, shape (n_cells,) [1].
    looks : tuple of float
        Share of the planned time at each look, the last of them 1 [1].
    alpha : float
        Two-sided level of the family [1].
    entry : numpy.ndarray or None
        Time from which each cell is under observation, as a share of the mean time that cells are
        followed, shape (n_cells,) [1]; None where from their start.
    """

    group: np.ndarray
    stratum: np.ndarray
    start: np.ndarray
    looks: tuple[float, ...]
    alpha: float
    entry: np.ndarray | None = None


def design_power(
    design: Design,
    *,
    place: int,
    ratio: float,
    spread: float,
    censored: float,
    simulations: int,
    seed: int,
) -> Power:
    """Chance to show that one group differs from the control, the others lasting like the control.

    Parameters
    ----------
    design : Design
        Cells and rule.
    place : int
        Number of the group that differs [1].
    ratio : float
        True ratio of times, group over control [1].
    spread : float
        Scale of log time of Weibull lives [1]; one over their shape.
    censored : float
        Share of the control that has not ended when followed for the mean time [1].
    simulations, seed : int
        Campaigns simulated, and the seed [1].

    Returns
    -------
    Power
    """
    generator = np.random.default_rng(seed)
    lives = _lives(design, place, ratio, spread, censored, simulations, generator)
    groups = int(design.group.max()) + 1
    alpha = design.alpha
    sets: list[tuple[int, ...]] = [(place,)]
    if groups - 1 > MOST_CONTRASTS:
        alpha /= groups - 1
    else:
        others = [number for number in range(1, groups) if number != place]
        sets = [
            tuple(sorted((place, *more)))
            for size in range(len(others) + 1)
            for more in combinations(others, size)
        ]
    shown = np.ones(simulations, dtype=bool)
    for own in sets:
        shown &= _crossed(design, own, lives, alpha, seed)
    hits = int(shown.sum())
    lower, upper = proportion_limits(hits, draws=simulations)
    return Power(hits / simulations, lower, upper, simulations)


@dataclass(frozen=True)
class _Lives:
    """Drawn lives in units in which those of the control are exponential of mean 1."""

    ends: np.ndarray
    entry: np.ndarray | None
    wall: float
    shape: float

    def at(self, age: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Times and ends as seen at ages of the cells [share of the mean follow-up]."""
        seen_until = np.where(age > 0, self.wall * np.maximum(age, 0.0) ** self.shape, 0.0)
        return np.minimum(self.ends, seen_until), self.ends <= seen_until


def _lives(
    design: Design,
    place: int,
    ratio: float,
    spread: float,
    censored: float,
    simulations: int,
    generator: np.random.Generator,
) -> _Lives:
    """Draw lives; a cell that enters later is one that has not ended by then."""
    count = len(design.group)
    least = censored if len(design.looks) == 1 else max(censored, 0.5 / count)
    wall = -math.log(least) if least > 0 else math.inf
    ends = generator.exponential(size=(simulations, count))
    ends[:, design.group == place] *= ratio ** (1 / spread)
    entry = None
    if design.entry is not None and np.any(design.entry > 0):
        entry = wall * design.entry ** (1 / spread)
        ends += entry
    return _Lives(ends, entry, wall, 1 / spread)


def _crossed(
    design: Design, own: tuple[int, ...], lives: _Lives, alpha: float, seed: int
) -> np.ndarray:
    """Whether a set of groups and the control crosses at any look, shape (simulations,)."""
    cells = np.isin(design.group, (0, *own))
    group = np.searchsorted((0, *own), design.group[cells])
    stratum = np.unique(design.stratum[cells], return_inverse=True)[1]
    labels, complete = relabelled(group, stratum=stratum, most=RELABELLINGS, seed=seed)
    at_hand = 0
    if complete:
        at_hand = int(np.flatnonzero((labels == group).all(axis=1))[0])
    crossed = np.zeros(len(lives.ends), dtype=bool)
    never = np.ones((len(lives.ends), len(labels)), dtype=bool)
    for fraction, values in _statistics(design, cells, lives, labels, stratum):
        spent = 1.0 - never.mean(axis=1)
        room = (spending(fraction, alpha=alpha) - spent) * len(labels)
        reach = values >= _boundaries(values, never, room)[:, None]
        crossed |= reach[:, at_hand] & never[:, at_hand]
        never &= ~reach
    return crossed


def _statistics(
    design: Design, cells: np.ndarray, lives: _Lives, labels: np.ndarray, stratum: np.ndarray
) -> Iterator[tuple[float, np.ndarray]]:
    """Statistic of every relabelling at every look that may spend anything.

    Yields
    ------
    fraction : float
        Share of the planned time.
    values : numpy.ndarray
        Shape (simulations, n_labels), less what rounding may have done to it.
    """
    follow_up = 1.0 - float(design.start.mean())
    entry = None if lives.entry is None else lives.entry[cells]
    for fraction in design.looks:
        if spending(fraction, alpha=design.alpha) * len(labels) < 1:
            continue
        times, seen = lives.at((fraction - design.start) / follow_up)
        scores = many_scores(times[:, cells], seen[:, cells], stratum=stratum, entry=entry)
        values = _sums(scores, labels, stratum)
        yield fraction, values - EQUAL * np.maximum(values.max(axis=1, keepdims=True), 1e-3)


def _sums(scores: np.ndarray, labels: np.ndarray, stratum: np.ndarray) -> np.ndarray:
    """Size of the sum of one group, or the form of the sums of several, with their covariance."""
    groups = int(labels.max()) + 1
    if groups == 2:
        size: np.ndarray = np.abs(scores @ (labels == 1).T.astype(float))
        return size
    sums = [scores @ (labels == k).T.astype(float) for k in range(1, groups)]
    covariance = np.zeros((len(scores), groups - 1, groups - 1))
    for name in np.unique(stratum):
        inside = stratum == name
        sizes = np.bincount(labels[0][inside], minlength=groups)[1:].astype(float)
        total = int(inside.sum())
        if total < 2:
            continue
        shape = np.diag(sizes) - np.outer(sizes, sizes) / total
        variance = scores[:, inside].var(axis=1, ddof=1)
        covariance += variance[:, None, None] * shape
    inverse = np.linalg.pinv(covariance, hermitian=True)
    values: np.ndarray = np.zeros(sums[0].shape)
    # term by term: a product of three arrays at once takes three times as long
    for row, one in enumerate(sums):
        values += inverse[:, row, row, None] * one**2
        for column, other in enumerate(sums[:row]):
            values += 2.0 * inverse[:, row, column, None] * one * other
    return values


def _boundaries(values: np.ndarray, never: np.ndarray, room: np.ndarray) -> np.ndarray:
    """Smallest attained value that so few reach, in each simulation; infinite where none is.

    Equal values count together, and 0 rejects nothing.
    """
    most = int(max(room.max() + EQUAL * values.shape[1], 0.0)) + 1
    held = np.where(never, values, -np.inf)
    if most < held.shape[1]:
        held = -np.partition(-held, most, axis=1)[:, : most + 1]
    held = -np.sort(-held, axis=1)
    slack = 2 * EQUAL * np.maximum(values.max(axis=1), 1e-3)
    following = np.concatenate([held[:, 1:], np.full((len(held), 1), -np.inf)], axis=1)
    counts = np.arange(1, held.shape[1] + 1)
    may_stop = held > np.maximum(following, 0.0) + slack[:, None]
    may_stop &= counts <= (room + EQUAL * values.shape[1])[:, None]
    last = np.where(may_stop, counts, 0).max(axis=1)
    rows = np.arange(len(held))
    found: np.ndarray = np.where(last > 0, held[rows, np.maximum(last, 1) - 1] - slack / 2, np.inf)
    return found


def many_scores(
    times: np.ndarray,
    seen: np.ndarray,
    *,
    stratum: np.ndarray,
    entry: np.ndarray | None = None,
) -> np.ndarray:
    """Log-rank scores of many campaigns without tied ends.

    Parameters
    ----------
    times : numpy.ndarray
        Times to the end or to the last sight, shape (n_campaigns, n_cells) [any unit].
    seen : numpy.ndarray of bool
        Whether the end was seen, shape (n_campaigns, n_cells).
    stratum : numpy.ndarray
        Batch, shape (n_cells,).
    entry : numpy.ndarray or None
        Time of entry, the same in all campaigns, shape (n_cells,) [unit of the times].

    Returns
    -------
    numpy.ndarray
        As `trivet.science.survival.log_rank.log_rank_scores` gives them, shape
        (n_campaigns, n_cells).
    """
    scores = np.zeros(times.shape)
    for name in np.unique(stratum):
        own = np.flatnonzero(stratum == name)
        part = times[:, own]
        # at a shared last sight nothing ends, so the order among equals does not matter
        order = np.argsort(part, axis=1, kind="stable")
        ordered = np.take_along_axis(part, order, axis=1)
        ended = np.take_along_axis(seen[:, own], order, axis=1)
        gone = np.arange(len(own))
        entered = np.full(ordered.shape, len(own))
        if entry is not None:
            entered = np.searchsorted(np.sort(entry[own]), ordered, side="left")
        hazard = np.cumsum(ended / np.maximum(entered - gone, 1), axis=1)
        mine = np.empty(order.shape)
        np.put_along_axis(mine, order, ended - hazard, axis=1)
        if entry is not None:
            before = np.concatenate([np.zeros((len(hazard), 1)), hazard], axis=1)
            for place, cell in enumerate(own):
                passed = np.sum(ordered <= entry[cell], axis=1)
                mine[:, place] += before[np.arange(len(before)), passed]
        scores[:, own] = mine
    return scores
