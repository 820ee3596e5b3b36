"""The sections of the report in order: title, template, figures, and what fills them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from trivet.report.frame.data import ReportData
from trivet.report.sections import (
    cell_pages,
    cells,
    changes,
    comparison,
    electrodes,
    front,
    ledger,
    lives,
    paper,
    planning,
    record,
    resistance,
)
from trivet.report.sections.methods import methods


def _nothing(data: ReportData) -> dict[str, Any]:
    """For sections that consist of figures or fixed text."""
    return {"built": len(data.rows["cells"])}


@dataclass(frozen=True)
class Section:
    """One section.

    Attributes
    ----------
    name : str
        Name of its template and of its anchor.
    title : str
        Heading.
    contents : callable
        Gives the variables of its template.
    figures : tuple of str
        Kinds of figures that it shows, by their names in `figures.MAKERS`.
    """

    name: str
    title: str
    contents: Callable[[ReportData], dict[str, Any]]
    figures: tuple[str, ...] = ()


SECTIONS: tuple[Section, ...] = (
    Section("summary", "Summary", front.summary),
    Section("life_lines", "Life lines", _nothing, ("life_lines",)),
    Section("changes", "Since the earlier data cut", changes.changes),
    Section("build", "The build", front.build),
    Section("survival", "Survival", lives.survival, ("survival", "causes", "probability")),
    Section("comparison", "Comparisons", comparison.comparison, ("effects",)),
    Section("planning", "Planning", planning.planning, ("planning",)),
    Section("lifetime", "Lives of the cells", lives.lifetime),
    Section(
        "cycling",
        "Capacity and electrodes",
        electrodes.cycling,
        ("capacity", "potentials", "polarisation", "differential"),
    ),
    Section("reference", "References", electrodes.reference, ("trust", "reference")),
    Section(
        "impedance",
        "Impedance",
        resistance.impedance,
        ("nyquist", "trends", "slopes", "relaxation"),
    ),
    Section("measures", "Per-cell measures", cells.measures, ("measures",)),
    Section("findings", "Findings", record.findings),
    Section("ledger", "Raw files", ledger.ledger),
    Section("methods", "Methods", methods),
    Section("paper", "For a paper", paper.paper),
    Section("cautions", "Cautions", _nothing),
    Section("provenance", "Provenance", record.provenance),
    Section("cell_pages", "Pages of the cells", cell_pages.pages, ("cell_pages",)),
)
"""All sections; the first is page one, the last an appendix."""


def sections_of(data: ReportData) -> tuple[Section, ...]:
    """Sections that are printed: the appendix only where the settings ask for it."""
    return SECTIONS if data.settings.report.cell_pages else SECTIONS[:-1]
