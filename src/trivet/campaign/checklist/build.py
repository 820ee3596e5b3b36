"""Items of the reporting checklist on how the cells were built."""

from __future__ import annotations

from trivet.campaign.checklist.points import first_by_cell, known, sheet, spread, tally
from trivet.campaign.checklist.record import Item, Recorded


def build_items(r: Recorded) -> list[Item]:
    """Items of the build.

    Parameters
    ----------
    r : Recorded
        What the campaign has recorded.
    """
    return [*_outside(r), *_inside(r)]


def _outside(r: Recorded) -> list[Item]:
    """Items of cells, case and positive."""
    cells, factor = r.cells, r.comparison.factors[0].factor
    return [
        ("Cells", "build sheet", [
            sheet(cells, "ids", "cell"),
            sheet(cells, "built", r.lifetime.clock_start),
            sheet(cells, "operator (a pseudonym)", "operator"),
            known("campaign", r.campaign),
            sheet(cells, f"variant ({factor})", factor),
        ]),
        ("Case", "build sheet", [
            sheet(cells, "type", "case_type"),
            sheet(cells, "spacers", "spacer_mm", "spacers", unit="mm"),
            sheet(cells, "spring", "spring"),
            sheet(cells, "crimp pressure", "crimp_pressure_MPa", unit="MPa"),
        ]),
        ("Positive", "build sheet", [
            known("material", r.electrodes.positive.material),
            sheet(cells, "lot", "positive_lot"),
            sheet(cells, "active, carbon, binder", "positive_composition",
                  "positive_active_fraction"),
            sheet(cells, "foil", "positive_foil"),
            sheet(cells, "diameter", "positive_diameter_mm", unit="mm"),
            sheet(cells, "disc mass", "positive_disc_mass_mg", unit="mg"),
            sheet(cells, "foil mass", "positive_foil_mass_mg", unit="mg"),
            sheet(cells, "active mass", "positive_active_mass_mg", unit="mg"),
            sheet(cells, "thickness", "positive_thickness_um", unit="µm"),
            sheet(cells, "porosity after calendering", "positive_porosity"),
        ]),
        ("Areal capacity", "computed", [
            known("measured in the first ageing cycle",
                  spread(first_by_cell(r.cycles_of("ageing"), "areal_capacity_mAh_cm2"), "mAh/cm²"),
                  "positive_diameter_mm"),
            known("per active mass",
                  spread(first_by_cell(r.cycles_of("ageing"), "specific_capacity_mAh_g"), "mAh/g"),
                  "positive_active_mass_mg"),
        ]),
    ]  # fmt: skip


def _inside(r: Recorded) -> list[Item]:
    """Items of negative, reference, separators and electrolyte."""
    cells = r.cells
    return [
        ("Negative", "build sheet", [
            known("material", r.electrodes.negative.material),
            sheet(cells, "diameter", "negative_diameter_mm", unit="mm"),
            sheet(cells, "thickness or loading", "negative_thickness_um",
                  "negative_loading_mg_cm2"),
            sheet(cells, "capacity over that of the positive, with its basis",
                  "negative_to_positive_ratio"),
        ]),
        _reference(r),
        ("Separators", "build sheet", [
            sheet(cells, "number", "separators"),
            sheet(cells, "type", "separator_type"),
            sheet(cells, "thickness", "separator_thickness_um", unit="µm"),
            sheet(cells, "diameter", "separator_diameter_mm", unit="mm"),
        ]),
        ("Electrolyte", "build sheet", [
            sheet(cells, "salt", "electrolyte_salt"),
            sheet(cells, "molarity", "electrolyte_molarity_mol_L", unit="mol/L"),
            sheet(cells, "solvents and the basis of their ratio", "electrolyte_solvents"),
            sheet(cells, "additives", "electrolyte_additives"),
            sheet(cells, "volume", "electrolyte_uL", unit="µL"),
            sheet(cells, "water", "electrolyte_water_ppm", unit="ppm"),
            sheet(cells, "lot", "electrolyte_lot"),
        ]),
        ("Glovebox", "build sheet", [
            sheet(cells, "oxygen", "glovebox_oxygen_ppm", unit="ppm"),
            sheet(cells, "water", "glovebox_water_ppm", unit="ppm"),
        ]),
    ]  # fmt: skip


def _reference(r: Recorded) -> Item:
    """Item of the reference."""
    cells = r.cells
    last = {row["cell"]: row["state"] for row in r.tables["timeline"] if row["track"] != "phase"}
    return ("Reference", "build sheet, computed", [
        known("substrate", r.reference.substrate),
        sheet(cells, "mesh", "mesh_diameter_mm", unit="mm"),
        known("charge plated",
              spread([row["charge_mAh"] for row in r.tables["plating"]], "mAh"),
              "charge_mAh of the bench log"),
        sheet(cells, "plating current", "plating_current_mA", unit="mA"),
        sheet(cells, "position in the stack", "reference_position"),
        sheet(cells, "wire", "lead_wire_um", unit="µm"),
        sheet(cells, "insulation", "lead_insulation_um", unit="µm"),
        sheet(cells, "seal", "seal"),
        known("trust at the last row", tally(sorted(last.values())), "plate and check it"),
    ])  # fmt: skip
