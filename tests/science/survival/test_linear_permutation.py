"""A number of each cell against its life: every relabelling counted, drawn ones near it."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import binom, permutation_test, rankdata

from trivet.science.survival.linear_permutation import MOST_LEVELS, association
from trivet.science.survival.log_rank import log_rank_scores


def _by_hand(
    scores: np.ndarray, values: np.ndarray, stratum: np.ndarray
) -> tuple[float, float, int]:
    """P, smallest attainable p and number of relabellings from every order within strata."""
    sums, seen, distinct = [0.0], 0.0, 1
    for name in np.unique(stratum):
        own = stratum == name
        rank = rankdata(values[own])
        rank = rank - rank.mean()
        seen += float(rank @ scores[own])
        orders = list(itertools.permutations(rank))
        distinct *= len(set(orders))
        sums = [one + float(np.dot(order, scores[own])) for one in sums for order in orders]
    size = np.abs(sums)
    return (
        float(np.mean(size >= abs(seen) - 1e-9)),
        float(np.mean(size >= size.max() - 1e-9)),
        distinct,
    )


@pytest.mark.parametrize("seed", range(8))
def test_every_relabelling_within_strata_is_counted(seed: int) -> None:
    """P, smallest p and reference set are those of all orders, with ties and running cells."""
    random = np.random.default_rng(seed)
    stratum = np.array([0, 0, 0, 0, 1, 1, 1, 1, 1])
    lives = random.integers(1, 9, 9).astype(float)
    seen = (random.integers(0, 3, 9) > 0).astype(int)
    seen[[0, 4]] = 1
    values = random.integers(1, 5, 9).astype(float)
    values[[0, 1, 4, 5]] = [1, 2, 1, 2]
    lives[[0, 1, 4, 5]] = [1, 2, 1, 2]
    scores = log_rank_scores(lives, observed=seen, stratum=stratum)
    got = association(scores, values=values, stratum=stratum)
    p, smallest, permutations = _by_hand(scores, values, stratum)
    assert got.p == pytest.approx(p, abs=1e-12)
    assert got.smallest_attainable_p == pytest.approx(smallest, abs=1e-12)
    assert (got.permutations, got.draws) == (permutations, 0)


def test_one_stratum_is_the_pairing_test_of_a_library() -> None:
    """SciPy's exact permutation test of pairings gives the same p for the same statistic."""
    lives = np.array([410, 455, 620, 560, 705, 760, 390], dtype=float)
    scores = log_rank_scores(lives, observed=np.array([1, 1, 0, 1, 1, 0, 1]))
    volume = np.array([80.2, 79.1, 81.4, 80.9, 82.0, 80.5, 78.8])
    found = permutation_test(
        (rankdata(volume),), lambda rank: abs(float((rank - rank.mean()) @ scores)),
        permutation_type="pairings", n_resamples=np.inf, alternative="greater", vectorized=False,
    )  # fmt: skip
    got = association(scores, values=volume, stratum=np.zeros(7))
    assert got.p == pytest.approx(float(found.pvalue), abs=1e-12)
    assert got.correlation < 0  # more of it, later ends: scores are of early ends
    assert got.permutations == 5040  # 7!


def test_drawn_relabellings_come_near() -> None:
    """Where all can't be held they are drawn: p within its 99 % interval of the counted one."""
    random = np.random.default_rng(4)
    stratum = np.repeat([0, 1], 7)
    scores = log_rank_scores(
        random.exponential(size=14), observed=np.ones(14, int), stratum=stratum
    )
    values = random.normal(size=14)
    counted = association(scores, values=values, stratum=stratum)
    drawn = association(scores, values=values, stratum=stratum, enumeration_limit=10)
    assert (counted.draws, drawn.draws) == (0, 200_000)
    assert drawn.p_lower <= counted.p <= drawn.p_upper
    assert np.isnan(drawn.smallest_attainable_p)
    many = MOST_LEVELS + 1
    scores = log_rank_scores(random.exponential(size=many), observed=np.ones(many, int))
    assert association(scores, values=np.arange(float(many)), stratum=np.zeros(many)).draws


def test_what_can_not_move_has_no_p() -> None:
    """The same number in each stratum, or no end in any: nothing is tested."""
    stratum = np.array([0, 0, 0, 1, 1, 1])
    lives = np.arange(1.0, 7.0)
    scores = log_rank_scores(lives, observed=np.ones(6, int), stratum=stratum)
    same = association(scores, values=np.array([1.0, 1, 1, 5, 5, 5]), stratum=stratum)
    assert np.isnan(same.p)
    assert same.permutations == 0
    running = log_rank_scores(lives, observed=np.zeros(6, int), stratum=stratum)
    assert np.isnan(association(running, values=lives, stratum=stratum).p)


def test_numbers_must_be_there() -> None:
    """A number that is none, or one too few, is refused."""
    scores = log_rank_scores(np.array([1.0, 2.0]), observed=np.array([1, 1]))
    with pytest.raises(ValueError, match="as many finite numbers"):
        association(scores, values=np.array([1.0, np.nan]), stratum=np.zeros(2))
    with pytest.raises(ValueError, match="as many finite numbers"):
        association(scores, values=np.array([1.0]), stratum=np.zeros(2))


def test_the_level_holds() -> None:
    """Without an association p is at most 0.05 in about 5 of 100 campaigns, and never much more."""
    random = np.random.default_rng(11)
    stratum = np.repeat([0, 1, 2, 3], 4)
    hits = 0
    for _ in range(400):
        lives = random.exponential(size=16)
        stop = random.exponential(1.5, size=16)
        scores = log_rank_scores(
            np.minimum(lives, stop), observed=(lives <= stop).astype(int), stratum=stratum
        )
        found = association(scores, values=random.normal(size=16), stratum=stratum)
        hits += found.p <= 0.05
    # 36 or more of 400 at 0.05 in less than one of a thousand such studies (binomial)
    assert binom.sf(35, 400, 0.05) < 1e-3
    assert hits < 36
