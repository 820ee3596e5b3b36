"""Known potentials by materials: those that a pair has are allowed, others refused."""

from __future__ import annotations

import pytest

from trivet.reasons import AnchorKind
from trivet.schema.settings.anchors import allowed_anchors, anchor_problem, chosen_anchor
from trivet.schema.settings.science import Electrodes, Reference


def pair(positive: str, negative: str) -> Electrodes:
    """Settings of two materials."""
    return Electrodes.model_validate(
        {"positive": {"material": positive}, "negative": {"material": negative}}
    )


@pytest.mark.parametrize(
    ("positive", "negative", "allowed"),
    [
        ("LFP", "graphite", [AnchorKind.POSITIVE_PLATEAU, AnchorKind.GRAPHITE_PLATEAU]),
        ("NMC", "graphite", [AnchorKind.GRAPHITE_PLATEAU]),
        ("NMC", "lithium", [AnchorKind.NEGATIVE_REST]),
        ("LTO", "lithium", [AnchorKind.NEGATIVE_REST, AnchorKind.POSITIVE_PLATEAU]),
        ("LCO", "LTO", []),
    ],
)
def test_materials_tell_their_anchors(
    positive: str, negative: str, allowed: list[AnchorKind]
) -> None:
    """A flat positive, a graphite negative and a lithium negative have known potentials."""
    assert list(allowed_anchors(pair(positive, negative))) == allowed


@pytest.mark.parametrize(
    ("given", "positive", "negative", "words"),
    [
        ({"anchor": "positive rest plateau"}, "NMC", "graphite", "the potential of NMC slopes"),
        ({"anchor": "positive rest plateau", "anchor_potential_V": 3.8}, "NMC", "graphite",
         "the potential of NMC slopes"),
        ({"anchor": "negative rest"}, "LFP", "graphite", "only lithium rests"),
        ({"anchor": "graphite plateau"}, "LFP", "lithium", "not graphite"),
        ({"anchor": "positive rest plateau"}, "other", "graphite", "does not state the plateau"),
    ],
)  # fmt: skip
def test_an_impossible_anchor_is_refused_with_those_that_hold(
    given: dict[str, object], positive: str, negative: str, words: str
) -> None:
    """The reason names the material, and the sentence after it what may be chosen."""
    problem = anchor_problem(Reference.model_validate(given), pair(positive, negative))
    assert words in problem
    assert f"Anchors for {positive} and {negative}:" in problem


@pytest.mark.parametrize(
    ("positive", "negative", "kind", "potential_V", "uncertainty_mV"),
    [
        ("LFP", "graphite", AnchorKind.POSITIVE_PLATEAU, 3.425, 2.0),
        ("NMC", "graphite", AnchorKind.NONE, 0.0, 0.0),
        ("NMC", "lithium", AnchorKind.NEGATIVE_REST, 0.0, 1.0),
    ],
)
def test_without_a_choice_materials_decide(
    positive: str, negative: str, kind: AnchorKind, potential_V: float, uncertainty_mV: float
) -> None:
    """A sloping positive with graphite has none by default, so that nothing is written as lost."""
    chosen = chosen_anchor(Reference(), pair(positive, negative))
    assert (chosen.kind, chosen.potential_V, chosen.uncertainty_mV) == (
        kind, potential_V, uncertainty_mV,
    )  # fmt: skip
    assert anchor_problem(Reference(), pair(positive, negative)) == ""
