"""The line of one unit: the laser data to the hour, its error, what can't be told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from lasers import ENDS_H, HOURS, laser

from trivet.science.forecast.line import crossing_of_trend, effective_readings

BESIDE = (
    Path(__file__).resolve().parents[3] / ".." / "shared" / "check-values" / "data" / "laser15.csv"
)


@pytest.mark.parametrize("unit", range(15))
def test_ends_of_fifteen_lasers_to_the_hour(unit: int) -> None:
    """A straight line through all readings reaches 10 % at the published hour."""
    got = crossing_of_trend(HOURS, laser(unit), limit=10.0, falling=False)
    assert round(got.time) == ENDS_H[unit]
    assert got.error > 0


def test_lasers_of_the_book_where_it_lies_beside_the_project() -> None:
    """Read from the table itself, the 15 units reach 10 % at the same hours."""
    if not BESIDE.is_file():
        pytest.skip("the folder of check values is not beside the project")
    table = np.genfromtxt(BESIDE, delimiter=",", skip_header=1)
    for unit, end_h in zip(np.unique(table[:, 0]), ENDS_H, strict=True):
        own = table[table[:, 0] == unit]
        got = crossing_of_trend(own[:, 1], own[:, 2], limit=10.0, falling=False)
        assert round(got.time) == end_h


def test_the_error_is_that_of_a_calibration() -> None:
    """With readings that don't follow each other, the error is the textbook's of inverse reading.

    Standard error of x read from a line, one reading: s/|b| sqrt(1 + 1/n + (x - mean)^2 / S)
    (Draper & Smith, Applied Regression Analysis, 3rd ed. 1998, section 3.2; from memory).
    """
    t = np.arange(12.0)
    y = 1.0 - 0.01 * t + 0.001 * np.tile([1.0, -1.0], 6)  # residuals that alternate: r below 0
    got = crossing_of_trend(t, y, limit=0.8, falling=True)
    slope, intercept = np.polyfit(t, y, 1)
    scatter = np.sqrt(np.sum((y - intercept - slope * t) ** 2) / 10)
    spread = np.sum((t - t.mean()) ** 2)
    distance = got.time - t.mean()
    assert got.effective == 12.0
    assert got.error == pytest.approx(
        scatter / abs(slope) * np.sqrt(1 + 1 / 12 + distance**2 / spread), rel=1e-9
    )
    assert got.slope_error == pytest.approx(scatter / np.sqrt(spread), rel=1e-9)


@pytest.mark.parametrize(("correlation", "share"), [(0.0, 1.0), (0.5, 1 / 3), (0.8, 1 / 9)])
def test_effective_readings_of_correlated_scatter(correlation: float, share: float) -> None:
    """Of n readings whose scatter correlates by r, n (1 - r) / (1 + r) count, within a tenth.

    Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8, 184-197.
    """
    random = np.random.default_rng(5)
    noise = random.standard_normal(20_000)
    for i in range(1, noise.size):
        noise[i] = correlation * noise[i - 1] + np.sqrt(1 - correlation**2) * noise[i]
    assert effective_readings(noise) / noise.size == pytest.approx(share, rel=0.1)


def test_a_trend_that_leads_away_has_no_time() -> None:
    """A rising capacity, two readings, or one time only give no time."""
    away = crossing_of_trend(np.arange(5.0), np.arange(5.0), limit=-1.0, falling=True)
    few = crossing_of_trend(np.arange(2.0), -np.arange(2.0), limit=-3.0, falling=True)
    alike = crossing_of_trend(np.ones(5), -np.arange(5.0), limit=-9.0, falling=True)
    for got in (away, few, alike):
        assert np.isnan([got.time, got.error]).all()


def test_missing_readings_are_passed_over() -> None:
    """A reading that is NaN changes nothing."""
    t, y = np.append(HOURS, 4250.0), np.append(laser(0), np.nan)
    assert crossing_of_trend(t, y, limit=10.0, falling=False) == crossing_of_trend(
        HOURS, laser(0), limit=10.0, falling=False
    )


def test_times_and_readings_must_agree() -> None:
    """Unlike shapes are refused with both named."""
    with pytest.raises(ValueError, match=r"\(5,\) and readings \(4,\)"):
        crossing_of_trend(np.arange(5.0), np.arange(4.0), limit=0.8, falling=True)
