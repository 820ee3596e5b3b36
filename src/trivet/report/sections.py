"""The sections of the report in order: title, template, figures, and what fills them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from trivet.report import (
    contents_cells,
    contents_changes,
    contents_comparison,
    contents_electrodes,
    contents_front,
    contents_ledger,
    contents_lives,
    contents_pages,
    contents_paper,
    contents_planning,
    contents_record,
    contents_resistance,
)
from trivet.report.data import ReportData
from trivet.report.methods import methods


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
    Section("summary", "Summary", contents_front.summary),
    Section("life_lines", "Life lines", _nothing, ("life_lines",)),
    Section("changes", "Since the earlier data cut", contents_changes.changes),
    Section("build", "The build", contents_front.build),
    Section("survival", "Survival", contents_lives.survival, ("survival", "causes", "probability")),
    Section("comparison", "Comparisons", contents_comparison.comparison, ("effects",)),
    Section("planning", "Planning", contents_planning.planning, ("planning",)),
    Section("lifetime", "Lives of the cells", contents_lives.lifetime),
    Section(
        "cycling",
        "Capacity and electrodes",
        contents_electrodes.cycling,
        ("capacity", "potentials", "polarisation", "differential"),
    ),
    Section("reference", "References", contents_electrodes.reference, ("trust", "reference")),
    Section(
        "impedance",
        "Impedance",
        contents_resistance.impedance,
        ("nyquist", "trends", "slopes", "relaxation"),
    ),
    Section("measures", "Per-cell measures", contents_cells.measures, ("measures",)),
    Section("findings", "Findings", contents_record.findings),
    Section("ledger", "Raw files", contents_ledger.ledger),
    Section("methods", "Methods", methods),
    Section("paper", "For a paper", contents_paper.paper),
    Section("cautions", "Cautions", _nothing),
    Section("provenance", "Provenance", contents_record.provenance),
    Section("cell_pages", "Pages of the cells", contents_pages.pages, ("cell_pages",)),
)
"""All sections; the first is page one, the last an appendix."""


def sections_of(data: ReportData) -> tuple[Section, ...]:
    """Sections that are printed: the appendix only where the settings ask for it."""
    return SECTIONS if data.settings.report.cell_pages else SECTIONS[:-1]
