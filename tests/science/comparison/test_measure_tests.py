"""Per-cell numbers and their exact comparison, against general-purpose libraries and by hand."""

from __future__ import annotations

import math
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trivet.science.comparison.cell_measures import first_value, mean_of_first, rise_per_100_h
from trivet.science.comparison.measure_tests import (
    Difference,
    hodges_lehmann,
    permutation_difference,
)

ALL = {"confidence": 0.95, "enumeration_limit": 200_000, "draws": 5_000, "seed": 7}


def one_batch(group: list[float], control: list[float], **changes: float) -> Difference:
    """Compare two groups of one batch."""
    values = np.array([*group, *control])
    return permutation_difference(
        values,
        in_group=np.arange(values.size) < len(group),
        stratum=np.full(values.size, "b", dtype=object),
        **{**ALL, **changes},
    )


@pytest.mark.parametrize(("n_group", "n_control"), [(3, 3), (4, 4), (3, 6), (5, 2), (7, 6)])
def test_p_is_that_of_scipy(n_group: int, n_control: int) -> None:
    """Two-sided exact p of ranks, against scipy.stats.mannwhitneyu."""
    random = np.random.default_rng(n_group * 10 + n_control)
    group = random.normal(0.8, 1.0, n_group)
    control = random.normal(0.0, 1.0, n_control)
    outside = stats.mannwhitneyu(group, control, alternative="two-sided", method="exact")
    assert one_batch(list(group), list(control)).p == pytest.approx(outside.pvalue, abs=1e-12)


@pytest.mark.parametrize(("number", "critical"), [(4, 0), (5, 2), (6, 5), (7, 8), (8, 13)])
def test_limits_are_the_order_statistics_of_the_table(number: int, critical: int) -> None:
    """With critical value u the limits are the (u + 1)-th smallest and largest difference."""
    # critical values of U, two-sided 0.05, equal groups: Mann & Whitney's table (from memory),
    # and scipy.stats.mannwhitneyu for the two p beside each
    random = np.random.default_rng(number)
    group, control = random.normal(1.0, 1.0, number), random.normal(0.0, 1.0, number)
    pairs = np.sort(np.subtract.outer(group, control).ravel())
    found = one_batch(list(group), list(control))
    assert found.lower == pytest.approx(pairs[critical])
    assert found.upper == pytest.approx(pairs[-critical - 1])
    for u, rejected in ((critical, True), (critical + 1, False)):
        shift = (pairs[-u - 1] + pairs[-u]) / 2 if u else pairs[-1] + 1
        p = stats.mannwhitneyu(group - shift, control, method="exact").pvalue
        assert (p <= 0.05) == rejected


def test_one_odd_cell_does_not_make_test_and_estimate_disagree() -> None:
    """A leaking cell far away leaves estimate, interval and p as they are without its distance."""
    group, control = [1.0, 1.1, 1.2, 1.3, 1.4], [0.0, 0.1, 0.2, 0.3, 0.4]
    plain = one_batch([*group, 1.5], control)
    odd = one_batch([*group, 500.0], control)
    assert odd.p == plain.p
    assert odd.lower <= odd.difference <= odd.upper
    assert odd.difference == pytest.approx(plain.difference, abs=0.11)


@pytest.mark.parametrize(
    ("number", "smallest"), [(3, 0.100), (4, 0.0286), (5, 0.00794), (6, 0.00216)]
)
def test_smallest_attainable_p_of_equal_groups(number: int, smallest: float) -> None:
    """2 / C(2n, n) for groups apart: the tiny sets that anyone can enumerate, to printed digits."""
    found = one_batch(list(range(number)), list(range(100, 100 + number)))
    assert found.smallest_attainable_p == pytest.approx(2 / math.comb(2 * number, number))
    assert found.smallest_attainable_p == pytest.approx(smallest, rel=3e-3)
    assert found.p == found.smallest_attainable_p


def test_three_against_three_has_no_95_percent_interval() -> None:
    """Where p can't reach alpha no shift can be rejected: no interval, and the reason says so."""
    found = one_batch([1, 2, 3], [4, 5, 6])
    assert found.p == pytest.approx(0.1)
    assert math.isnan(found.lower)
    assert math.isnan(found.upper)
    assert found.difference == -3.0
    assert "no 95 % interval" in found.reason
    assert "smallest attainable p 0.1" in found.reason
    wide = one_batch([1, 2, 3], [4, 5, 6], confidence=0.85)
    assert wide.lower < -3.0 < wide.upper
    assert wide.reason == ""


def test_hodges_lehmann_by_hand() -> None:
    """Median of the pairwise differences: -5, -4, -3, -3, -2, -1 for (1, 2, 3) less (4, 6)."""
    values = np.array([1.0, 2.0, 3.0, 4.0, 6.0])
    in_group = np.array([True, True, True, False, False])
    one = np.full(5, "b", dtype=object)
    assert hodges_lehmann(values, in_group=in_group, stratum=one) == -3.0


def test_stratified_hodges_lehmann_by_hand() -> None:
    """A pair weighs 1 / (cells of its batch and one); a weight cut in half gives the midpoint."""
    # Batch A: 1 with weight 1/3. Batch B: 5, 6, 8, 9 with weight 1/5 each. Of the weight 17/15
    # half is reached at 6 (8/15, then 11/15); batch B alone gives (6 + 8) / 2.
    values = np.array([1.0, 0.0, 6.0, 9.0, 1.0, 0.0])
    in_group = np.array([True, False, True, True, False, False])
    batch = np.array(["A", "A", "B", "B", "B", "B"], dtype=object)
    assert hodges_lehmann(values, in_group=in_group, stratum=batch) == 6.0
    own = batch == "B"
    assert hodges_lehmann(values[own], in_group=in_group[own], stratum=batch[own]) == 7.0


def enumerated_p(
    values: np.ndarray, in_group: np.ndarray, batch: np.ndarray, shift: float
) -> float:
    """Two-sided p of a shift, from its definition, one relabelling after the other."""
    shifted = values - shift * in_group
    names = list(dict.fromkeys(batch))
    rank = np.zeros(values.size)
    for name in names:
        own = batch == name
        rank[own] = (stats.rankdata(shifted[own]) - (own.sum() + 1) / 2) / (own.sum() + 1)
    choices = [
        list(combinations(np.flatnonzero(batch == name), int(in_group[batch == name].sum())))
        for name in names
    ]
    observed = abs(rank[in_group].sum())
    sums = [abs(rank[[i for part in parts for i in part]].sum()) for parts in product(*choices)]
    return float(np.mean([value >= observed - 1e-9 for value in sums]))


BATCHES = np.array(["A"] * 5 + ["B"] * 4, dtype=object)
LABELS = np.array([1, 1, 1, 0, 0, 1, 1, 0, 0], dtype=bool)


def batches_apart(values: np.ndarray, **changes: float) -> Difference:
    """Compare the groups of two batches."""
    return permutation_difference(values, in_group=LABELS, stratum=BATCHES, **{**ALL, **changes})


def test_p_within_batches_follows_its_definition() -> None:
    """Labels permuted within batches only: C(5,3) C(4,2) = 60 relabellings, one by one."""
    values = np.random.default_rng(3).normal(size=9) + LABELS + 50.0 * (BATCHES == "B")
    found = batches_apart(values)
    assert found.p == pytest.approx(enumerated_p(values, LABELS, BATCHES, 0.0), abs=1e-12)
    assert found.p * 60 == pytest.approx(round(found.p * 60))
    without = batches_apart(values - 50.0 * (BATCHES == "B"))
    assert found.p == without.p
    assert found.difference == pytest.approx(without.difference)


@given(st.lists(st.floats(-10, 10).map(lambda x: round(x, 3)), min_size=9, max_size=9))
@settings(max_examples=30, deadline=None)
def test_the_interval_inverts_the_test(numbers: list[float]) -> None:
    """Just inside a limit the enumerated p is above alpha, just outside it is not."""
    # rounded numbers are told apart, since at a tie the law of the test is another one
    values = np.array(numbers) + 1e-4 * np.arange(9) ** 2
    found = batches_apart(values, confidence=0.9)
    if math.isnan(found.lower) or found.upper - found.lower < 1e-3:
        return
    for limit, outward in ((found.lower, -1.0), (found.upper, 1.0)):
        step = 1e-6 * outward
        assert enumerated_p(values, LABELS, BATCHES, limit - step) > 0.1 - 1e-9
        assert enumerated_p(values, LABELS, BATCHES, limit + step) <= 0.1 + 1e-9


@given(st.lists(st.floats(-5, 5), min_size=12, max_size=12), st.floats(0.1, 50), st.floats(-9, 9))
@settings(max_examples=30, deadline=None)
def test_units_and_shifts_change_nothing_but_the_scale(
    numbers: list[float], factor: float, shift: float
) -> None:
    """A change of unit scales difference and limits; a common shift leaves all as it is."""
    values = np.round(np.array(numbers), 3)
    first = one_batch(list(values[:6]), list(values[6:]))
    other = one_batch(list(factor * values[:6] + shift), list(factor * values[6:] + shift))
    assert other.p == pytest.approx(first.p)
    assert other.difference == pytest.approx(factor * first.difference, abs=1e-9)
    for name in ("lower", "upper"):
        scaled = factor * getattr(first, name)
        assert getattr(other, name) == pytest.approx(scaled, abs=1e-6, nan_ok=True)


def test_p_and_interval_agree() -> None:
    """0 lies outside the interval exactly where p is at most alpha."""
    random = np.random.default_rng(11)
    seen = set()
    for effect in np.linspace(0.0, 3.0, 40):
        values = random.normal(size=10)
        found = one_batch(list(values[:5] + effect), list(values[5:]))
        outside = not found.lower <= 0.0 <= found.upper
        assert outside == (found.p <= 0.05)
        seen.add(outside)
    assert seen == {True, False}


def test_drawn_permutations_agree_with_all_of_them() -> None:
    """A seeded sample gives p within its binomial error, the same twice, and never 0."""
    random = np.random.default_rng(2)
    group, control = list(random.normal(0.9, 1.0, 7)), list(random.normal(0.0, 1.0, 7))
    every = one_batch(group, control)
    drawn = one_batch(group, control, enumeration_limit=100)
    # Four standard errors of a share of 5000 draws.
    assert drawn.p == pytest.approx(every.p, abs=4 * math.sqrt(every.p * (1 - every.p) / 5000))
    assert drawn.lower == pytest.approx(every.lower, abs=0.15)
    assert one_batch(group, control, enumeration_limit=100) == drawn
    apart = one_batch(list(range(9)), list(range(100, 109)), enumeration_limit=100)
    assert apart.p >= 1 / 5001


def test_missing_cells_are_counted_and_lone_batches_named() -> None:
    """Cells without a value are counted; cells of a batch without a partner do not enter."""
    values = np.array([1.0, 2.0, np.nan, 3.0, 4.0, 9.0])
    in_group = np.array([True, True, True, False, False, True])
    batch = np.array(["A", "A", "A", "A", "A", "C"], dtype=object)
    found = permutation_difference(values, in_group=in_group, stratum=batch, **ALL)
    assert (found.cells, found.control_cells, found.missing_cells) == (3, 2, 1)
    assert found.difference == -2.0
    assert "1 cells lie in batches without a partner" in found.reason


@pytest.mark.parametrize(
    ("values", "batch", "why"),
    [
        ([np.nan, np.nan, 1.0, 2.0], "AAAA", "no cell of the group has a value"),
        ([1.0, 2.0, np.nan, np.nan], "AAAA", "no cell of the control has a value"),
        ([1.0, 2.0, 3.0, 4.0], "AABB", "share no batch"),
    ],
)
def test_nothing_to_compare_is_said(values: list[float], batch: str, why: str) -> None:
    """Without a value on both sides of one batch nothing is estimable, and no number appears."""
    found = permutation_difference(
        np.array(values),
        in_group=np.array([True, True, False, False]),
        stratum=np.array(list(batch), dtype=object),
        **ALL,
    )
    assert why in found.reason
    assert math.isnan(found.p)
    assert math.isnan(found.difference)
    assert math.isnan(found.smallest_attainable_p)


def test_equal_values_give_p_one() -> None:
    """Where all cells are the same no relabelling is more extreme than another."""
    found = one_batch([2.0] * 4, [2.0] * 4)
    assert (found.p, found.smallest_attainable_p, found.difference) == (1.0, 1.0, 0.0)


def test_slope_is_that_of_scipy() -> None:
    """Rise per 100 h as the middle of all pairs' slopes, against scipy.stats.theilslopes."""
    time_h = np.array([20.0, 190.0, 360.0, 500.0, 700.0])
    values = np.array([9.1, 9.4, np.nan, 10.2, 10.9])
    known = np.isfinite(values)
    outside = stats.theilslopes(values[known], time_h[known]).slope
    assert rise_per_100_h(values, time_h=time_h) == pytest.approx(100 * outside, rel=1e-12)
    assert math.isnan(rise_per_100_h(values[:1], time_h=time_h[:1]))
    assert math.isnan(rise_per_100_h(np.array([1.0, 2.0]), time_h=np.array([5.0, 5.0])))


def test_a_mean_over_fewer_cycles_is_another_quantity() -> None:
    """The mean of the first values is missing where there are too few; NaN is passed over."""
    values = np.array([0.99, np.nan, 0.98, 0.97, 0.5])
    assert mean_of_first(values, number=3) == pytest.approx(0.98)
    assert math.isnan(mean_of_first(values, number=5))
    assert math.isnan(first_value(np.empty(0)))
