"""Slopes and stratified regressions from few points, against textbooks and general libraries."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from trivet.science.impedance.trend import per_unit_within, rank_correlation, robust_slope

HOURS = np.arange(6) * 168.0 + 45.0


def slope_of(x, y, **changed):
    """Slope with errors of the points not known."""
    options = {"errors": np.full(len(x), np.nan), "confidence": 0.95} | changed
    return robust_slope(np.asarray(x, float), np.asarray(y, float), **options)


def test_slope_is_that_of_a_general_library():
    """The slope is the median of the slopes between pairs, as scipy.stats.theilslopes has it."""
    y = 5.0 + 0.002 * HOURS + 0.1 * np.random.default_rng(3).standard_normal(6)
    found = slope_of(HOURS, y)
    assert found.slope == pytest.approx(stats.theilslopes(y, HOURS).slope, rel=1e-12)
    assert found.rank_correlation == pytest.approx(stats.spearmanr(HOURS, y).statistic, rel=1e-12)


def test_exact_line_gives_its_slope_and_no_scatter():
    """Points on a line give its slope and start; the error is rounding only."""
    found = slope_of(HOURS, 4.0 + 0.001 * HOURS)
    assert found.slope == pytest.approx(0.001, rel=1e-12)
    assert found.start == pytest.approx(4.0 + 0.045, rel=1e-12)
    assert found.standard_error < 1e-15
    assert found.rank_correlation == pytest.approx(1.0)


def test_errors_of_the_points_are_carried():
    """Where the points lie on a line by luck, their own errors still give the slope an error.

    Straight line of equal errors s: s / sqrt(sum of squared distances), any textbook.
    """
    found = slope_of(HOURS, 4.0 + 0.001 * HOURS, errors=np.full(6, 0.02))
    expected = 0.02 / np.sqrt(np.sum((HOURS - HOURS.mean()) ** 2))
    assert found.standard_error == pytest.approx(expected, rel=1e-9)
    reach = stats.t.ppf(0.975, 4) * expected
    assert found.upper - found.slope == pytest.approx(reach, rel=1e-9)


def test_one_wild_spectrum_does_not_carry_the_slope_away():
    """One of eight points moved by fifty standard deviations leaves the slope almost alone."""
    x = np.arange(8) * 100.0
    y = 5.0 + 0.01 * x + 0.02 * np.random.default_rng(5).standard_normal(8)
    wild = y.copy()
    wild[7] += 1.0
    assert slope_of(x, wild).slope == pytest.approx(0.01, rel=0.1)
    assert abs(np.polyfit(x, wild, 1)[0] / 0.01 - 1) > 3 * abs(slope_of(x, wild).slope / 0.01 - 1)


@pytest.mark.parametrize("points", [3, 4, 6, 10])
def test_interval_covers_the_slope_as_often_as_promised(points):
    """Normal scatter: of 1500 drawn trends the 95 % interval covers at least 93 %.

    Six standard deviations of a binomial count with p = 0.95 are 3.4 %, four are 2.3 %.
    """
    random, x = np.random.default_rng(points), np.arange(points) * 168.0
    hits = 0
    for _ in range(1500):
        found = slope_of(x, 5.0 + 0.002 * x + 0.05 * random.standard_normal(points))
        hits += found.lower <= 0.002 <= found.upper
    assert hits / 1500 >= 0.93


def test_fewer_than_three_times_give_a_reason():
    """Two spectra, or three at two times, have no slope, and the reason counts them."""
    for x in ([0.0, 100.0], [0.0, 100.0, 100.0]):
        found = slope_of(x, [1.0, 2.0, 3.0][: len(x)])
        assert np.isnan(found.slope)
        assert np.isnan(found.standard_error)
        assert "3 at different times needed" in found.reason


def test_missing_points_are_passed_over():
    """A missing value takes its point away and no other."""
    y = 5.0 + 0.001 * HOURS
    y[2] = np.nan
    assert slope_of(HOURS, y).points == 5


def test_ranks_share_their_mean_where_values_are_equal():
    """Tied values: the correlation of scipy.stats.spearmanr; none where nothing varies."""
    x, y = np.array([1.0, 2, 2, 3, 4]), np.array([1.0, 1, 2, 5, 4])
    assert rank_correlation(x, y) == pytest.approx(stats.spearmanr(x, y).statistic, rel=1e-12)
    assert np.isnan(rank_correlation(x, np.ones(5)))


def test_one_more_separator_within_batches_is_a_regression_with_dummies():
    """Estimate, error and limits are those of statsmodels with a dummy for every batch."""
    random = np.random.default_rng(7)
    batch = np.array(["A"] * 4 + ["B"] * 5 + ["C"] * 3, dtype=object)
    count = np.array([2, 3, 2, 3, 2, 3, 3, 2, 4, 2, 2, 3], dtype=float)
    height = np.array([{"A": 8.0, "B": 9.5, "C": 7.0}[name] for name in batch])
    y = height + 2.4 * count + 0.3 * random.standard_normal(12)
    dummies = np.array([[name == one for one in "ABC"] for name in batch], dtype=float)
    outside = sm.OLS(y, np.column_stack([count, dummies])).fit()
    found = per_unit_within(count, y, stratum=batch, confidence=0.95)
    assert found.estimate == pytest.approx(outside.params[0], rel=1e-9)
    assert found.standard_error == pytest.approx(outside.bse[0], rel=1e-9)
    assert (found.lower, found.upper) == pytest.approx(tuple(outside.conf_int()[0]), rel=1e-9)
    assert (found.cells, found.strata) == (12, 3)


def test_batches_that_do_not_differ_in_separators_are_not_estimable():
    """Numbers that differ between batches only say nothing: batch and number are one."""
    batch = np.array(["A", "A", "B", "B"], dtype=object)
    found = per_unit_within(
        np.array([2.0, 2, 3, 3]), np.array([8.0, 8, 11, 11]), stratum=batch, confidence=0.95
    )
    assert np.isnan(found.estimate)
    assert found.reason.startswith("not estimable")


def test_two_cells_of_a_batch_give_an_estimate_without_interval():
    """One difference has no scatter to be judged by."""
    found = per_unit_within(
        np.array([2.0, 3.0]),
        np.array([8.0, 10.5]),
        stratum=np.array(["A", "A"], dtype=object),
        confidence=0.95,
    )
    assert found.estimate == pytest.approx(2.5)
    assert np.isnan(found.lower)
    assert "no interval" in found.reason
