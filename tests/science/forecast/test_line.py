"""Forecasts of an end: the laser data to the hour, cover of the interval, what can't be told."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.survival.forecast import coverage_of_forecasts, crossing_of_trend

# Meeker & Escobar, Statistical Methods for Reliability Data (Wiley 1998), table C.17: rise of the
# operating current of 15 lasers [%] at 0, 250, ... 4000 h, units 101 to 115; an end is 10 %.
LASER = (
    "0 0.4741 0.9255 2.1147 2.7168 3.511 4.3415 4.9076 5.4782 "
    "5.9925 6.7224 7.1303 8.0006 8.9193 9.494 9.8675 10.9446",
    "0 0.7078 1.2175 1.8955 2.2954 2.865 3.7454 4.4192 4.9894 "
    "5.5148 6.0668 6.6385 7.1615 7.7778 8.4242 8.9092 9.2834",
    "0 0.7074 1.1651 1.7253 1.9888 2.5325 2.9695 3.2977 3.9354 "
    "4.1613 4.4459 4.889 5.2696 5.6913 6.0216 6.4485 6.8849",
    "0 0.3634 0.6161 1.3597 1.9525 2.2995 2.9468 3.3871 3.7863 "
    "4.1116 4.5013 4.7209 4.9766 5.2812 5.615 5.9503 6.1438",
    "0 0.2707 0.6144 1.1093 1.773 2.0625 2.5835 2.9863 3.3765 "
    "4.0491 4.626 5.237 5.6191 6.0449 6.3167 7.0952 7.5941",
    "0 0.3584 1.3922 1.9541 2.8617 3.4552 3.8117 4.533 5.3541 "
    "5.9217 6.7078 7.7027 8.6053 9.1477 9.951 10.4857 11.0096",
    "0 0.3637 0.9237 1.2098 1.4591 1.9323 2.3862 2.6799 2.9397 "
    "3.4183 4.0857 4.5843 4.8402 5.1145 5.5691 6.114 7.1723",
    "0 0.458 1.0678 1.4163 1.7659 2.1061 2.3969 2.78 3.0187 "
    "3.289 3.7542 4.1595 4.7575 5.1597 5.4591 5.8085 6.245",
    "0 0.5098 0.9308 1.5713 1.9576 2.5871 3.2892 3.6075 4.1148 "
    "4.5964 4.913 5.3408 5.8418 6.3961 6.8441 7.2037 7.8848",
    "0 0.4136 1.488 2.381 2.995 3.835 4.501 5.251 6.256 "
    "7.051 7.803 8.321 8.93 9.554 10.45 11.28 12.21",
    "0 0.4435 0.9978 1.5738 1.9584 2.5093 2.8436 3.4682 4.007 "
    "4.5124 4.8018 5.2042 5.6556 6.1951 6.5405 6.9626 7.4238",
    "0 0.3864 0.7988 1.3521 1.741 2.979 3.5871 4.0315 4.4393 "
    "4.7906 5.2205 5.4848 5.9639 6.2276 6.9877 7.3671 7.8841",
    "0 0.3034 0.7448 1.5225 1.8548 2.3897 2.9473 3.5104 3.9207 "
    "5.0316 5.4708 5.8362 6.4962 6.9372 7.3883 7.8472 8.087",
    "0 0.438 0.6979 1.0515 1.3526 1.7998 2.5514 2.8274 3.3908 "
    "3.7159 4.0906 4.8296 5.4145 5.759 6.1419 6.5086 6.8823",
    "0 0.5056 0.8349 1.2864 1.5191 1.9148 2.2697 2.7763 3.4153 "
    "3.7814 4.1053 4.3754 4.6295 5.3831 5.8391 6.1618 6.6247",
)
# ends by a straight line with intercept through all readings: same book, recomputed to the hour
ENDS_H = (3702, 4194, 5847, 6172, 5301, 3592, 6051, 6538, 5110, 3306, 5326, 4995, 4721, 5689, 6102)
HOURS = np.arange(0.0, 4001.0, 250.0)


def _laser(unit: int) -> np.ndarray:
    """Readings of one unit [%]."""
    return np.array(LASER[unit].split(), dtype=float)


@pytest.mark.parametrize("unit", range(15))
def test_ends_of_fifteen_lasers_to_the_hour(unit: int) -> None:
    """A straight line through all readings reaches 10 % at the published hour."""
    got = crossing_of_trend(HOURS, _laser(unit), limit=10.0, falling=False)
    assert round(got.time) == ENDS_H[unit]
    assert got.lower < got.time < got.upper


def test_limits_are_where_a_reading_agrees_with_the_line() -> None:
    """At both limits the distance from line to limit is Student's quantile times its error."""
    y = _laser(0)
    got = crossing_of_trend(HOURS, y, limit=10.0, falling=False)
    slope, intercept = np.polyfit(HOURS, y, 1)
    scatter = np.sqrt(np.sum((y - intercept - slope * HOURS) ** 2) / 15)
    spread = np.sum((HOURS - HOURS.mean()) ** 2)
    for end in (got.lower, got.upper):
        error = scatter * np.sqrt(1 + 1 / 17 + (end - HOURS.mean()) ** 2 / spread)
        # Student's t at 0.975 with 15 degrees of freedom is 2.1314 (any table)
        assert abs(intercept + slope * end - 10.0) / error == pytest.approx(2.1314, abs=1e-4)


def test_cover_of_the_interval_on_straight_lines() -> None:
    """The time at which a new reading is at the limit lies inside in 95 of 100 within chance."""
    random = np.random.default_rng(3)
    runs, limit, slope, scatter = 4000, 0.8, -0.05, 0.01
    t = np.arange(8) * 0.25
    lower, upper, end = (np.full(runs, np.nan) for _ in range(3))
    for run in range(runs):
        y = 1.0 + slope * t + scatter * random.normal(size=t.size)
        got = crossing_of_trend(t, y, limit=limit, falling=True)
        lower[run], upper[run] = got.lower, got.upper
        # time at which true line plus one reading's own scatter is at the limit
        end[run] = (limit - 1.0 - scatter * random.normal()) / slope
    made = coverage_of_forecasts(lower, upper, end=end)
    assert made.ends > 0.99 * runs
    # three standard errors of a share of 0.95 among 4,000 are 0.0103
    assert made.share == pytest.approx(0.95, abs=0.0104)


def test_a_slope_that_may_be_nought_has_no_latest_time() -> None:
    """Where the scatter allows no fall at all the upper limit is infinite, never a large number."""
    t = np.arange(6.0)
    y = np.array([1.0, 0.98, 1.01, 0.97, 1.0, 0.985])
    got = crossing_of_trend(t, y, limit=0.8, falling=True)
    assert np.isinf(got.upper)
    assert got.time > t[-1]


def test_a_trend_that_leads_away_has_no_forecast() -> None:
    """A rising capacity, two readings, or one time only give no time and no limits."""
    away = crossing_of_trend(np.arange(5.0), np.arange(5.0), limit=-1.0, falling=True)
    few = crossing_of_trend(np.arange(2.0), -np.arange(2.0), limit=-3.0, falling=True)
    alike = crossing_of_trend(np.ones(5), -np.arange(5.0), limit=-9.0, falling=True)
    for got in (away, few, alike):
        assert np.isnan([got.time, got.lower, got.upper]).all()


def test_missing_readings_are_passed_over() -> None:
    """A reading that is NaN changes nothing."""
    t, y = np.append(HOURS, 4250.0), np.append(_laser(0), np.nan)
    assert crossing_of_trend(t, y, limit=10.0, falling=False) == crossing_of_trend(
        HOURS, _laser(0), limit=10.0, falling=False
    )


def test_forecasts_are_judged_by_ends_that_came() -> None:
    """Forecasts without an end, and ends without a forecast, do not count."""
    lower = np.array([1.0, 1.0, np.nan, 1.0])
    upper = np.array([2.0, np.inf, np.nan, 2.0])
    made = coverage_of_forecasts(lower, upper, end=np.array([3.0, 9.0, 1.0, np.nan]))
    assert (made.inside, made.ends, made.share) == (1, 2, 0.5)
