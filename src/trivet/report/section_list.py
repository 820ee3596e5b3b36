"""The sections of the report in order."""

from __future__ import annotations

from trivet.report.frame.data import ReportData
from trivet.report.frame.section import Section
from trivet.report.sections import (
    changes,
    comparison,
    cycling,
    fading,
    findings,
    impedance,
    life_lines,
    measures,
    reference,
    summary,
    survival,
    trends,
)
from trivet.report.sections.appendix import (
    build,
    cautions,
    cell_pages,
    ledger,
    lifetime,
    methods,
    paper,
    planning,
    provenance,
)

SECTIONS: tuple[Section, ...] = tuple(
    module.SECTION
    for module in (
        summary,
        life_lines,
        changes,
        build,
        survival,
        comparison,
        planning,
        lifetime,
        cycling,
        fading,
        reference,
        impedance,
        trends,
        measures,
        findings,
        ledger,
        methods,
        paper,
        cautions,
        provenance,
        cell_pages,
    )
)
"""All sections; the first is page one, the last an appendix."""


def sections_of(data: ReportData) -> tuple[Section, ...]:
    """Sections that are printed: the appendix only where the settings ask for it."""
    return SECTIONS if data.settings.report.cell_pages else SECTIONS[:-1]
