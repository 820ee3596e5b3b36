"""Planning: power of the exact test and of equivalence, and what the numbers of cells do to it."""

from __future__ import annotations

import math

import pytest

from trivet.science.comparison.planning import (
    equivalence_power,
    events_for_margin,
)


def test_equivalence_by_hand() -> None:
    """Six ends a group at spread 0.2: the half width is near 1.81 * 0.2 * sqrt(1/3)."""
    # Student's t at 0.95 with 10 degrees of freedom is 1.812 (any table)
    half = 1.812 * 0.2 * math.sqrt(1 / 6 + 1 / 6)
    common = {"ratio": 1.0, "spread": 0.2, "censored": 0.0, "confidence": 0.9,
              "simulations": 2000, "seed": 1}  # fmt: skip
    narrow = equivalence_power(6, margin=math.exp(0.8 * half), **common)
    wide = equivalence_power(6, margin=math.exp(4 * half), **common)
    assert narrow.power < 0.2
    assert wide.power > 0.99
    edge = equivalence_power(6, margin=1.25, **{**common, "ratio": 1.25})
    assert edge.power <= 0.07


@pytest.mark.parametrize("ratio", [2.0, math.exp(0.5), 0.0, float("nan")])
def test_no_number_of_ends_shows_a_ratio_below_a_margin_that_it_is_beyond(ratio: float) -> None:
    """A true ratio at the margin or beyond it is refused (it gave 662.9 ends at 2)."""
    with pytest.raises(ValueError, match="no number of ends"):
        events_for_margin(ratio, margin=math.exp(0.5))
