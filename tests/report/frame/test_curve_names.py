"""Names at the ends of curves: beside the end, inside the panel, none over another."""

from __future__ import annotations

import itertools

import pytest
from matplotlib.figure import Figure

from trivet.report.frame.curve_names import name_ends


def test_names_stand_at_the_ends_and_never_meet() -> None:
    """Of three ends that meet one is named; one below the panel stands at its lower edge."""
    axes = Figure().subplots()
    axes.set_xlim(0.0, 300.0)
    axes.set_ylim(0.75, 1.0)
    ends = {"a": (100.0, 0.8), "b": (101.0, 0.8), "c": (102.0, 0.81), "d": (200.0, 0.9),
            "dead": (150.0, 0.1), "at the edge": (299.0, 0.9)}  # fmt: skip
    name_ends(axes, ends)
    placed = {text.get_text(): text.xy for text in axes.texts}
    assert set(placed) == {"c", "d", "dead"}
    assert placed["d"] == pytest.approx((200.0 / 300.0, 0.6))
    assert placed["dead"][1] == pytest.approx(0.04)
    for one, other in itertools.combinations(placed.values(), 2):
        assert abs(one[0] - other[0]) > 0.1 or abs(one[1] - other[1]) > 0.09
