"""Exact trend over an ordered factor: against every relabelling, and against the two-group test."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from trivet.science.survival.exact_log_rank import exact_log_rank, exact_score_test
from trivet.science.survival.log_rank import log_rank_scores


def _by_hand(scores: np.ndarray, level: np.ndarray, stratum: np.ndarray) -> tuple[float, float]:
    """P and smallest attainable p from every order of the levels within strata."""
    sums = [0.0]
    for name in np.unique(stratum):
        own = stratum == name
        part = [float(np.dot(order, scores[own])) for order in itertools.permutations(level[own])]
        sums = [one + other for one in sums for other in part]
    size = np.abs(sums)
    seen = abs(float(level @ scores))
    return float(np.mean(size >= seen - 1e-9)), float(np.mean(size >= size.max() - 1e-9))


@pytest.mark.parametrize("seed", range(6))
def test_trend_counts_every_relabelling(seed: int) -> None:
    """P of three levels in two batches is the share of all orders that are as extreme."""
    random = np.random.default_rng(seed)
    level = np.array([1.0, 2.0, 4.0])
    group = np.array([0, 1, 2, 2, 0, 0, 1, 2, 1])
    stratum = np.array([0, 0, 0, 0, 1, 1, 1, 1, 1])
    lives, seen = random.integers(1, 12, 9).astype(float), random.integers(0, 4, 9) > 0
    scores = log_rank_scores(lives, observed=seen.astype(int), stratum=stratum)
    got = exact_score_test(scores, group=group, stratum=stratum, level=level)
    p, smallest = _by_hand(scores, level[group], stratum)
    assert got.p == pytest.approx(p, abs=1e-12)
    assert got.smallest_attainable_p == pytest.approx(smallest, abs=1e-12)
    assert got.draws == 0


@pytest.mark.parametrize(
    ("lives", "group", "batch"),
    [
        ([2, 6, 3, 5, 7, 4, 1], [0, 0, 1, 1, 2, 2, 2], [0, 1, 0, 0, 1, 1, 0]),
        ([1, 3, 8, 6, 4, 2, 7, 5], [0, 0, 0, 1, 1, 2, 2, 2], [0, 0, 1, 1, 0, 1, 0, 1]),
        ([5, 1, 2, 6, 7, 3, 4], [0, 0, 1, 1, 1, 2, 2], [1, 0, 1, 0, 1, 0, 1]),
    ],
)
def test_no_trend_at_all_has_p_of_one(lives: list[int], group: list[int], batch: list[int]) -> None:
    """Where levels and scores cancel out, the statistic is 0, though rounding makes it less."""
    level, groups, stratum = np.array([0.0, 1.0, 2.0]), np.array(group), np.array(batch)
    scores = log_rank_scores(
        np.array(lives, dtype=float), observed=np.ones(len(lives), dtype=int), stratum=stratum
    )
    got = exact_score_test(scores, group=groups, stratum=stratum, level=level)
    p, smallest = _by_hand(scores, level[groups], stratum)
    assert got.statistic == pytest.approx(0.0, abs=1e-7)
    assert got.p == p == 1.0
    assert got.smallest_attainable_p == pytest.approx(smallest, abs=1e-12)


def test_trend_of_two_groups_is_the_test_of_two_groups() -> None:
    """With two levels, whatever their distance, the trend is the exact log-rank test."""
    lives = np.array([410, 455, 620, 560, 705, 760, 390, 520], dtype=float)
    group, observed = np.array([0, 0, 0, 1, 1, 1, 0, 1]), np.array([1, 1, 1, 1, 1, 0, 1, 1])
    scores = log_rank_scores(lives, observed=observed)
    two = exact_log_rank(lives, observed=observed, group=group)
    trend = exact_score_test(scores, group=group, level=np.array([2.0, 7.0]))
    assert trend.p == pytest.approx(two.p, abs=1e-12)
    assert trend.statistic == pytest.approx(two.statistic, rel=1e-9)
    turned = exact_score_test(scores, group=group, level=np.array([7.0, 2.0]))
    assert turned.statistic == pytest.approx(-two.statistic, rel=1e-9)


def test_trend_needs_a_level_for_each_group_and_levels_that_differ() -> None:
    """One level too few is refused; equal levels have no trend to test."""
    lives, group = np.arange(1.0, 7.0), np.array([0, 1, 2, 0, 1, 2])
    scores = log_rank_scores(lives, observed=np.ones(6, dtype=int))
    with pytest.raises(ValueError, match="3 groups need as many finite levels"):
        exact_score_test(scores, group=group, level=np.array([1.0, 2.0]))
    assert np.isnan(exact_score_test(scores, group=group, level=np.ones(3)).p)
