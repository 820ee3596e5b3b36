"""Drawn sums against all sums: each comes up as often as permutations give it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chisquare

from trivet.science.survival import drawn_sums
from trivet.science.survival.drawn_sums import draws_of
from trivet.science.survival.permutation_sums import combined, merged, strata_of, stratum_sums

DRAWS = 100_000


@pytest.mark.parametrize("most", [1, 12, 4096], ids=["shuffled", "a list each", "one list"])
def test_each_sum_comes_up_as_often_as_permutations_give_it(
    monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    """Two strata, one with ties; Pearson's test (scipy) of the counts of all distinct sums."""
    monkeypatch.setattr(drawn_sums, "MOST_LISTED", most)
    scores = np.array([-1.5, -0.5, -0.5, 0.5, 2.0, -1.0, 0.25, 0.75, 0.0])
    group = np.array([0, 1, 0, 1, 1, 0, 0, 1, 1])
    strata = strata_of(scores, group=group, stratum=np.repeat([0, 1], [5, 4]), groups=2)
    draws = draws_of(strata)
    assert len(draws) == (1 if most == 4096 else 2)
    random = np.random.default_rng(3)
    found = sum(draw(random, DRAWS) for draw in draws)
    exact = merged(combined(stratum_sums(strata[0]), stratum_sums(strata[1])))
    nearest = np.abs(found[:, 0][:, None] - exact.sums[:, 0]).argmin(axis=1)
    assert np.allclose(found[:, 0], exact.sums[nearest, 0])
    counts = np.bincount(nearest, minlength=len(exact.weights))
    expected = DRAWS * exact.weights / exact.weights.sum()
    assert chisquare(counts, expected).pvalue > 0.001


def test_three_groups_have_two_sums_that_belong_together() -> None:
    """Covariance of the drawn sums is that of permutations, -s2/n for each pair of cells."""
    scores = np.linspace(-1.0, 1.0, 9)
    group = np.repeat([0, 1, 2], 3)
    strata = strata_of(scores, group=group, stratum=np.zeros(9, dtype=int), groups=3)
    random = np.random.default_rng(5)
    sums = np.concatenate([draw(random, DRAWS) for draw in draws_of(strata)])
    spread = float(scores @ scores) / 8.0
    expected = spread * (3.0 * np.eye(2) - 9.0 / 9.0)
    assert np.cov(sums.T) == pytest.approx(expected, abs=0.03)
