"""Which known potentials a pair of materials allows, and what the settings make of them."""

from __future__ import annotations

from dataclasses import dataclass

from trivet.reasons import AnchorKind
from trivet.reference_checks import ANCHOR_ERRORS
from trivet.schema.settings.science import Electrodes, Reference, Trust

PLATEAU_V = {"LFP": 3.425, "LTO": 1.55}
"""Positives with one flat plateau, and its potential at rest; common practice, no source."""
GRAPHITE_V = 0.085
"""Lowest plateau of graphite, mean of charge and discharge; common practice, no source."""
SLOPING = ("NMC", "NCA", "LCO", "LMO")
"""Positives whose potential follows the state of charge, so that no rest is known."""
UNCERTAINTY_mV = {
    AnchorKind.POSITIVE_PLATEAU: 2.0,
    AnchorKind.GRAPHITE_PLATEAU: 5.0,
    AnchorKind.NEGATIVE_REST: 1.0,
    AnchorKind.NONE: 0.0,
}
"""Standard uncertainties by material and temperature; common practice, no source."""


@dataclass(frozen=True)
class ChosenAnchor:
    """The anchor that holds: kind, potential [V], its standard uncertainty [mV]."""

    kind: AnchorKind
    potential_V: float
    uncertainty_mV: float


def allowed_anchors(electrodes: Electrodes) -> tuple[AnchorKind, ...]:
    """Known potentials that a pair of materials has, the surest first.

    Parameters
    ----------
    electrodes : Electrodes
        Settings.
    """
    positive, negative = electrodes.positive.material, electrodes.negative.material
    found = []
    if negative == "lithium":
        found.append(AnchorKind.NEGATIVE_REST)
    if positive in PLATEAU_V or positive == "other":
        found.append(AnchorKind.POSITIVE_PLATEAU)
    if negative == "graphite":
        found.append(AnchorKind.GRAPHITE_PLATEAU)
    return tuple(found)


def chosen_anchor(reference: Reference, electrodes: Electrodes) -> ChosenAnchor:
    """The anchor of the settings, with what materials give where the settings say nothing.

    Parameters
    ----------
    reference : Reference
        Settings.
    electrodes : Electrodes
        Settings.
    """
    kind = AnchorKind.NONE
    if reference.anchor is not None:
        kind = AnchorKind(reference.anchor)
    elif electrodes.positive.material in PLATEAU_V:
        kind = AnchorKind.POSITIVE_PLATEAU
    elif electrodes.negative.material == "lithium":
        kind = AnchorKind.NEGATIVE_REST
    usual_V = {
        AnchorKind.POSITIVE_PLATEAU: PLATEAU_V.get(electrodes.positive.material, PLATEAU_V["LFP"]),
        AnchorKind.GRAPHITE_PLATEAU: GRAPHITE_V,
    }.get(kind, 0.0)
    given_V, given_mV = reference.anchor_potential_V, reference.anchor_uncertainty_mV
    return ChosenAnchor(
        kind,
        usual_V if given_V is None else given_V,
        UNCERTAINTY_mV[kind] if given_mV is None else given_mV,
    )


def offset_limits_mV(trust: Trust, uncertainty_mV: float) -> tuple[float, float]:
    """Limits that an offset is held against: those of the settings and what its anchor may be off.

    Parameters
    ----------
    trust : Trust
        Settings.
    uncertainty_mV : float
        Standard uncertainty of the known potential [mV].

    Returns
    -------
    suspect_mV, lost_mV : float
        As `trivet.science.reference.checks.anchors` uses them [mV].
    """
    widened_mV = ANCHOR_ERRORS * uncertainty_mV
    return trust.offset_suspect_mV + widened_mV, trust.offset_lost_mV + widened_mV


def anchor_problem(reference: Reference, electrodes: Electrodes) -> str:
    """Why the anchor that a person set can't be one, with what can; empty where it can.

    Parameters
    ----------
    reference : Reference
        Settings.
    electrodes : Electrodes
        Settings.
    """
    kind = chosen_anchor(reference, electrodes).kind
    positive, negative = electrodes.positive.material, electrodes.negative.material
    why = ""
    if kind is AnchorKind.POSITIVE_PLATEAU and positive in SLOPING:
        why = f"the potential of {positive} slopes, so that no rest of it is a known potential"
    elif kind is AnchorKind.POSITIVE_PLATEAU and positive in ("graphite", "lithium"):
        why = f"a positive of {positive} has no plateau of its own"
    elif (
        kind is AnchorKind.POSITIVE_PLATEAU
        and positive == "other"
        and reference.anchor_potential_V is None
    ):
        why = "'reference.anchor_potential_V' does not state the plateau of this positive"
    elif kind is AnchorKind.NEGATIVE_REST and negative != "lithium":
        why = f"the negative is {negative}, and only lithium rests at a known potential"
    elif kind is AnchorKind.GRAPHITE_PLATEAU and negative != "graphite":
        why = f"the negative is {negative}, not graphite"
    if not why:
        return ""
    return f"'reference.anchor: {kind}' can't hold: {why}. {allowed_words(electrodes)}"


def allowed_words(electrodes: Electrodes) -> str:
    """Which anchors a pair of materials allows, in a sentence.

    Parameters
    ----------
    electrodes : Electrodes
        Settings.
    """
    pair = f"{electrodes.positive.material} and {electrodes.negative.material}"
    named = [f"'{kind}'" for kind in allowed_anchors(electrodes)]
    named = [*named, "'none'"]
    return (
        f"Anchors for {pair}: {', '.join(named)}. Measurements in the bench log ('reference "
        "checked') and the features of curves count with any."
    )
