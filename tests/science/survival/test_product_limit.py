"""Survival of one group against published curves, hand counts and general libraries."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest, quantile_test
from sksurv.nonparametric import cumulative_incidence_competing_risks
from statsmodels.duration.survfunc import SurvfuncRight

from trivet.science.survival.beta_product import beta_product_median, beta_product_start
from trivet.science.survival.causes import cumulative_incidence
from trivet.science.survival.group_life import group_life, restriction_time, round_times
from trivet.science.survival.product_limit import (
    ProductLimit,
    at_risk,
    median,
    product_limit,
    restricted_mean,
)

# Venables & Ripley, Modern Applied Statistics with S (4th ed. 2002), ch. 13, reference output of
# the `gehan` data; Rodriguez, Survival Analysis notes. Columns t, n, S, SE, lower, upper.
CURVE_MERCAPTOPURINE = """
6 21 .8571 .0764 .6197 .9516
7 17 .8067 .0869 .5631 .9228
10 15 .7529 .0963 .5032 .8894
13 12 .6902 .1068 .4316 .8491
16 11 .6275 .1141 .3675 .8049
22 7 .5378 .1282 .2678 .7468
23 6 .4482 .1346 .1881 .6801"""
CURVE_PLACEBO = """
1 21 .9048 .0641 .6700 .9753
2 19 .8095 .0857 .5689 .9239
3 17 .7619 .0929 .5194 .8933
4 16 .6667 .1029 .4254 .8250
5 14 .5714 .1080 .3380 .7492
8 12 .3810 .1060 .1831 .5778
11 8 .2857 .0986 .1166 .4818
12 6 .1905 .0857 .0595 .3774
15 4 .1429 .0764 .0357 .3212
17 3 .0952 .0641 .0163 .2612
22 2 .0476 .0465 .0033 .1970"""

# Scrucca, Santucci & Aversa 2007, Bone Marrow Transplant. 40, 381: months and status
# (0 censored, 1 relapse, 2 death) of 17 ALL and 18 AML patients.
ALL = ((0, 1), (0, 2), (1, 1), (1, 2), (3, 2), (4, 2), (5, 2), (7, 2), (8, 2), (9, 2), (12, 1),
       (13, 2), (14, 2), (22, 2), (26, 2), (35, 0), (72, 0))  # fmt: skip
AML = ((2, 0), (2, 2), (3, 1), (3, 1), (3, 1), (4, 0), (4, 1), (4, 1), (7, 0), (7, 2), (8, 0),
       (8, 1), (10, 2), (32, 0), (35, 0), (67, 0), (68, 0), (70, 0))  # fmt: skip

# Freireich et al. 1963, Blood 21, 699; Gehan 1965: weeks in remission, negative = censored.
MERCAPTOPURINE = (6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32,
                  -34, -35)  # fmt: skip
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)


def lives(signed: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Durations and ends from numbers that are negative where censored."""
    values = np.array(signed, dtype=float)
    return np.abs(values), (values > 0).astype(int)


def groups_of_lives(least: int = 1) -> st.SearchStrategy[list[tuple[int, int]]]:
    """Few cells with whole-number times, so that ties are common."""
    return st.lists(st.tuples(st.integers(1, 9), st.integers(0, 1)), min_size=least, max_size=14)


def curve_of(signed: tuple[float, ...]) -> ProductLimit:
    """Curve from numbers that are negative where censored."""
    duration, observed = lives(signed)
    return product_limit(duration, observed=observed)


@pytest.mark.parametrize("cells", [5, 6, 7, 8, 12, 15, 20])
def test_median_limits_for_few_cells_are_order_statistics(cells: int) -> None:
    """Without censoring they are the exact limits by the sign test, and for 5 cells none."""
    # scipy.stats.quantile_test: exact binomial interval of a quantile (Conover 1999, chapter 3)
    times = np.arange(1.0, cells + 1)
    exact = quantile_test(times, p=0.5).confidence_interval(0.95)
    curve = product_limit(times, observed=np.ones(cells, dtype=int))
    lower, upper = beta_product_median(curve)
    assert lower == (0.0 if np.isnan(exact.low) else exact.low)
    assert (upper if cells > 5 else np.nan) == pytest.approx(exact.high, nan_ok=True)


def test_median_limits_for_few_cells_may_be_open() -> None:
    """With the last cells censored the upper limit is not reached; nobody at all has no limits."""
    curve = product_limit(np.arange(1.0, 9.0), observed=np.array([1, 1, 1, 0, 0, 0, 0, 0]))
    lower, upper = beta_product_median(curve)
    assert lower == 1.0  # 7 of 8 left: Clopper and Pearson 0.473 to 0.997
    assert np.isnan(upper)


@pytest.mark.parametrize(
    ("signed", "printed"), [(MERCAPTOPURINE, CURVE_MERCAPTOPURINE), (PLACEBO, CURVE_PLACEBO)]
)
def test_curve_agrees_with_the_printed_one(signed: tuple[float, ...], printed: str) -> None:
    """Survival, Greenwood's error and log-log limits agree to the four printed digits."""
    duration, observed = lives(signed)
    curve = product_limit(duration, observed=observed)
    rows = np.array([[float(word) for word in line.split()] for line in printed.split("\n")[1:]])
    steps = (curve.events > 0) & (curve.survival > 0)
    got = [curve.time, curve.at_risk, curve.survival, curve.standard_error, curve.lower]
    np.testing.assert_allclose(
        np.stack([*got, curve.upper], axis=1)[steps], rows, atol=0.51e-4, rtol=0
    )


def test_survival_of_nought_or_one_has_no_interval() -> None:
    """Where S is 0 or 1 error and limits are missing, never 0 to 0 or 1 to 1."""
    # Venables & Ripley 2002, ch. 13: the printed curve of the placebo group has NA at 23.
    duration, observed = lives((-1.0, *PLACEBO))
    curve = product_limit(duration, observed=observed)
    assert curve.survival[-1] == 0
    for values in (curve.standard_error, curve.lower, curve.upper):
        assert np.isnan(values[-1])
    early = product_limit(np.array([1.0, 2.0]), observed=np.array([0, 1]))
    assert early.survival[0] == 1
    assert np.isnan([early.standard_error[0], early.lower[0], early.upper[0]]).all()


def test_medians_of_the_remission_data() -> None:
    """Medians are 23 and 8 with log-log limits (13, not reached) and (4, 11)."""
    # limits as two general libraries give them; statsmodels is asked below
    first = median(curve_of(MERCAPTOPURINE))
    assert (first.median, first.lower) == (23, 13)
    assert np.isnan(first.upper)
    second = median(curve_of(PLACEBO))
    assert (second.median, second.lower, second.upper) == (8, 4, 11)


@pytest.mark.parametrize("signed", [MERCAPTOPURINE, PLACEBO])
def test_median_limits_agree_with_statsmodels(signed: tuple[float, ...]) -> None:
    """Limits of the median are those of statsmodels' quantile_ci with cloglog."""
    duration, observed = lives(signed)
    with np.errstate(divide="ignore", invalid="ignore"):  # the library's own log of 0
        limits = SurvfuncRight(duration, observed).quantile_ci(0.5, method="cloglog")
    own = median(product_limit(duration, observed=observed))
    assert own.lower == limits[0]
    assert own.upper == limits[1] or (np.isnan(own.upper) and not np.isfinite(limits[1]))


@pytest.mark.parametrize("cells", range(2, 13))
def test_median_at_exactly_one_half(cells: int) -> None:
    """The median is the first time with S <= 1/2, exactly, whichever cells are censored."""
    # by hand: all ended, one at a time, S is 1 - k/n, so the median is the ceil(n/2)-th time
    times = np.arange(1.0, cells + 1) / 7
    own = median(product_limit(times, observed=np.ones(cells, dtype=int)))
    assert own.median == times[(cells + 1) // 2 - 1]
    # Censoring after k ends thins the risk set: brute force over which of the cells are censored.
    for pattern in range(2**cells) if cells <= 9 else range(0, 2**cells, 37):
        observed = np.array([(pattern >> place) & 1 for place in range(cells)])
        left, first = Fraction(1), float("nan")
        for place, seen in enumerate(observed):
            left *= Fraction(cells - place - int(seen), cells - place)
            if left <= Fraction(1, 2):
                first = times[place]
                break
        got = median(product_limit(times, observed=observed)).median
        assert got == first or (np.isnan(got) and np.isnan(first))


@given(groups_of_lives())
@settings(max_examples=60, deadline=None)
def test_curve_agrees_with_statsmodels(cells: list[tuple[int, int]]) -> None:
    """Survival and error at every end agree with statsmodels on any few cells."""
    duration, observed = np.array(cells, dtype=float).T
    curve = product_limit(duration, observed=observed.astype(int))
    assert int(curve.events.sum() + curve.censored.sum()) == len(cells)
    if not observed.any():
        return
    with np.errstate(all="ignore"):
        other = SurvfuncRight(duration, observed)
    ended = curve.events > 0
    np.testing.assert_allclose(curve.survival[ended], other.surv_prob, atol=1e-12)
    inside = curve.survival[ended] > 0
    np.testing.assert_allclose(
        curve.standard_error[ended][inside], other.surv_prob_se[inside], rtol=1e-9
    )


@given(groups_of_lives(2))
@settings(max_examples=40, deadline=None)
def test_order_and_unit_of_time_do_not_matter(cells: list[tuple[int, int]]) -> None:
    """Shuffled cells give the same curve; another unit of time only stretches it."""
    duration, observed = np.array(cells, dtype=float).T
    order = np.random.default_rng(len(cells)).permutation(len(cells))
    first = product_limit(duration, observed=observed.astype(int))
    second = product_limit(duration[order] * 24, observed=observed[order].astype(int))
    np.testing.assert_allclose(second.time, first.time * 24)
    assert second.exact == first.exact
    np.testing.assert_array_equal(second.lower, first.lower)


# Restricted means of the remission data, Greenwood plug-in, computed by an independent short
# code (no published value seen); the flies' value is published below.
@pytest.mark.parametrize(
    ("signed", "until", "mean", "error"),
    [
        (MERCAPTOPURINE, 23, 17.909244, 1.553190),
        (PLACEBO, 23, 8.666667, 1.377390),
        (MERCAPTOPURINE, 21, 16.743978, 1.354966),
        (PLACEBO, 21, 8.523810, 1.310379),
    ],
)
def test_restricted_mean_of_the_remission_data(
    signed: tuple[float, ...], until: float, mean: float, error: float
) -> None:
    """Area and Greenwood-type error agree with an independent calculation."""
    got = restricted_mean(curve_of(signed), restriction_time=until)
    assert got.mean == pytest.approx(mean, abs=1e-6)
    assert got.standard_error == pytest.approx(error, abs=1e-6)


def test_restricted_mean_of_the_flies_by_hand() -> None:
    """Area up to 10 is 6 + 3 (33/34) + 1 (30/34) for one death at 6 and three at 9 of 34."""
    # open waltons fly data, miR-137 group; published for 10: 9.794, standard error 0.123
    duration = np.array([6.0] + [9.0] * 3 + [11.0] * 30)
    got = restricted_mean(
        product_limit(duration, observed=np.ones(34, dtype=int)), restriction_time=10
    )
    assert got.mean == pytest.approx(6 + 3 * 33 / 34 + 30 / 34, rel=1e-12)
    assert got.standard_error == pytest.approx(0.123245, abs=1e-6)


def test_restricted_mean_beyond_the_last_sight_is_missing() -> None:
    """A curve that never reaches 0 is unknown after its last cell, so there is no mean."""
    curve = product_limit(np.array([3.0, 5.0]), observed=np.array([1, 0]))
    assert np.isnan(restricted_mean(curve, restriction_time=5.1).mean)
    assert restricted_mean(curve, restriction_time=5).mean == 3 + 0.5 * 2
    ended = product_limit(np.array([3.0, 5.0]), observed=np.array([1, 1]))
    assert restricted_mean(ended, restriction_time=9).mean == 4


def test_restriction_time_is_the_shortest_follow_up() -> None:
    """The last time of the group seen the shortest; a group never followed does not count."""
    group = np.array([0, 0, 1, 1, 2])
    assert restriction_time(np.array([5.0, 9, 2, 7, 0]), group=group) == 7


def test_numbers_at_risk_by_hand() -> None:
    """A cell is at risk at its own time, not after it."""
    left = at_risk(np.array([1.0, 2, 2, 5]), at=np.array([0, 1, 2, 3, 6]))
    assert left.tolist() == [4, 4, 3, 1, 0]


@given(st.floats(1e-3, 1e6))
def test_round_times_are_few_and_cover(longest: float) -> None:
    """Drawn times start at 0, stay within the follow-up, and are 3 to 7."""
    times = round_times(longest)
    assert times[0] == 0
    assert times[-1] <= longest * (1 + 1e-9)
    assert 3 <= len(times) <= 7


def test_incidence_of_the_transplant_patients() -> None:
    """Relapse and death of the 35 patients, and 3/17 and 12/17 at the end of the ALL group."""
    # Scrucca, Santucci & Aversa 2007; six digits as in scikit-survival's own tests
    table = np.array(ALL + AML)
    got = cumulative_incidence(table[:, 0].astype(float), cause=table[:, 1], causes=2)
    want = {
        0: (0.028571, 0.028571),
        3: (0.145813, 0.115271),
        5: (0.204926, 0.175792),
        8: (0.237712, 0.270505),
        12: (0.272839, 0.340760),
        26: (0.272839, 0.481270),
    }
    for time, pair in want.items():
        np.testing.assert_allclose(got.incidence[:, got.time == time][:, 0], pair, atol=5e-7)
    # delta-method variance (Dinse & Larson 1986, eq. 6), limits computed with scikit-survival
    assert got.lower[0, -1] == pytest.approx(0.135270, abs=1e-6)
    assert got.upper[0, -1] == pytest.approx(0.430274, abs=1e-6)
    first = np.array(ALL)
    alone = cumulative_incidence(first[:, 0].astype(float), cause=first[:, 1], causes=2)
    np.testing.assert_allclose(alone.incidence[:, -1], [3 / 17, 12 / 17])


@given(st.lists(st.tuples(st.integers(1, 9), st.integers(0, 2)), min_size=3, max_size=14))
@settings(max_examples=40, deadline=None)
def test_incidence_agrees_with_a_library_and_adds_up(cells: list[tuple[int, int]]) -> None:
    """Incidences and survival add up to 1, stay below 1 - KM, and equal scikit-survival's."""
    table = np.array(cells)
    duration, cause = table[:, 0].astype(float), table[:, 1]
    got = cumulative_incidence(duration, cause=cause, causes=2)
    np.testing.assert_allclose(got.incidence.sum(axis=0) + got.survival, 1, atol=1e-12)
    for number in (1, 2):
        naive = product_limit(duration, observed=(cause == number).astype(int))
        alone = 1 - naive.survival[np.isin(naive.time, got.time)]
        assert np.all(got.incidence[number - 1] <= alone + 1e-12)
    if {1, 2} <= set(cause.tolist()):
        times, shares = cumulative_incidence_competing_risks(cause, duration)
        places = np.searchsorted(times, got.time)
        np.testing.assert_allclose(got.incidence, shares[1:, places], atol=1e-12)


def test_one_cause_has_the_error_of_the_curve() -> None:
    """With one cause the incidence is 1 - S and its variance is Greenwood's (an identity)."""
    duration, observed = lives(PLACEBO)
    curve = product_limit(duration, observed=observed)
    got = cumulative_incidence(duration, cause=observed, causes=1)
    np.testing.assert_allclose(got.incidence[0], 1 - curve.survival)
    share, error = got.incidence[0][:-1], curve.standard_error[:-1]
    spread = np.exp(1.959963984540054 * error / np.abs(share * np.log(share)))
    np.testing.assert_allclose(got.lower[0][:-1], share**spread, rtol=1e-9)


@pytest.mark.parametrize(
    ("duration", "observed", "words"),
    [
        ([1.0, -2.0], [1, 1], "negative or not finite"),
        ([1.0, float("nan")], [1, 1], "negative or not finite"),
        ([1.0, 2.0], [1, 2], "must be 1"),
        ([1.0, 2.0], [1], "two equal rows"),
    ],
)
def test_impossible_lives_are_refused(
    duration: list[float], observed: list[int], words: str
) -> None:
    """Negative times, missing times and times given as ends are errors."""
    with pytest.raises(ValueError, match=words):
        product_limit(np.array(duration), observed=np.array(observed))


def test_reasons_of_missing_values() -> None:
    """A group with one end says why it has no median, no mean and no Weibull life."""
    life = group_life(
        np.array([4.0, 9, 9]), observed=np.array([1, 0, 0]), restriction_time=10, confidence=0.95
    )
    assert "median not reached" in life.reason
    assert "too few ends for a Weibull life: 1" in life.reason
    assert "restriction time 10" in life.reason


def test_limits_before_the_first_end_are_those_of_no_end() -> None:
    """Nobody of n ended: the exact lower limit, 0.158 for two cells, 0.736 for twelve."""
    # scipy.stats.binomtest, exact interval (Clopper & Pearson 1934)
    for cells in (2, 6, 12):
        exact = binomtest(cells, cells).proportion_ci(0.95, method="exact")
        assert beta_product_start(cells) == pytest.approx(exact.low)
