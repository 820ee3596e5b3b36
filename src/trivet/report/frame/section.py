"""A section of the report: its heading, what it says, what it draws."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from trivet.report.frame.data import ReportData
from trivet.report.frame.style import Absent, Drawing


@dataclass(frozen=True)
class Needs:
    """What a section is about.

    Attributes
    ----------
    tables : sequence of str
        Tables of which one has rows at least.
    without : str
        Why the section is left out where none has.
    """

    tables: Sequence[str]
    without: str

    def met(self, data: ReportData) -> bool:
        """Whether there is anything to print."""
        return any(data.tables[name].num_rows for name in self.tables)


CYCLES = Needs(("cycles",), "no cycle was read")
SPECTRA = Needs(("spectra",), "no spectrum was read")
REFERENCES = Needs(("reference_checks", "timeline"), "no reference was followed")
PLATINGS = Needs((*REFERENCES.tables, "plating"), REFERENCES.without)
FILES = Needs(("ledger",), "no raw file was read")
"""What sections of measurements are about."""


@dataclass(frozen=True)
class Section:
    """One section.

    Attributes
    ----------
    name : str
        Name of its file, of the template beside it, and of its anchor.
    title : str
        Heading.
    contents : callable
        Gives the variables of its template.
    figures : mapping of str to callable
        What draws each kind of figure that it shows, in order.
    place : int
        Its place in its part of the report, of which no two sections have the same.
    printed : callable
        Whether it is printed.
    needs : Needs or None
        What it is about; without that it is left out, and page one says why.
    """

    name: str
    title: str
    contents: Callable[[ReportData], dict[str, Any]]
    figures: Mapping[str, Callable[[ReportData], list[Drawing | Absent]]] = field(
        default_factory=dict
    )
    place: int = field(kw_only=True)
    printed: Callable[[ReportData], bool] = field(default=lambda _data: True, kw_only=True)
    needs: Needs | None = field(default=None, kw_only=True)


def count_cells(data: ReportData) -> dict[str, Any]:
    """Contents of a section that consists of figures or fixed text."""
    return {"built": len(data.rows["cells"])}
