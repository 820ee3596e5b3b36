"""The electrode that is steep at the end of a half-cycle ends it."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.electrodes.end_points import EndedBy, end_point

PASSED_mAh = np.linspace(0.0, 2.0, 401)
CURRENT_mA = np.full(401, -1.0)


def test_slopes_are_those_of_the_curves() -> None:
    """Straight lines give their slopes, and the last potentials are the last rows."""
    end = end_point(PASSED_mAh, 3.4 - 0.02 * PASSED_mAh, 0.1 + 0.3 * PASSED_mAh, CURRENT_mA)
    assert end.positive_slope_V_mAh == pytest.approx(0.02)
    assert end.negative_slope_V_mAh == pytest.approx(0.3)
    assert (end.positive_V, end.negative_V) == pytest.approx((3.36, 0.7))
    assert end.ended_by is EndedBy.NEGATIVE


def test_the_steeper_one_ends_it_and_near_alike_both_do() -> None:
    """Exchanging the electrodes exchanges the answer."""
    steep, level = 3.4 - 0.3 * PASSED_mAh, 0.1 + 0.001 * PASSED_mAh
    assert end_point(PASSED_mAh, steep, level, CURRENT_mA).ended_by is EndedBy.POSITIVE
    assert end_point(PASSED_mAh, level, steep, CURRENT_mA).ended_by is EndedBy.NEGATIVE
    assert end_point(PASSED_mAh, steep, 1.0 - steep, CURRENT_mA).ended_by is EndedBy.BOTH


def test_a_hold_at_constant_voltage_is_left_out() -> None:
    """Potentials that fall with a falling current are no slope of the electrode."""
    current = np.where(PASSED_mAh > 1.9, 1.0 - 9.0 * (PASSED_mAh - 1.9), 1.0)
    held = np.where(PASSED_mAh > 1.9, 0.1 * (PASSED_mAh - 1.9), 0.0)
    end = end_point(PASSED_mAh, 3.4 + 0.1 * PASSED_mAh - held, 0.2 - 0.01 * PASSED_mAh, current)
    assert end.positive_slope_V_mAh == pytest.approx(0.1, rel=0.1)


@pytest.mark.parametrize("rows", [0, 1, 2])
def test_too_few_rows_tell_nothing(rows: int) -> None:
    """A half-cycle of one or two rows has no slope, and nobody ends it."""
    part = slice(0, rows)
    flat = np.full(401, 3.4)
    end = end_point(PASSED_mAh[part], flat[part], flat[part], CURRENT_mA[part])
    assert end.ended_by is EndedBy.UNKNOWN
    assert np.isnan(end.positive_slope_V_mAh)
