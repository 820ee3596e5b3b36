"""What took the capacity comes back from the invented campaign, on fewer cells than the table."""

from __future__ import annotations

import numpy as np

from trivet.studies.fading_truths import Deviation, deviations, table


def test_truths_of_the_model_lie_in_the_intervals() -> None:
    """Three cells of two seeds, 12 to 18 numbers: at most three outside (binomial, 1 in 100)."""
    found = [one for seed in (11, 12) for one in deviations(seed, cells=("c01", "c02", "c03"))]
    assert len(found) >= 10
    assert {one.group for one in found} == {"tape", "epoxy", "sleeve"}
    assert sum(not one.inside for one in found) <= 3
    lost = [abs(one.off) for one in found if one.term == "inventory"]
    assert np.max(lost) < 0.01


def test_the_table_counts_what_lies_inside() -> None:
    """One inside, one outside: one of two (by hand)."""
    found = [Deviation("tape", "inventory", off, 0.01) for off in (0.019, -0.02)]
    assert table(found)[-1] == "| tape | inventory | 2 | 1 | -0.0005 | 0.02 |"
