"""Exact permutation log-rank test: scores and labels within strata."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv

from trivet.science.lives.shared_strata import in_shared_strata
from trivet.science.survival.drawn_sums import draws_of
from trivet.science.survival.log_rank import checked_groups, inverse_covariance, log_rank_scores
from trivet.science.survival.permutation_forms import EQUAL, forms, share_at_least, smallest_p
from trivet.science.survival.permutation_sums import Stratum, split_sums, strata_of

MONTE_CARLO_CONFIDENCE = 0.99
"""Confidence of the interval of a drawn p."""

REDRAWS = 3
"""How often the draws are doubled where the interval of p holds a threshold."""

MOST_LABELS = 10_000_000
"""Labels shuffled at once."""

MOST_SHUFFLED = 50_000_000
"""Labels shuffled in all: with thousands of cells fewer permutations are drawn than asked."""

FEWEST_DRAWS = 1000


@dataclass(frozen=True)
class ExactLogRank:
    """Permutation log-rank test.

    Attributes
    ----------
    statistic : float
        Two groups: ends seen less expected of group 1, over its permutation standard deviation.
        More groups: quadratic form of these differences with their permutation covariance,
        which is the same for all permutations [1]. NaN where nothing can be compared.
    p : float
        Two-sided p [1]; NaN where nothing can be compared.
    p_lower, p_upper : float
        Interval of a drawn p at `MONTE_CARLO_CONFIDENCE`; both equal p where enumerated [1].
    smallest_attainable_p : float
        p of the most extreme permutation of these scores [1].
    permutations : int
        Number of permutations within the strata [1].
    draws : int
        Permutations drawn; 0 where all were enumerated [1].
    """

    statistic: float
    p: float
    p_lower: float
    p_upper: float
    smallest_attainable_p: float
    permutations: int
    draws: int


NAN = float("nan")
NOTHING = ExactLogRank(NAN, NAN, NAN, NAN, NAN, permutations=0, draws=0)


def exact_log_rank(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None = None,
    entry: np.ndarray | None = None,
    enumeration_limit: int = 1_500_000,
    draws: int = 200_000,
    seed: int = 0,
    thresholds: Sequence[float] = (),
) -> ExactLogRank:
    """Two-sided permutation test on the log-rank scores.

    The difference of ends seen and expected is permuted, not the chi-squared, whose variance
    would change with each permutation. It is exact where the groups are censored alike.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    group : numpy.ndarray
        Number of the group from 0 on, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: one stratum.
    entry : numpy.ndarray or None
        Delayed entry, see `trivet.science.lives.delayed_entry.checked_entry`; the test is then
        exact where entries are alike too.
    enumeration_limit : int
        Most distinct score sums to hold at once; beyond it permutations are drawn [1].
    draws, seed : int
        Permutations drawn, and the seed of the draws [1].
    thresholds : sequence of float
        Values of p that decide; where the interval of a drawn p holds one, more are drawn [1].

    Returns
    -------
    ExactLogRank

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked` and
        `trivet.science.survival.log_rank.checked_groups`.

    References
    ----------
    Callaert 2003, Am. Stat. 57, 214-217 (two groups, ties as here). A drawn p counts the
    observed labels as one draw, so it is never 0.
    """
    scores = log_rank_scores(duration, observed=observed, stratum=stratum, entry=entry)
    return exact_score_test(
        scores,
        group=group,
        stratum=stratum,
        enumeration_limit=enumeration_limit,
        draws=draws,
        seed=seed,
        thresholds=thresholds,
    )


def exact_score_test(
    scores: np.ndarray,
    *,
    group: np.ndarray,
    stratum: np.ndarray | None = None,
    enumeration_limit: int = 1_500_000,
    draws: int = 200_000,
    seed: int = 0,
    thresholds: Sequence[float] = (),
    level: np.ndarray | None = None,
) -> ExactLogRank:
    """Two-sided permutation test on given scores.

    Parameters
    ----------
    scores : numpy.ndarray
        Scores that add up to 0 in each stratum, positive for an early end, shape (n_cells,) [1].
    group, stratum, enumeration_limit, draws, seed, thresholds
        As in `exact_log_rank`.
    level : numpy.ndarray or None
        Level of each group of an ordered factor, shape (n_groups,) [any unit]: the test is then
        that of a trend, on the sum of level times score. Its statistic is that sum over its
        permutation standard deviation, positive where ends come early at high levels.

    Returns
    -------
    ExactLogRank

    Raises
    ------
    ValueError
        See `trivet.science.survival.log_rank.checked_groups`; or if there is not one finite level
        for each group.

    References
    ----------
    Trend: Tarone 1975, Biometrika 62, 679-682 (from memory), with the permutation covariance.
    """
    groups, numbers = checked_groups(group, stratum, len(scores))
    count = int(groups.max()) + 1 if len(groups) else 0
    strata = strata_of(scores, group=groups, stratum=numbers, groups=count)
    covariance = permutation_covariance(strata, groups=count)
    inverse, rank = (
        inverse_covariance(covariance) if level is None else _trend_form(covariance, level)
    )
    if not rank:
        return NOTHING
    shared = in_shared_strata(groups, stratum=numbers)
    sums = np.array([np.sum(scores[shared & (groups == k)]) for k in range(count)])
    seen = max(float(sums @ inverse @ sums), 0.0)  # rounding can turn a 0 slightly negative
    smallest = smallest_p(strata, inverse)
    total = math.prod(stratum.permutations for stratum in strata)
    statistic = math.copysign(math.sqrt(seen), sums[1]) if count == 2 else seen
    if level is not None:
        statistic = math.copysign(math.sqrt(seen), float(np.asarray(level, dtype=float) @ sums))
    pair = split_sums(strata, limit=enumeration_limit)
    if pair is not None:
        p = share_at_least(pair, inverse, seen)
        return ExactLogRank(statistic, p, p, p, smallest, total, 0)
    hits, drawn = _drawn(strata, inverse, seen, draws=draws, seed=seed, thresholds=thresholds)
    lower, upper = proportion_limits(hits, draws=drawn)
    return ExactLogRank(statistic, (hits + 1) / (drawn + 1), lower, upper, smallest, total, drawn)


def _trend_form(covariance: np.ndarray, level: np.ndarray) -> tuple[np.ndarray, int]:
    """Square of the trend over its variance as a form of the groups' sums; rank 0 without one."""
    levels = np.asarray(level, dtype=float)
    if levels.shape != (len(covariance),) or not np.isfinite(levels).all():
        message = f"{len(covariance)} groups need as many finite levels, not {levels.tolist()}"
        raise ValueError(message)
    centred = levels - levels.mean() if levels.size else levels  # sums add up to 0
    size = float(centred @ centred)
    variance = float(centred @ covariance @ centred)
    if variance <= EQUAL * size * float(np.trace(covariance)):
        return np.zeros_like(covariance), 0
    return np.outer(centred, centred) / variance, 1


def permutation_covariance(strata: Sequence[Stratum], *, groups: int) -> np.ndarray:
    """Covariance of the groups' score sums over all permutations within strata.

    Parameters
    ----------
    strata : sequence of Stratum
        Scores and sizes.
    groups : int
        Number of groups [1].

    Returns
    -------
    numpy.ndarray
        Shape (groups, groups) [1].
    """
    covariance = np.zeros((groups, groups))
    for stratum in strata:
        cells = sum(stratum.sizes)
        repeats = np.array(stratum.repeats, dtype=float)
        centred = stratum.values - np.sum(repeats * stratum.values) / cells
        spread = np.sum(repeats * centred**2) / (cells - 1)
        sizes = np.array(stratum.sizes, dtype=float)
        covariance += spread * (np.diag(sizes) - np.outer(sizes, sizes) / cells)
    return covariance


def _drawn(
    strata: Sequence[Stratum],
    inverse: np.ndarray,
    seen: float,
    *,
    draws: int,
    seed: int,
    thresholds: Sequence[float],
) -> tuple[int, int]:
    """Permutations at least as extreme among those drawn, and how many were drawn."""
    generator, laws = np.random.default_rng(seed), draws_of(strata)
    hits, drawn = 0, 0
    cells = sum(sum(stratum.sizes) for stratum in strata)
    most = max(FEWEST_DRAWS, MOST_SHUFFLED // cells)
    chunk = max(1, MOST_LABELS // cells)
    for _ in range(REDRAWS + 1):
        goal = min(max(draws, 2 * drawn), most)
        while drawn < goal:
            number = min(chunk, goal - drawn)
            sums = np.zeros((number, len(strata[0].sizes) - 1))
            for draw in laws:
                sums += draw(generator, number)
            hits += int(np.sum(forms(sums, inverse) >= seen - EQUAL * max(seen, 1.0)))
            drawn += number
        lower, upper = proportion_limits(hits, draws=drawn)
        if not any(lower <= threshold < upper for threshold in thresholds):
            break
    return hits, drawn


def proportion_limits(hits: int, *, draws: int) -> tuple[float, float]:
    """Clopper-Pearson limits of a drawn share at `MONTE_CARLO_CONFIDENCE`.

    Parameters
    ----------
    hits, draws : int
        Draws that count, and all draws [1].

    Returns
    -------
    tuple of float
        Lower and upper limit [1].
    """
    tail = (1 - MONTE_CARLO_CONFIDENCE) / 2
    lower = 0.0 if hits == 0 else float(betaincinv(hits, draws - hits + 1, tail))
    upper = 1.0 if hits == draws else float(betaincinv(hits + 1, draws - hits, 1 - tail))
    return lower, upper
