"""Whether a number of the build can be told from a group."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import mannwhitneyu

from trivet.science.comparison.balance import aliased, chance_apart, spread_of


def test_ranges_that_do_not_meet_are_aliased() -> None:
    """Apart: aliased; one value shared or between: not; the same number everywhere: not."""
    control = spread_of(np.array([18.0, 20.0, np.nan]))
    assert (control.cells, control.median, control.lowest, control.highest) == (2, 19, 18, 20)
    assert aliased(spread_of(np.array([60.0, 66.0])), control)
    assert aliased(spread_of(np.array([17.9])), control)
    assert not aliased(spread_of(np.array([20.0, 66.0])), control)
    constant = spread_of(np.array([12.0, 12.0]))
    assert not aliased(constant, constant)
    assert aliased(spread_of(np.array([15.0, 15.0])), constant)


def test_without_a_number_nothing_is_aliased() -> None:
    """A group of which nothing is known is neither like its control nor apart from it."""
    none = spread_of(np.array([np.nan]))
    assert none.cells == 0
    assert np.isnan(none.median)
    assert not aliased(none, spread_of(np.array([1.0])))
    assert np.isnan(chance_apart(none, spread_of(np.array([1.0]))))


@pytest.mark.parametrize(("first", "second"), [(2, 3), (4, 4), (1, 5)])
def test_the_chance_is_the_smallest_p_of_the_rank_sum_test(first: int, second: int) -> None:
    """Ranges apart are the clearest order, whose exact two-sided p SciPy gives."""
    low, high = np.arange(float(first)), 100.0 + np.arange(float(second))
    wanted = float(mannwhitneyu(low, high, method="exact").pvalue)
    assert chance_apart(spread_of(low), spread_of(high)) == pytest.approx(wanted, rel=1e-12)
