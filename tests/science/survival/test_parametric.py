"""Weibull and lognormal lives against a handbook, published fits and a general library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trivet.science.survival.hazard import hazard_ratio
from trivet.science.survival.location_scale import Data, fit, profile_location, profile_spread
from trivet.science.survival.parametric import time_ratio, weibull
from trivet.science.survival.profile_limits import deviance_cut, deviance_p, profile_limits

# NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: hours, ten units censored at 500.
NIST_HOURS = np.array([54, 187, 216, 240, 244, 335, 361, 373, 375, 386, *[500] * 10], dtype=float)
NIST_ENDS = np.repeat([1, 0], 10)


def lives(signed: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Durations and ends from numbers that are negative where censored."""
    values = np.array(signed, dtype=float)
    return np.abs(values), (values > 0).astype(int)


def one_group(duration: np.ndarray, observed: np.ndarray, family: str) -> Data:
    """A group on its own."""
    ones = np.ones((len(duration), 1))
    return Data(np.log(duration), observed.astype(bool), ones, family)  # type: ignore[arg-type]


def test_weibull_of_the_handbook() -> None:
    """Scale 606.5280, shape 1.7208, log-likelihood -75.135, as the handbook prints."""
    got = weibull(NIST_HOURS, observed=NIST_ENDS)
    assert got.scale == pytest.approx(606.5280, abs=1e-3)  # two optimisers differ in this digit
    assert got.shape == pytest.approx(1.7208, abs=5e-5)
    assert got.log_likelihood == pytest.approx(-75.135, abs=5e-4)
    # computed from the same estimates by a general library
    assert got.b10 == pytest.approx(164.022, abs=1e-3)


def test_errors_of_the_handbook_set() -> None:
    """Errors of log scale and log spread, and the lognormal fit, are those of two libraries."""
    best = fit(one_group(NIST_HOURS, NIST_ENDS, "weibull"))
    assert best is not None
    np.testing.assert_allclose(np.sqrt(np.diag(best.covariance)), [0.205944, 0.291813], atol=1e-6)
    other = fit(one_group(NIST_HOURS, NIST_ENDS, "lognormal"))
    assert other is not None
    assert other.coefficients[0] == pytest.approx(6.226015, abs=1e-6)
    assert other.spread == pytest.approx(0.908914, abs=1e-6)
    # the handbook prints Akaike's 154.39 for the lognormal model
    assert 2 * 2 - 2 * other.log_likelihood == pytest.approx(154.39, abs=5e-3)


def test_limits_hold_the_estimate_and_drop_by_the_cut() -> None:
    """At each limit twice the profile log-likelihood is lower by the cut, no less and no more."""
    got = weibull(NIST_HOURS, observed=NIST_ENDS, confidence=0.9)
    data = one_group(NIST_HOURS, NIST_ENDS, "weibull")
    cut = deviance_cut(0.9, events=10, locations=1)
    tenth = float(np.log(-np.log(0.9)))
    for limit in (got.scale_interval.lower, got.scale_interval.upper):
        drop = 2 * (got.log_likelihood - profile_location(data, np.log(limit)))
        assert drop == pytest.approx(cut, abs=1e-6)
    for limit in (got.b10_interval.lower, got.b10_interval.upper):
        drop = 2 * (got.log_likelihood - profile_location(data, np.log(limit), anchor=tenth))
        assert drop == pytest.approx(cut, abs=1e-6)
    for limit in (got.shape_interval.lower, got.shape_interval.upper):
        drop = 2 * (got.log_likelihood - profile_spread(data, -np.log(limit)))
        assert drop == pytest.approx(cut, abs=1e-6)
    assert got.scale_interval.lower < got.scale < got.scale_interval.upper
    assert got.shape_interval.lower < got.shape < got.shape_interval.upper


def test_time_ratio_of_the_remission_data(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Weibull ratio 3.5514 with error 0.311, lognormal 3.8453 with 0.3165."""
    # Venables & Ripley 2002, ch. 13, prints 1.267, se .311, scale .732, log-likelihood -106.6;
    # more digits: root of the score equations by mpmath; the lognormal fit by a general library
    duration, observed, group = remission
    got = time_ratio(duration, observed=observed, group=group)
    assert np.log(got.estimate) == pytest.approx(1.26733458741908, abs=1e-10)
    assert got.log_standard_error == pytest.approx(0.310638, abs=1e-5)
    assert got.spread == pytest.approx(0.7322, abs=5e-5)
    assert got.log_likelihood == pytest.approx(-106.57949, abs=1e-5)
    wald = got.estimate * np.exp(np.array([-1, 1]) * 1.959963985 * got.log_standard_error)
    np.testing.assert_allclose(wald, [1.9319, 6.5285], atol=1e-4)
    other = time_ratio(duration, observed=observed, group=group, family="lognormal")
    assert other.estimate == pytest.approx(3.8453, abs=5e-5)
    assert other.log_standard_error == pytest.approx(0.316498, abs=1e-5)
    assert other.log_likelihood == pytest.approx(-106.704622, abs=1e-5)


def test_interval_for_few_ends_is_wider_than_the_large_sample_one(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """The profile interval of the remission data holds the chi-squared one, and the estimate."""
    # chi-squared cut 3.841459 (standard table); the corrected cut of 30 ends must be above it
    duration, observed, group = remission
    got = time_ratio(duration, observed=observed, group=group, confidences=(0.95, 0.9))
    wide, narrow = got.intervals
    assert wide.lower < narrow.lower < got.estimate < narrow.upper < wide.upper
    assert deviance_cut(0.95, events=30, locations=2) > 3.841459
    assert deviance_cut(0.95, events=100_000, locations=2) == pytest.approx(3.841459, abs=1e-3)


def test_six_subjects(six: np.ndarray) -> None:
    """Weibull 2.2373, -0.7442, scale 0.4563; lognormal 2.210, -1.268, scale 0.64."""
    # reference output of the R package survival, testreg (test data 1)
    design = np.column_stack([six[:, 2], np.ones(6)])
    first = fit(Data(np.log(six[:, 0]), six[:, 1].astype(bool), design, "weibull"))
    assert first is not None
    np.testing.assert_allclose(first.coefficients, [-0.7442249, 2.2373335], atol=1e-6)
    assert first.spread == pytest.approx(0.4563163, abs=1e-6)
    np.testing.assert_allclose(np.sqrt(np.diag(first.covariance)), [0.486, 0.330, 0.433], atol=6e-4)
    assert first.log_likelihood == pytest.approx(-10.3244, abs=1e-4)
    second = fit(Data(np.log(six[:, 0]), six[:, 1].astype(bool), design, "lognormal"))
    assert second is not None
    np.testing.assert_allclose(second.coefficients, [-1.268, 2.210], atol=5e-4)
    np.testing.assert_allclose(
        np.sqrt(np.diag(second.covariance)), [0.585, 0.404, 0.342], atol=6e-4
    )


def test_uncensored_lognormal_interval_is_students() -> None:
    """Without censoring the lognormal time ratio has Student's two-sample interval and p."""
    # scipy.stats.ttest_ind on the logarithms: an exact interval, so the cut is exact here
    first, second = np.array([3.0, 4, 7, 9]), np.array([5.0, 9, 11, 20, 24])
    duration = np.concatenate([first, second])
    got = time_ratio(
        duration, observed=np.ones(9, dtype=int), group=np.repeat([0, 1], [4, 5]),
        family="lognormal",
    )  # fmt: skip
    test = stats.ttest_ind(np.log(second), np.log(first))
    limits = test.confidence_interval(0.95)
    np.testing.assert_allclose(
        np.log([got.intervals[0].lower, got.intervals[0].upper]), [limits.low, limits.high],
        atol=1e-7,
    )  # fmt: skip
    assert got.p == pytest.approx(test.pvalue, rel=1e-6)


@given(
    st.lists(st.tuples(st.floats(0.5, 50), st.integers(0, 1)), min_size=6, max_size=12),
    st.floats(0.01, 1000),
)
@settings(max_examples=10, deadline=None)
def test_weibull_agrees_with_scipy_and_ignores_the_unit(
    cells: list[tuple[float, int]], unit: float
) -> None:
    """Maximum likelihood is that of scipy's censored fit; another unit scales scale and B10."""
    duration, observed = np.array([time for time, _ in cells]), np.array([end for _, end in cells])
    got = weibull(duration, observed=observed)
    if got.reason or got.shape > 20:
        return
    other = weibull(duration * unit, observed=observed)
    assert other.shape == pytest.approx(got.shape, rel=1e-5)
    assert other.scale == pytest.approx(got.scale * unit, rel=1e-5)
    assert other.b10_interval.upper == pytest.approx(got.b10_interval.upper * unit, rel=1e-4)
    seen = observed == 1
    law = stats.weibull_min(got.shape, scale=got.scale)
    theirs = law.logpdf(duration[seen]).sum() + law.logsf(duration[~seen]).sum()
    assert got.log_likelihood == pytest.approx(theirs, rel=1e-6)
    data = stats.CensoredData(uncensored=duration[seen], right=duration[~seen])
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    law = stats.weibull_min(shape, scale=scale)
    best = law.logpdf(duration[seen]).sum() + law.logsf(duration[~seen]).sum()
    assert got.log_likelihood >= best - 1e-6


def test_swapped_groups_invert_the_ratio(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Group and control swapped give the inverse ratio and limits, in any order of cells."""
    duration, observed, group = remission
    first = time_ratio(duration, observed=observed, group=group)
    order = np.random.default_rng(4).permutation(42)
    second = time_ratio(duration[order] * 7, observed=observed[order], group=1 - group[order])
    assert second.estimate == pytest.approx(1 / first.estimate, rel=1e-6)
    assert second.intervals[0].lower == pytest.approx(1 / first.intervals[0].upper, rel=1e-5)


def test_batches_have_their_own_location(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """A batch that lives ten times as long leaves the ratio of the groups as it was."""
    duration, observed, group = remission
    alone = time_ratio(duration, observed=observed, group=group)
    both = time_ratio(
        np.concatenate([duration, 10 * duration]),
        observed=np.tile(observed, 2),
        group=np.tile(group, 2),
        stratum=np.repeat(["a", "b"], 42),
    )
    assert both.estimate == pytest.approx(alone.estimate, rel=1e-6)
    # a batch that has only the control, all censored, adds nothing
    more = time_ratio(
        np.append(duration, 3.0), observed=np.append(observed, 0), group=np.append(group, 0),
        stratum=np.append(np.repeat("a", 42), "c"),
    )  # fmt: skip
    assert more.estimate == pytest.approx(alone.estimate, rel=1e-9)


@pytest.mark.parametrize(
    ("first", "second", "strata", "words"),
    [
        ((5, -9, -9), (3, 4, 6), None, "1 ends in the group and 3 in the control"),
        ((5, 6, 7), (3, 4, 6), (1, 1, 1, 2, 2, 2), "no batch holds cells of both"),
        ((5, 5), (7, 7), None, "no maximum"),
        ((5, 6, -8), (7, -9, 9), (1, 2, 3, 1, 2, 3), "4 ends for 4 locations"),
    ],
)
def test_a_missing_ratio_has_its_reason(
    first: tuple[float, ...],
    second: tuple[float, ...],
    strata: tuple[int, ...] | None,
    words: str,
) -> None:
    """Too few ends, confounded, no spread: no number but a sentence."""
    duration, observed = lives(first + second)
    got = time_ratio(
        duration, observed=observed, group=np.repeat([1, 0], [len(first), len(second)]),
        stratum=None if strata is None else np.array(strata),
    )  # fmt: skip
    assert words in got.reason
    assert np.isfinite(got.estimate) == (got.reason == "")


def test_an_end_at_nought_has_no_weibull_life() -> None:
    """An end at time 0 can't be fitted and says so; a cell censored at 0 changes nothing."""
    duration, observed = np.array([0.0, 3, 4, 5]), np.array([1, 1, 1, 1])
    assert "time 0" in weibull(duration, observed=observed).reason
    assert "time 0" in time_ratio(duration, observed=observed, group=np.array([0, 1, 0, 1])).reason
    idle = weibull(duration, observed=np.array([0, 1, 1, 1]))
    assert idle.shape == weibull(duration[1:], observed=observed[1:]).shape


def test_a_limit_that_is_not_reached_is_missing() -> None:
    """A profile that stays flat on one side has no limit there."""
    lower, upper = profile_limits(
        lambda value: -(max(value, 0.0) ** 2), best=0.0, highest=0.0, step=0.1, cut=2.0
    )
    assert np.isnan(lower)
    assert upper == pytest.approx(1.0, abs=1e-6)


def test_p_is_the_inverse_of_the_cut() -> None:
    """The drop that bounds a 95 % interval has p = 0.05 (a property by construction of t)."""
    cut = deviance_cut(0.95, events=7, locations=3)
    assert deviance_p(cut, events=7, locations=3) == pytest.approx(0.05, rel=1e-9)


def test_hazard_and_time_ratio_tell_the_same_story(
    remission: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """A Weibull model's hazard ratio is the time ratio to the power of minus the shape."""
    # identity of the model; 3.5514 ** -1.36576 = 0.1771, near Efron's 0.2076
    duration, observed, group = remission
    got = time_ratio(duration, observed=observed, group=group)
    assert got.estimate ** (-1 / got.spread) == pytest.approx(0.1771, abs=5e-5)
    assert hazard_ratio(duration, observed=observed, group=group).estimate < 1


def test_intervals_cover_at_their_confidence() -> None:
    """With four against four, all ended, the 95 % interval misses the truth about 1 time in 20."""
    # simulation with a stated seed: 400 campaigns, binomial standard error 0.011
    generator = np.random.default_rng(20)
    missed = 0
    for _ in range(400):
        log_time = np.log(generator.weibull(2.0, size=8))
        design = np.column_stack([np.repeat([0.0, 1.0], 4), np.ones(8)])
        data = Data(log_time, np.ones(8, dtype=bool), design, "weibull")
        best = fit(data)
        assert best is not None
        drop = 2 * (best.log_likelihood - profile_location(data, 0.0))
        missed += drop > deviance_cut(0.95, events=8, locations=2)
    assert missed <= 0.05 * 400 + 3 * 0.011 * 400
