"""Planning: power of the exact test and of equivalence, and what the numbers of cells do to it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from trivet.science.comparison.planning import (
    equivalence_power,
    events_for_margin,
    exact_power,
    relabellings,
)


@pytest.mark.parametrize(
    ("cells", "hazard_ratio", "power"),
    [(3, 4, 0.0), (4, 4, 0.19), (5, 4, 0.37), (6, 4, 0.45), (8, 4, 0.57),
     (3, 10, 0.0), (4, 10, 0.47), (5, 10, 0.73), (6, 10, 0.86), (8, 10, 0.97)],
)  # fmt: skip
def test_power_of_the_exact_test(cells: int, hazard_ratio: float, power: float) -> None:
    """Power at half of the controls surviving agrees with an independent simulation."""
    # 2000 runs of an independent code (no published source); both have an error of about 0.011
    spread = 0.3
    got = exact_power(
        np.repeat([0, 1], cells), stratum=np.zeros(2 * cells), ratio=hazard_ratio**-spread,
        spread=spread, censored=0.5, alpha=0.05, simulations=2000, seed=4,
    )  # fmt: skip
    assert got.power == pytest.approx(power, abs=0.05)


def test_without_an_effect_the_power_is_the_level_at_most() -> None:
    """At a ratio of 1 a difference is shown in 5 % at most, in batches too."""
    group, batch = np.repeat([0, 1], 12), np.tile([0, 1, 2], 8)
    got = exact_power(group, stratum=batch, ratio=1.0, spread=0.3, censored=0.2, alpha=0.05,
                      simulations=2000, seed=4)  # fmt: skip
    assert got.lower <= 0.05


def test_relabellings_are_all_or_drawn() -> None:
    """Few labels are all handed out; many are drawn, each with the group sizes of its batch."""
    random = np.random.default_rng(1)
    labels, batch = np.array([True, False, True, False, False]), np.array([0, 0, 1, 1, 1])
    every, complete = relabellings(labels, stratum=batch, generator=random)
    assert complete
    assert len({tuple(row) for row in every}) == len(every) == 2 * 3
    many = np.repeat([True, False], 12)
    drawn, complete = relabellings(many, stratum=np.zeros(24), generator=random)
    assert not complete
    assert set(drawn.sum(axis=1)) == {12.0}


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
