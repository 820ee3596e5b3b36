"""Exact permutation test of a number of each cell against its score, within strata."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trivet.science.survival.exact_log_rank import (
    FEWEST_DRAWS,
    MOST_LABELS,
    MOST_SHUFFLED,
    proportion_limits,
)
from trivet.science.survival.permutation_forms import EQUAL, share_at_least
from trivet.science.survival.permutation_sums import (
    Stratum,
    Sums,
    distinct_allocations,
    paired,
    strata_of,
    stratum_sums,
)

NAN = float("nan")
_FORM = np.array([[1.0, 0.0], [0.0, 0.0]])
"""Of a sum of width 1 and what is left of 0: the square of the sum."""
MOST_LEVELS = 12
"""Distinct numbers in a stratum up to which orders are counted: 12 cells of different numbers and
lives have 479 million."""


@dataclass(frozen=True)
class Association:
    """Test of a number of each cell against its score.

    Attributes
    ----------
    correlation : float
        Correlation of the ranks with the scores, within strata, from -1 to 1 [1]; NaN where
        neither may move.
    p, p_lower, p_upper : float
        Two-sided p and the 99 % interval of a drawn one; all equal where enumerated [1].
    smallest_attainable_p : float
        p of the clearest order of these numbers; NaN where relabellings were drawn [1].
    permutations : int
        Relabellings within strata [1].
    draws : int
        Relabellings drawn; 0 where all were enumerated [1].
    cells : int
        Cells in strata in which something can be told apart [1].
    """

    correlation: float
    p: float
    p_lower: float
    p_upper: float
    smallest_attainable_p: float
    permutations: int
    draws: int
    cells: int


NOTHING = Association(NAN, NAN, NAN, NAN, NAN, permutations=0, draws=0, cells=0)


@dataclass(frozen=True)
class _Part:
    """One stratum: scores, ranks, and the same as what the engine of sums takes."""

    score: np.ndarray
    rank: np.ndarray
    stratum: Stratum
    level: np.ndarray


def association(
    scores: np.ndarray,
    *,
    values: np.ndarray,
    stratum: np.ndarray,
    enumeration_limit: int = 1_500_000,
    draws: int = 200_000,
    seed: int = 0,
) -> Association:
    """Two-sided permutation test on the sum of rank times score, ranks within strata.

    Parameters
    ----------
    scores : numpy.ndarray
        Scores that add up to 0 in each stratum, shape (n_cells,) [1].
    values : numpy.ndarray
        Finite number of each cell, shape (n_cells,) [any unit]; only their order in a stratum
        counts, ties share a rank.
    stratum : numpy.ndarray
        Label of the stratum, shape (n_cells,).
    enumeration_limit : int
        Most distinct sums to hold at once; beyond it relabellings are drawn [1].
    draws, seed : int
        Relabellings drawn otherwise, and the seed of the draws [1].

    Returns
    -------
    Association

    Raises
    ------
    ValueError
        Shapes differ, or a number is not finite.

    References
    ----------
    Linear rank statistic with the permutation distribution: Hájek, Šidák and Sen, Theory of Rank
    Tests, 2nd ed., chapter 3 (from memory). A drawn p counts the labels seen as one draw.
    """
    if not scores.shape == values.shape == stratum.shape or not np.isfinite(values).all():
        message = f"{scores.shape} scores need as many finite numbers and strata"
        raise ValueError(message)
    parts = _parts(scores, values, stratum)
    if not parts:
        return NOTHING
    sum_seen = sum(float(part.rank @ part.score) for part in parts)
    size = math.sqrt(
        sum(float(part.rank @ part.rank) for part in parts)
        * sum(float(part.score @ part.score) for part in parts)
    )
    correlation = sum_seen / size
    permutations = math.prod(part.stratum.permutations for part in parts)
    cells = sum(len(part.score) for part in parts)
    pair = _every_sum(parts, enumeration_limit)
    if pair is not None:
        p = share_at_least(pair, _FORM, sum_seen**2)
        smallest = share_at_least(pair, _FORM, _largest(parts) ** 2)
        return Association(correlation, p, p, p, smallest, permutations, 0, cells)
    number = min(draws, max(FEWEST_DRAWS, MOST_SHUFFLED // cells))
    hits = _hits(parts, abs(sum_seen), np.random.default_rng(seed), number)
    lower, upper = proportion_limits(hits, draws=number)
    p = (hits + 1) / (number + 1)
    return Association(correlation, p, lower, upper, NAN, permutations, number, cells)


def _every_sum(parts: list[_Part], limit: int) -> tuple[Sums, Sums] | None:
    """All sums over strata, see `permutation_sums.paired`; None where there are too many."""
    for part in parts:
        if len(part.level) > MOST_LEVELS:
            return None
        if distinct_allocations(part.stratum, limit=limit) > limit:
            return None
    return paired([stratum_sums(part.stratum, part.level) for part in parts], limit=limit)


def _parts(scores: np.ndarray, values: np.ndarray, stratum: np.ndarray) -> list[_Part]:
    """Strata in which both scores and numbers differ."""
    found = []
    for name in np.unique(stratum):
        own = stratum == name
        _, code, count = np.unique(values[own], return_inverse=True, return_counts=True)
        # ranks from 1 on, of like values their mean
        level = np.cumsum(count) - (count - 1) / 2.0
        centred = level - float(np.mean(level[code]))
        score = scores[own]
        if len(level) < 2 or float(np.ptp(score)) < EQUAL:
            continue
        (whole,) = strata_of(
            score, group=code, stratum=np.zeros(len(score), dtype=int), groups=len(level)
        )
        found.append(_Part(score, centred[code], whole, centred))
    return found


def _largest(parts: list[_Part]) -> float:
    """Largest size of the sum: ranks and scores in the same order, or in opposite ones."""
    same = sum(float(np.sort(part.rank) @ np.sort(part.score)) for part in parts)
    opposite = sum(float(np.sort(part.rank)[::-1] @ np.sort(part.score)) for part in parts)
    return max(same, -opposite)


def _hits(parts: list[_Part], size: float, random: np.random.Generator, draws: int) -> int:
    """Relabellings drawn whose sum is at least as large as the one seen."""
    cells = sum(len(part.score) for part in parts)
    chunk = max(1, MOST_LABELS // cells)
    hits = 0
    for start in range(0, draws, chunk):
        number = min(chunk, draws - start)
        sums = np.zeros(number)
        for part in parts:
            sums += random.permuted(np.tile(part.rank, (number, 1)), axis=1) @ part.score
        hits += int(np.sum(np.abs(sums) >= size - EQUAL * max(size, 1.0)))
    return hits
