"""Known potentials by materials: those that a pair has are allowed, others refused."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.reasons import AnchorKind
from trivet.schema.settings.anchors import (
    allowed_anchors,
    anchor_problem,
    chosen_anchor,
    offset_limits_mV,
)
from trivet.schema.settings.science import Electrodes, Reference, Trust
from trivet.science.reference.checks.anchors import _anchor_checks
from trivet.science.reference.checks.watched import AnchorReadings
from trivet.science.reference.record import TrustLimits


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


@pytest.mark.parametrize("uncertainty_mV", [0.0, 1.0, 2.0, 5.0])
def test_limits_that_are_said_are_those_that_are_used(uncertainty_mV: float) -> None:
    """5 and 20 mV and an anchor known to 2 mV: an offset is held against 9 and 24 mV.

    Two standard uncertainties: the expanded uncertainty of JCGM 100:2008, 6.2 and 6.3.3 (from
    memory), with a coverage factor of 2.
    """
    trust = Trust()
    said = offset_limits_mV(trust, uncertainty_mV)
    assert said == (5.0 + 2 * uncertainty_mV, 20.0 + 2 * uncertainty_mV)
    sizes = np.array([said[0], 1.001 * said[0], said[1], 1.001 * said[1]])
    offsets = AnchorReadings(np.arange(4.0), sizes, np.full(4, uncertainty_mV))
    found = _anchor_checks(offsets, np.inf, TrustLimits(trust.model_dump()))
    judged = [(check.limit, check.trust) for check in found if check.check == "offset"]
    assert judged == [(said[0], "trusted"), *[(said[0], "suspect")] * 2, (said[1], "lost")]
