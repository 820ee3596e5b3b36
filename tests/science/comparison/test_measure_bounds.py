"""Spread within a group, and how far withheld cells could move a difference.

The spread is the worked example P1-27; the bounds are worked by hand from their definition.
"""

import numpy as np
import pytest
from scipy import stats

from trivet.science.comparison.measure_bounds import spread_within, withheld_bounds


def test_spread_of_four_cells():
    """P1-27: 1.48 1.50 1.51 1.49 1.52 have a deviation (n - 1) of 0.015811, CV 1.0541 %."""
    values = np.array([1.48, 1.50, np.nan, 1.51, 1.49, 1.52])
    assert spread_within(values) == pytest.approx(0.015811, abs=5e-7)
    assert spread_within(values) / np.nanmean(values) == pytest.approx(0.010541, abs=5e-7)
    half = stats.t.ppf(0.975, 4) * spread_within(values) / np.sqrt(5)
    assert half == pytest.approx(0.019632, abs=5e-7)
    assert np.isnan(spread_within(values[:1]))


def bounds(values, withheld, batches="bbbbbb"):
    """Bounds of three cells of the group against three of the control."""
    return withheld_bounds(
        np.array(values, dtype=float),
        withheld=np.array(withheld, dtype=bool),
        in_group=np.array([True] * 3 + [False] * 3),
        stratum=np.array(list(batches), dtype=object),
    )


def test_nothing_withheld_gives_the_difference_twice():
    """Without withheld cells both bounds are the difference itself, missing cells or not."""
    assert bounds([4, 5, 6, 1, 2, 3], [0] * 6) == (3.0, 3.0)
    assert bounds([4, 5, 6, 1, np.nan, 3], [0] * 6) == (3.0, 3.0)


def test_a_withheld_cell_is_taken_at_both_extremes():
    """Group 4, 5 and one withheld at 1 or at 5, against 1, 2, 3: medians of nine differences."""
    lower, upper = bounds([4, 5, np.nan, 1, 2, 3], [0, 0, 1, 0, 0, 0])
    assert lower == np.median(np.subtract.outer([4, 5, 1], [1, 2, 3]))
    assert upper == np.median(np.subtract.outer([4, 5, 5], [1, 2, 3]))


def test_withheld_cells_of_the_control_go_the_other_way():
    """A withheld control is taken at its highest for the lower bound."""
    lower, upper = bounds([4, 5, 6, 1, 2, np.nan], [0, 0, 0, 0, 0, 1])
    assert lower == np.median(np.subtract.outer([4, 5, 6], [1, 2, 6]))
    assert upper == np.median(np.subtract.outer([4, 5, 6], [1, 2, 1]))


def test_without_a_value_or_a_shared_batch_there_is_no_bound():
    """No number is made up where nothing is known."""
    assert np.isnan(bounds([np.nan] * 6, [1] * 6)).all()
    assert np.isnan(bounds([4, 5, 6, 1, 2, 3], [0] * 6, "aaabbb")).all()
