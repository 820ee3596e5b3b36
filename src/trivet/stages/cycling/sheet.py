"""Mass and area of the positive from the build sheet."""

from __future__ import annotations

from trivet.schema.cell_facts import CellFacts
from trivet.science.electrodes.mass import (
    Measured,
    active_mass_mg,
    coating_mass_mg,
    disc_area_cm2,
)

_NONE = float("nan")


def _number(facts: CellFacts, name: str) -> float:
    """A number of the sheet, NaN where it has none."""
    return facts.numbers.get(name, _NONE)


def _measured(facts: CellFacts, name: str, uncertainty: str) -> Measured:
    """A number of the sheet with its uncertainty; one that is not above zero is not known."""
    value = _number(facts, name)
    return Measured(value if value > 0.0 else _NONE, _number(facts, uncertainty))


def positive_mass_g(facts: CellFacts) -> Measured:
    """Active mass of the positive [g]: as weighed, else from disc, foil and active fraction."""
    mass = _measured(facts, "positive_active_mass_mg", "positive_mass_uncertainty_mg")
    if not mass.value > 0.0:
        disc = _measured(facts, "positive_disc_mass_mg", "positive_disc_mass_uncertainty_mg")
        foil = _measured(facts, "positive_foil_mass_mg", "positive_foil_mass_uncertainty_mg")
        coating = coating_mass_mg(disc=disc, foil=foil)
        fraction = _number(facts, "positive_active_fraction")
        mass = active_mass_mg(coating, active_fraction=fraction)
    return Measured(mass.value / 1000.0, mass.uncertainty / 1000.0)


def positive_area_cm2(facts: CellFacts) -> Measured:
    """Area of the positive disc [cm2]."""
    return disc_area_cm2(
        _measured(facts, "positive_diameter_mm", "positive_diameter_uncertainty_mm")
    )
