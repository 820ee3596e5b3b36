"""Facts of the trade that a cell as built is held against: they warn and stop nothing.

All limits are common practice, no source.
"""

from __future__ import annotations

import re

from trivet.schema.cell_facts import SEPARATORS, CellFacts
from trivet.schema.findings.finding import Finding

SIZES: dict[str, tuple[float, float, str]] = {
    "lead_wire_um": (25.0, 50.0, "a lead wire of 25 to 50 um"),
    "mesh_diameter_mm": (3.0, 5.0, "a mesh disc about 4 mm across"),
    "mesh_thickness_um": (5.0, 20.0, "a mesh about 10 um thick"),
    "lead_insulation_um": (15.0, 45.0, "an insulation of about 30 um with its adhesive"),
}
"""Column of the build sheet: from, to (both plausible), and what is usual in words."""

FEWEST_SEPARATORS, MOST_SEPARATORS = 2, 4
SOURCE = "common practice, no source"


def implausible(facts: CellFacts) -> list[Finding]:
    """Sizes of a cell beyond what is usual.

    Parameters
    ----------
    facts : CellFacts
        The cell; what its row of the build sheet does not say is passed over.

    Returns
    -------
    list of Finding
        One for each size beyond its limits.
    """
    found = []
    for column, (lowest, highest, usual) in SIZES.items():
        value = facts.numbers.get(column)
        if value is not None and not lowest <= value <= highest:
            limit = lowest if value < lowest else highest
            unit = column.rsplit("_", 1)[1]
            found.append(_finding(facts.cell, column, value, limit, unit, usual))
    return found + _separators(facts) + _inside(facts)


def _finding(cell: str, column: str, value: float, limit: float, unit: str, usual: str) -> Finding:
    """One size as a finding."""
    shown = f" {unit}" if unit else ""
    return Finding(
        cell,
        "plausibility of the build",
        "caution",
        f"'{column}' is {value:g}{shown}; usual is {usual} ({SOURCE}).",
        "none; check the build sheet",
        value=value,
        limit=limit,
        unit=unit or "1",
    )


def _separators(facts: CellFacts) -> list[Finding]:
    """Separators in all, where the sheet counts them as `2+1`."""
    written = facts.values.get(SEPARATORS, "")
    if not re.fullmatch(r"\s*\d+(\s*\+\s*\d+)*\s*", written):
        return []
    number = sum(int(part) for part in written.split("+"))
    if FEWEST_SEPARATORS <= number <= MOST_SEPARATORS:
        return []
    limit = FEWEST_SEPARATORS if number < FEWEST_SEPARATORS else MOST_SEPARATORS
    usual = "two to four separators in all"
    return [_finding(facts.cell, SEPARATORS, float(number), float(limit), "", usual)]


def _inside(facts: CellFacts) -> list[Finding]:
    """Mesh disc that reaches beyond the smaller electrode and so sees its edge."""
    names = ("positive_diameter_mm", "negative_diameter_mm")
    electrodes = [facts.numbers[name] for name in names if name in facts.numbers]
    mesh_mm = facts.numbers.get("mesh_diameter_mm")
    if not electrodes or mesh_mm is None:
        return []
    smallest_mm = min(electrodes)
    if mesh_mm <= smallest_mm:
        return []
    usual = "a disc kept inside the edge of the smaller electrode"
    return [_finding(facts.cell, "mesh_diameter_mm", mesh_mm, smallest_mm, "mm", usual)]
