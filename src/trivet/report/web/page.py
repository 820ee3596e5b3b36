"""The report as one web page: the sections of the PDF in a frame of its own.

It holds its style, script, fonts and figures, and a policy that lets a browser take no others.
"""

from __future__ import annotations

import base64
import hashlib
import importlib.resources
from urllib.parse import quote

from markupsafe import Markup, escape

from trivet.report.figure_list import Plate
from trivet.report.frame.data import ReportData
from trivet.report.frame.printed import MOST_CELLS_NAMED, Names, PrintedCell, PrintedTable, Subject
from trivet.report.frame.wording import listed
from trivet.report.render import environment, filled, framed
from trivet.report.section_list import parts_of
from trivet.report.sections.appendix import build, cell_pages
from trivet.report.web.fonts import font_rules
from trivet.report.web.inline_svg import inline_svg

FRAME = "web"
"""Folder of the frame, its style and its script below `templates`."""


class Places:
    """Where cells, groups and tables lie, and how elements say what they are about.

    Elements carry numbers, never the names that people typed.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    """

    def __init__(self, data: ReportData) -> None:
        self._data = data
        self._cells = {cell: place for place, cell in enumerate(data.cells)}
        self._groups = {group: place for place, group in enumerate(data.groups)}
        printed = {section.name for part in parts_of(data) for section in part.sections}
        self.paged = cell_pages.SECTION.name in printed
        self.led = self.paged or build.SECTION.name in printed

    def choices(self) -> list[tuple[int, str, list[tuple[int, str]]]]:
        """Groups with their cells, each with its number."""
        return [
            (place, group, [(self._cells[cell], cell) for cell in self._data.cells_of(group)])
            for group, place in self._groups.items()
        ]

    def numbers(self, subject: Subject) -> dict[str, str]:
        """Attributes of an element that is about cells or groups.

        None where it is about other things: groups of another factor, or all groups together.
        """
        cells = [cell for cell in subject.cells if cell in self._cells]
        groups = [self._data.group_of[cell] for cell in cells]
        primary = subject.factor in (None, self._data.factor)
        if primary and all(group in self._groups for group in subject.groups):
            groups += subject.groups
        numbers = " ".join(str(self._cells[cell]) for cell in cells)
        of_groups = " ".join(str(place) for place in sorted({self._groups[g] for g in groups}))
        if not of_groups:
            return {}
        return ({"data-cells": numbers} if cells else {}) | {"data-groups": of_groups}

    def marks(self, subject: Subject) -> Markup:
        """The same attributes as they stand in the page."""
        found = self.numbers(subject).items()
        return Markup("").join(Markup(' {}="{}"').format(name, value) for name, value in found)

    def anchor(self, cell: str) -> str:
        """Anchor of a cell."""
        return f"cell-{self._cells[cell]}"

    def home(self, subject: Subject) -> Markup:
        """Give the anchor of the row that describes a cell, where cells have no pages."""
        if self.paged or len(subject.cells) != 1 or subject.cells[0] not in self._cells:
            return Markup("")
        return Markup(' id="{}"').format(self.anchor(subject.cells[0]))

    def text(self, printed: PrintedCell, subject: Subject, table: PrintedTable) -> Markup:
        """Text of a cell of a table, with links where it names cells or a table."""
        if printed.names is Names.TABLE and printed.text in self._data.tables:
            return table_link(printed.text)
        at_home = table.home and not self.paged
        if printed.names is not Names.CELL or not self.led or at_home:
            return escape(printed.text)
        links = [self._link(cell) for cell in subject.cells]
        if len(links) > 1:
            return Markup(listed([str(link) for link in links], MOST_CELLS_NAMED))
        return links[0] if links and printed.text == subject.cells[0] else escape(printed.text)

    def _link(self, cell: str) -> Markup:
        """Name of a cell, with a link where it is one of the campaign."""
        if cell not in self._cells:
            return escape(cell)
        return Markup('<a href="#{}">{}</a>').format(self.anchor(cell), cell)


def table_link(name: str) -> Markup:
    """Name of a table with a link to its text, as both lie in the results and in the archive."""
    return Markup('<a href="tables/{}.csv">{}</a>').format(quote(name), name)


def table_path(name: str) -> Markup:
    """Path of a table with a link to it."""
    return Markup('<a href="tables/{}.csv">tables/{}.csv</a>').format(quote(name), name)


def numbers_link(plate: Plate) -> Markup:
    """Link to the numbers of a figure."""
    return Markup('<a href="figures/{}.csv">figures/{}.csv</a>').format(
        quote(plate.name), plate.name
    )


def render_page(data: ReportData, plates: dict[str, list[Plate]]) -> bytes:
    """Make the web page.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    plates : dict of str to list of Plate
        Figures by kind.

    Returns
    -------
    bytes
        HTML in UTF-8, the same bytes for the same tables and settings.
    """
    places = Places(data)
    drawn = [plate for kind in plates.values() for plate in kind if not plate.absent]
    prefixes = {plate.name: f"f{place}" for place, plate in enumerate(drawn)}
    templates = environment(FRAME)
    templates.filters.update(
        marks=places.marks,
        home=places.home,
        anchor=places.anchor,
        table_path=table_path,
        numbers_link=numbers_link,
        svg=lambda plate: Markup(  # made of escaped parts by the library
            inline_svg(
                plate.svg,
                prefix=prefixes[plate.name],
                title=plate.alternative,
                numbers=places.numbers,
            )
        ),
    )
    templates.globals.update(text=places.text, subject=Subject)
    parts = filled(templates, data, plates)
    script = _own_file("page.js")
    bare = framed(
        templates, data, parts, choices=places.choices(), policy="", style="", script=script
    )
    style = font_rules(bare) + _own_file("page.css")
    page = framed(
        templates,
        data,
        parts,
        choices=places.choices(),
        policy=_policy(style, script),
        style=Markup(style),  # a file of the package
        script=Markup(script),  # a file of the package
    )
    return page.encode()


def _policy(style: str, script: str) -> str:
    """Give the policy of the page: its one style and its one script, and nothing else at all."""
    return (
        f"default-src 'none'; style-src {_digest(style)}; script-src {_digest(script)}; "
        "font-src data:; img-src data:; base-uri 'none'; form-action 'none'"
    )


def _own_file(name: str) -> str:
    """Style or script."""
    folder = importlib.resources.files("trivet.report") / "templates" / FRAME
    return (folder / name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    """Name of a style or script in the policy (Content Security Policy Level 3, section 2.3.1)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
