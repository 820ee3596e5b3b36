"""Closed testing: Marcus, Peritz & Gabriel 1976, Biometrika 63, 655."""

from __future__ import annotations

import math

import numpy as np
import pytest

from trivet.science.comparison.closed_testing import closed_p
from trivet.science.comparison.contrast import MonteCarlo
from trivet.science.comparison.family import Rules, compare_groups
from trivet.science.lives.lives import Lives


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


# Lives of an invented campaign in hours, negative where still running or stopped for the channel,
# by batch and group: 0 tape (the control), 1 epoxy, 2 sleeve.
INVENTED = {
    1: ((646, 0), (-1339, 1), (975, 2), (431, 0), (-1338, 1), (1085, 2), (-515, 0), (-1338, 1)),
    2: ((750, 2), (768, 0), (1137, 1), (-1170, 2), (529, 0), (743, 1), (812, 2), (512, 0)),
    3: ((-1003, 1), (-783, 2), (750, 0), (-1002, 1), (978, 2), (-1002, 0), (-1002, 1)),
}


def test_two_contrasts_are_adjusted_by_the_exact_test_of_all_groups() -> None:
    """Own p 0.013, of all groups 0.030: adjusted 0.030, where Holm's would be 0.026 or more.

    Computed independently for the same lives (closed testing: Marcus, Peritz & Gabriel 1976).
    """
    rows = [(abs(life), int(life > 0), group, batch)
            for batch, own in INVENTED.items() for life, group in own]  # fmt: skip
    duration, observed, group, batch = (np.array(column) for column in zip(*rows, strict=True))
    family = compare_groups(
        Lives(duration=duration.astype(float), observed=observed, group=group, batch=batch),
        groups=3,
        restriction_time=1000.0,
        rules=Rules(0.95, 1.25, stratify=True, drawing=MonteCarlo()),
    )
    epoxy, sleeve = family.contrasts
    assert round(epoxy.contrast.exact.p, 4) == 0.0130
    assert round(epoxy.p_adjusted[0], 3) == 0.030
    assert round(sleeve.p_adjusted[0], 4) == 0.0758
