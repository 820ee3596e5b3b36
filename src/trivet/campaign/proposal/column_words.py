"""Words by which people name columns of a build sheet and events of a bench log.

Common practice of laboratories, no source. A word proposes; the person who reads it decides.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from trivet.campaign.own_columns import plain

SHEET_WORDS: dict[str, tuple[str, ...]] = {
    "exclusion_reason": ("exclusion", "why excluded", "ausschluss"),
    "included": ("included", "ok?", "ok", "use", "valid", "gültig"),
    "batch": ("batch", "lot", "serie", "series"),
    "out_of_glovebox_at": ("out of", "glovebox", "glove box", "ausgeschleust"),
    "wetted_at": ("wetted", "filled", "electrolyte added", "befüllt", "benetzt"),
    "crimped_at": ("crimp", "closed", "verpresst", "geschlossen"),
    "sealed_at": ("sealed", "seal finished", "sealing time", "abgedichtet"),
    "cycling_started_at": ("on cycler", "cycling start", "start of cycling", "cycler start"),
    "positive_mass_uncertainty_mg": ("±", "mass uncertainty", "uncertainty"),
    "positive_active_mass_mg": ("active mass", "aktivmasse"),
    "mesh_diameter_mm": ("mesh", "netz"),
    "lead_wire_um": ("wire", "draht"),
    "negative_diameter_mm": ("ø -", "ø −", "diameter negative", "negative diameter", "ø neg"),
    "positive_diameter_mm": ("ø +", "diameter positive", "positive diameter", "ø pos"),
    "electrolyte_uL": ("electrolyte", "elektrolyt"),
    "separators": ("separator",),
    "assembly_fault": ("assembly fault", "fault at assembly"),
}
"""Parts of names by the column that they may mean; the particular before the general."""

DATE_WORDS = ("date", "datum", "built on", "day", "tag")
TIME_WORDS = ("time", "zeit", "when", "uhrzeit")

EVENT_WORDS: dict[str, tuple[str, ...]] = {
    "weighed": ("weigh", "balance", "scale", "waage", "gewogen"),
    "re-plated": ("re-plat", "replat", "plated again", "plated anew"),
    "plated": ("plat", "abgeschieden"),
    "leads exchanged": ("exchanged", "swapped"),
    "resumed": ("resum", "restart", "back on", "wieder"),
    "paused": ("paus",),
    "removed": ("remov", "entnommen"),
    "contact fault": ("contact", "clip", "kontakt"),
    "reference checked": ("reference check", "checked the reference"),
    "leak": ("leak", "undicht"),
    "internal short": ("short",),
    "open circuit": ("open circuit", "lost contact"),
    "failed": ("fail", "dead", "defekt"),
    "channel needed": ("channel needed", "needed the channel"),
    "stopped": ("stop", "taken off", "ended", "gestoppt"),
    "note": ("note", "remark", "seen", "looked at"),
}
"""Parts of words by the event, cause or reason that they may mean; the particular first."""


def meant(
    said: str, words: Mapping[str, tuple[str, ...]], taken: Collection[str] = ()
) -> str | None:
    """What a name may mean; None where no word of it is known.

    Parameters
    ----------
    said : str
        Name as written.
    words : mapping of str to tuple of str
        Parts of names by what they mean.
    taken : collection of str
        Meanings that are given already.
    """
    name = plain(said).casefold()
    for ours, parts in words.items():
        if ours not in taken and (name == ours or any(_stands_in(part, name) for part in parts)):
            return ours
    return None


def _stands_in(part: str, name: str) -> bool:
    """Whether a name has a part; short parts must be the whole of it."""
    return name == part if len(part) <= len("use") and part.isalpha() else part in name
