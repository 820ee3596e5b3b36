"""Groups are compared at a like time: straight fades whose losses at any time are known by hand."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.electrodes.fading_summary import LossOverTime, like_time_h, losses_at, middle


def fading(slope_mAh_h: float, *times_h: float) -> LossOverTime:
    """A cell that loses capacity along a straight line."""
    time_h = np.array(times_h)
    return LossOverTime(time_h, slope_mAh_h * time_h)


def test_a_group_that_ends_early_sets_the_time() -> None:
    """Half of each group: of last times 200, 300, 900 h the middle one, 300 h; else 900 h."""
    early = [fading(1e-3, 100.0, last) for last in (200.0, 300.0, 900.0)]
    late = [fading(1e-3, 100.0, last) for last in (800.0, 900.0, 950.0)]
    assert like_time_h([early, late]) == 300.0
    assert like_time_h([late, []]) == 900.0
    assert np.isnan(like_time_h([[], []]))


def test_of_an_even_number_half_reach_it() -> None:
    """Four last times: two of four cells lie at or beyond the lower middle one, and one more."""
    cells = [fading(1e-3, 50.0, last) for last in (100.0, 200.0, 300.0, 400.0)]
    assert like_time_h([cells]) == 200.0
    assert losses_at(200.0, cells).size == 3


def test_cells_that_fade_alike_have_lost_alike_at_a_like_time() -> None:
    """Of 0.3 and 0.9 mAh at the last check-ups 0.25 by 250 h in both, since both fade alike.

    Linear interpolation of a straight line is exact.
    """
    short, long = fading(1e-3, 100.0, 300.0), fading(1e-3, 100.0, 500.0, 900.0)
    like_h = like_time_h([[short], [long]])
    assert like_h == 300.0
    assert losses_at(250.0, [short, long]) == pytest.approx([0.25, 0.25])
    assert middle(losses_at(like_h, [long])) == pytest.approx(0.3)


def test_a_cell_without_check_ups_on_both_sides_is_left_out() -> None:
    """Nothing is extrapolated."""
    assert losses_at(50.0, [fading(1e-3, 100.0, 300.0)]).size == 0
    assert losses_at(301.0, [fading(1e-3, 100.0, 300.0)]).size == 0
    assert np.isnan(middle(np.zeros(0)))
