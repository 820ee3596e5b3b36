"""Closed testing: Marcus, Peritz & Gabriel 1976, Biometrika 63, 655."""

from __future__ import annotations

import math

import pytest

from trivet.science.comparison.closed_testing import closed_p


def test_two_contrasts_need_their_own_and_the_joint_test() -> None:
    """Own 0.013, all groups 0.030: adjusted 0.030; the other contrast is not asked."""
    adjusted = closed_p([1, 2], [0.013, 0.076], lambda _groups: 0.030)
    assert adjusted == pytest.approx((0.030, 0.076))
    assert closed_p([1, 2], [0.013, 0.9], lambda _groups: 0.030)[0] == pytest.approx(0.030)


def test_three_contrasts_ask_every_intersection() -> None:
    """The largest p of all four sets that hold a contrast is its own."""
    joint = {(1, 2): 0.02, (1, 3): 0.04, (2, 3): 0.2, (1, 2, 3): 0.03}
    adjusted = closed_p([1, 2, 3], [0.001, 0.01, 0.3], joint.__getitem__)
    assert adjusted == pytest.approx((0.04, 0.2, 0.3))


def test_what_cannot_be_compared_is_left_out() -> None:
    """A contrast without p neither helps nor hinders the others."""
    adjusted = closed_p([1, 2], [0.01, float("nan")], lambda _groups: 1.0)
    assert adjusted[0] == 0.01
    assert math.isnan(adjusted[1])


def test_too_many_contrasts_are_refused() -> None:
    """Beyond five the caller must take another adjustment, and say so."""
    with pytest.raises(ValueError, match="6 contrasts, closed testing takes 5 at most"):
        closed_p(list(range(1, 7)), [0.01] * 6, lambda _groups: 0.01)
