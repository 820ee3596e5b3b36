"""Interval of a drift: inversion of Kendall's test, held against scipy.stats.

The exact p of Kendall's test is that of scipy.stats.kendalltau, the large-sample interval that of
scipy.stats.theilslopes.
"""

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from trivet.science.reference.checks.drift import drift_mV_per_day, slope_interval
from trivet.science.reference.checks.watched import Readings


def exact_p(days, offsets, slope):
    """Two-sided exact p of Kendall's test for a slope."""
    return scipy.stats.kendalltau(days, offsets - slope * days, method="exact").pvalue


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 2**32 - 1), st.integers(5, 14))
def test_the_interval_inverts_the_exact_test(seed, count):
    """Just inside a limit the exact test does not reject at 5 %, just outside it does."""
    rng = np.random.default_rng(seed)
    days, offsets = np.sort(rng.uniform(0, 50, count)), rng.normal(0, 3, count)
    lower, upper = slope_interval(days, offsets, confidence=0.95)
    hair = 1e-9 * (1.0 + abs(lower) + abs(upper))
    assert exact_p(days, offsets, lower + hair) > 0.05 >= exact_p(days, offsets, lower - hair)
    assert exact_p(days, offsets, upper - hair) > 0.05 >= exact_p(days, offsets, upper + hair)


def test_the_interval_is_near_the_large_sample_one():
    """With 60 offsets the limits lie within 5 % of the width of those of theilslopes."""
    rng = np.random.default_rng(3)
    days, offsets = np.arange(60.0), rng.normal(0, 1, 60)
    lower, upper = slope_interval(days, offsets, confidence=0.95)
    expected = scipy.stats.theilslopes(offsets, days, alpha=0.95)
    width = expected.high_slope - expected.low_slope
    assert (lower, upper) == pytest.approx(
        (expected.low_slope, expected.high_slope), abs=width / 20
    )


def test_four_offsets_allow_no_interval():
    """The smallest two-sided p of four points is 2/24, above 5 %; that of five is 2/120."""
    days = np.arange(5.0)
    offsets = np.array([0.0, 1.1, 1.9, 3.2, 3.9])
    assert np.isnan(slope_interval(days[:4], offsets[:4], confidence=0.95)).all()
    # Five in a row: all slopes lie within, so the limits are the smallest and the largest.
    assert slope_interval(days, offsets, confidence=0.95) == pytest.approx((0.7, 1.3))
    assert np.isnan(slope_interval(np.zeros(6), np.arange(6.0), confidence=0.95)).all()


def test_a_drift_carries_its_interval():
    """Five daily offsets rising by 1 mV a day: drift and limits are 1 mV/d; three: no limits."""
    found = drift_mV_per_day(Readings(24.0 * np.arange(5.0), np.arange(5.0)))
    assert found.value == pytest.approx([1.0, 1.0, 1.0])
    assert np.isnan(found.lower[:2]).all()
    assert (found.lower[-1], found.upper[-1]) == pytest.approx((1.0, 1.0))


def test_the_interval_covers_what_it_promises():
    """Of 400 intervals of 95 % at least 91 % cover the slope (binomial, three standard errors)."""
    rng = np.random.default_rng(11)
    days = np.arange(7.0)
    covered = 0
    for _ in range(400):
        lower, upper = slope_interval(days, 0.3 * days + rng.normal(0, 1, 7), confidence=0.95)
        covered += lower <= 0.3 <= upper
    assert covered >= 0.95 * 400 - 3 * np.sqrt(400 * 0.95 * 0.05)
