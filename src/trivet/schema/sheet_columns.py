"""Columns that the build sheet and the bench log may have: what is read, and what is only kept.

Any other column may stand beside them; it is kept in the table `cells` and can be a build factor.
"""

from __future__ import annotations

from trivet.reasons import STATED_REASONS
from trivet.schema.cell_facts import FAILURE_CAUSES, LOG_EVENTS, PLATINGS, REFERENCE_CHECKED

SHEET_COLUMNS: dict[str, str] = {
    "cell": "id of the cell, as names of files have it",
    "batch": "cells built together",
    "included": "yes or no: whether the cell counts in the statistics; empty: yes",
    "exclusion_reason": "why a cell does not count",
    "wetted_at": "when electrolyte first met the cell",
    "crimped_at": "when the case was closed",
    "out_of_glovebox_at": "when the cell left the glovebox",
    "sealed_at": "when the lead passage was sealed",
    "cycling_started_at": "time of the first row of files that have elapsed time only",
    "assembly_fault": "what went wrong at assembly, in your words",
    "separators": "number of separators on each side of the reference, as 2+1",
    "positive_active_mass_mg": "active mass of the positive [mg]",
    "positive_mass_uncertainty_mg": "standard uncertainty of that mass [mg]",
    "positive_disc_mass_mg": "mass of the coated disc, where the active mass was not weighed [mg]",
    "positive_disc_mass_uncertainty_mg": "standard uncertainty of that mass [mg]",
    "positive_foil_mass_mg": "mass of the bare foil of a disc [mg]",
    "positive_foil_mass_uncertainty_mg": "standard uncertainty of that mass [mg]",
    "positive_active_fraction": "active material in the coating, by mass [1]",
    "positive_diameter_mm": "diameter of the positive [mm]",
    "positive_diameter_uncertainty_mm": "standard uncertainty of that diameter [mm]",
    "negative_diameter_mm": "diameter of the negative [mm]",
    "mesh_diameter_mm": "diameter of the mesh of the reference [mm]",
    "mesh_thickness_um": "thickness of the mesh [µm]",
    "lead_wire_um": "diameter of the wire of the lead [µm]",
    "lead_insulation_um": "thickness of its insulation [µm]",
    "electrolyte_uL": "volume of electrolyte [µL]",
}
"""Columns of the build sheet that a result, a check or a comparison of groups rests on."""

NUMBERS: dict[str, tuple[str, ...]] = {
    "charge_mAh": PLATINGS,
    "mass_mg": ("weighed",),
    "offset_mV": (REFERENCE_CHECKED,),
    "uncertainty_mV": (REFERENCE_CHECKED,),
}
"""Numbers of the bench log by the events that they are of."""

LOG_COLUMNS: dict[str, str] = {
    "time": "when it happened",
    "cell": "id of the cell, as in the build sheet",
    "event": "one of: " + ", ".join(LOG_EVENTS),
    "cause": "why a cell failed, one of: " + ", ".join(FAILURE_CAUSES),
    "charge_mAh": "charge plated on the reference [mAh], with 'plated' and 're-plated'",
    "mass_mg": "mass of the cell [mg], with 'weighed'",
    "offset_mV": "offset of the reference against lithium [mV], with 'reference checked'",
    "uncertainty_mV": "its standard uncertainty [mV]",
    "reason": "why a cell was stopped",
    "note": "anything else",
    "entered_at": "when the line was written, where that was later",
}
"""Columns of the bench log."""

LOG_WORDS = (*LOG_EVENTS, *FAILURE_CAUSES, *STATED_REASONS)
"""Words of the bench log, for which a laboratory may have its own."""
