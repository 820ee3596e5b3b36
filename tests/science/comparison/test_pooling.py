"""Pooling with earlier campaigns against complete enumeration and the stratified log-rank test."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest

from trivet.science.comparison.contrast import MonteCarlo, primary_test
from trivet.science.comparison.pooling import Pooled, pool, shared_batches
from trivet.science.lives.lives import Lives
from trivet.science.survival.log_rank import log_rank
from trivet.science.survival.parametric import time_ratio


def _lives(rows: list[tuple[str, int, float]]) -> Lives:
    """Lives from batch, group and duration; a negative duration was censored."""
    value = np.array([row[2] for row in rows])
    return Lives(
        duration=np.abs(value),
        observed=(value > 0).astype(int),
        group=np.array([row[1] for row in rows]),
        batch=np.array([row[0] for row in rows]),
    )


NOW = _lives([("1", 0, 10.0), ("1", 0, 14.0), ("1", 0, 21.0), ("1", 1, 19.0), ("1", 1, 30.0),
              ("1", 1, -33.0)])  # fmt: skip
WINTER = _lives([("1", 0, 8.0), ("1", 0, 12.0), ("1", 1, 17.0), ("1", 1, -25.0),
                 ("2", 0, 9.0), ("2", 1, 9.0), ("2", 1, 22.0)])  # fmt: skip
# no cell of it is a control
AUTUMN = _lives([("1", 1, 15.0), ("1", 1, 16.0)])


def _pool(*campaigns: Lives) -> Pooled:
    """Pool at 95 %."""
    return pool(campaigns, confidences=(0.95,), drawing=MonteCarlo(), spread_beforehand=0.5)


def _differences(lives: Lives, stratum: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Of each stratum its hazards by cell, and which cells were of the group."""
    parts = []
    for name in np.unique(stratum):
        inside = stratum == name
        times, seen = lives.duration[inside], lives.observed[inside]
        expected = np.array(
            [
                sum(
                    np.sum((times == step) & (seen == 1)) / np.sum(times >= step)
                    for step in np.unique(times[seen == 1])
                    if step <= mine
                )
                for mine in times
            ]
        )
        parts.append((seen - expected, lives.group[inside] == 1))
    return parts


def _enumerated(*campaigns: Lives) -> float:
    """Two-sided p over every way to hand out the labels within each batch of each campaign."""
    parts = [part for lives in campaigns for part in _differences(lives, np.asarray(lives.batch))]
    sums = [
        [score[list(chosen)].sum() for chosen in combinations(range(len(score)), int(own.sum()))]
        for score, own in parts
    ]
    seen = sum(score[own].sum() for score, own in parts)
    all_sums = np.array([sum(each) for each in product(*sums)])
    return float(np.mean(np.abs(all_sums) >= abs(seen) - 1e-9))


def test_the_pooled_p_is_that_of_all_relabellings_within_batches() -> None:
    """Equals complete enumeration; batches of the same name in two campaigns stay apart."""
    found = _pool(NOW, WINTER)
    assert found.together.exact.p == pytest.approx(_enumerated(NOW, WINTER), abs=1e-12)
    assert found.shares[0].exact.p == pytest.approx(_enumerated(NOW), abs=1e-12)
    assert found.shares[1].exact.p == pytest.approx(_enumerated(WINTER), abs=1e-12)
    # 20 ways, 6 ways and 3 ways
    assert found.together.exact.permutations == 20 * 6 * 3


def test_this_campaign_alone_is_as_without_others() -> None:
    """The share of a campaign is its own test, whatever is pooled with it."""
    alone = primary_test(NOW, drawing=MonteCarlo())
    assert _pool(NOW, WINTER).shares[0].exact == alone
    assert _pool(NOW).together.exact == alone


def test_weights_are_shares_of_the_variance_and_add_up() -> None:
    """Differences and variances add up over campaigns, as in the stratified log-rank test."""
    # Klein & Moeschberger, Survival Analysis, section 7.5: sums over strata
    found = _pool(NOW, WINTER)
    assert sum(share.weight for share in found.shares) == pytest.approx(1)
    assert sum(share.variance for share in found.shares) == pytest.approx(found.together.variance)
    joined = log_rank(
        np.concatenate([NOW.duration, WINTER.duration]),
        observed=np.concatenate([NOW.observed, WINTER.observed]),
        group=np.concatenate([NOW.group, WINTER.group]),
        stratum=np.array([f"now {b}" for b in NOW.batch] + [f"winter {b}" for b in WINTER.batch]),
    )
    expected = joined.observed_events[1] - joined.expected_events[1]
    assert found.together.difference == pytest.approx(expected)


def test_a_campaign_without_control_adds_nothing() -> None:
    """Without a cell of the control no difference, no variance, no weight; the p stays."""
    found = _pool(NOW, AUTUMN)
    assert not shared_batches(AUTUMN).any()
    assert (found.shares[1].variance, found.shares[1].weight) == (0, 0)
    assert np.isnan(found.shares[1].exact.p)
    assert found.together.exact.p == pytest.approx(_enumerated(NOW), abs=1e-12)
    assert found.with_effect == (0,)
    assert np.isnan(found.effects.mean)


def test_the_common_time_ratio_is_that_of_the_stratified_model() -> None:
    """Each batch of each campaign has a location of its own, the ratio is common."""
    found = _pool(NOW, WINTER)
    expected = time_ratio(
        np.concatenate([NOW.duration, WINTER.duration]),
        observed=np.concatenate([NOW.observed, WINTER.observed]),
        group=np.concatenate([NOW.group, WINTER.group]),
        stratum=np.array([0] * 6 + [1] * 4 + [2] * 3),
    )
    assert found.together.ratio.estimate == pytest.approx(expected.estimate)


def test_lives_between_checks_join_the_test_and_not_the_ratio() -> None:
    """A campaign known only between checks gives its scores, and no time ratio."""
    bounded = Lives(
        duration=WINTER.duration,
        observed=WINTER.observed,
        group=WINTER.group,
        batch=WINTER.batch,
        lower=WINTER.duration * 0.8,
        upper=np.where(WINTER.observed == 1, WINTER.duration, np.inf),
    )
    found = _pool(NOW, bounded)
    assert found.without_ratio == (1,)
    assert found.shares[1].exact == primary_test(bounded, drawing=MonteCarlo())
    assert found.shares[1].ratio.reason
    assert found.together.ratio.estimate == pytest.approx(found.shares[0].ratio.estimate)
    assert found.together.variance > found.shares[0].variance


def test_doubts_are_those_of_all_campaigns_as_blocks() -> None:
    """A cell that looked bad is taken as ended in its own campaign's block, by enumeration."""
    bad = np.arange(len(WINTER.group)) == 3
    found = _pool(NOW, replace(WINTER, looked_bad=bad)).doubts
    ended = replace(WINTER, observed=np.where(bad, 1, WINTER.observed))
    assert found.bounds == ()
    assert found.looked_bad is not None
    assert found.looked_bad.exact.p == pytest.approx(_enumerated(NOW, ended), abs=1e-12)


def test_both_bounds_are_those_of_all_campaigns_as_blocks() -> None:
    """A stopped cell of the group ends at once, and at the other bound lives on."""
    stopped = np.arange(len(WINTER.group)) == 3
    found = _pool(NOW, replace(WINTER, stopped=stopped)).doubts
    ended = replace(WINTER, observed=np.where(stopped, 1, WINTER.observed))
    longest = max(NOW.duration.max(), WINTER.duration.max())
    lives_on = replace(WINTER, duration=np.where(stopped, longest, WINTER.duration))
    assert [bound.exact.p for bound in found.bounds] == pytest.approx(
        [_enumerated(NOW, ended), _enumerated(NOW, lives_on)], abs=1e-12
    )
