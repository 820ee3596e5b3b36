"""The sections of the report in order, and which of its two parts they belong to."""

from __future__ import annotations

from dataclasses import dataclass

from trivet.report.frame.data import ReportData
from trivet.report.frame.section import Section
from trivet.report.sections import (
    comparison,
    cycling,
    electrodes,
    fading,
    findings,
    life_lines,
    measures,
    reference,
    summary,
    survival,
    trends,
)
from trivet.report.sections.appendix import (
    all_findings,
    build,
    cautions,
    cell_pages,
    changes,
    contrasts,
    groups,
    impedance,
    ledger,
    lifetime,
    measure_table,
    methods,
    paper,
    planning,
    potentials,
    provenance,
    rates,
    reference_tables,
    register,
    relaxation,
)

MEETING: tuple[Section, ...] = tuple(
    module.SECTION
    for module in (
        summary,
        life_lines,
        cycling,
        survival,
        comparison,
        measures,
        reference,
        fading,
        electrodes,
        trends,
        findings,
    )
)
"""What a meeting reads, the answer first."""

APPENDIX: tuple[Section, ...] = tuple(
    module.SECTION
    for module in (
        changes,
        register,
        build,
        lifetime,
        groups,
        contrasts,
        planning,
        measure_table,
        reference_tables,
        potentials,
        rates,
        impedance,
        relaxation,
        all_findings,
        methods,
        paper,
        ledger,
        cautions,
        provenance,
        cell_pages,
    )
)
"""What it rests on: every table, methods, files, settings; the last are the pages of the cells."""

SECTIONS = MEETING + APPENDIX
"""All sections; the first is page one."""


@dataclass(frozen=True)
class Part:
    """A part of the report.

    Attributes
    ----------
    name, title : str
        Anchor and heading.
    sections : tuple of Section
        Sections in order.
    """

    name: str
    title: str
    sections: tuple[Section, ...]


def parts_of(data: ReportData) -> tuple[Part, ...]:
    """Parts that are printed: the appendix, and in it the pages of cells, as the settings ask.

    A first report has no section on those before it.
    """
    settings = data.settings.report
    meeting = Part("meeting", "For the meeting", MEETING)
    if settings.part == "meeting":
        return (meeting,)
    rest = APPENDIX if settings.cell_pages else APPENDIX[:-1]
    if not register.issued(data):
        rest = tuple(section for section in rest if section is not register.SECTION)
    return (meeting, Part("appendix", "Appendix", rest))
