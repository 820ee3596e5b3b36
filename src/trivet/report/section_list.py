"""The sections of the report in order, found in the folders of its two parts."""

from __future__ import annotations

import importlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from trivet.report.frame.data import ReportData
from trivet.report.frame.section import Section

_TEMPLATE = ".html.j2"
_FOLDER = Path(__file__).with_name("sections")


def _modules(folder: Path) -> list[str]:
    """Names of the sections in a folder: the modules that have a template beside them."""
    return sorted(path.name.removesuffix(_TEMPLATE) for path in folder.glob(f"*{_TEMPLATE}"))


def in_order(sections: Iterable[Section]) -> tuple[Section, ...]:
    """Sections by their place.

    Parameters
    ----------
    sections : iterable of Section
        Those of one part.

    Raises
    ------
    ValueError
        Two of them have the same.
    """
    by_place: dict[int, Section] = {}
    for section in sections:
        if section.place in by_place:
            names = f"'{by_place[section.place].name}' and '{section.name}'"
            raise ValueError(f"sections {names} have one place, {section.place}")
        by_place[section.place] = section
    return tuple(by_place[place] for place in sorted(by_place))


MEETING: tuple[Section, ...] = in_order(
    importlib.import_module(f"trivet.report.sections.{name}").SECTION for name in _modules(_FOLDER)
)
"""What a meeting reads, the answer first."""

APPENDIX: tuple[Section, ...] = in_order(
    importlib.import_module(f"trivet.report.sections.appendix.{name}").SECTION
    for name in _modules(_FOLDER / "appendix")
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
    """Parts that are printed, as the settings ask, with their sections that are printed."""
    meeting = Part("meeting", "For the meeting", _printed(MEETING, data))
    if data.settings.report.part == "meeting":
        return (meeting,)
    return (meeting, Part("appendix", "Appendix", _printed(APPENDIX, data)))


def _printed(sections: tuple[Section, ...], data: ReportData) -> tuple[Section, ...]:
    """Those that are printed."""
    return tuple(
        section
        for section in sections
        if section.printed(data) and (section.needs is None or section.needs.met(data))
    )


def left_out(data: ReportData) -> list[tuple[str, list[str]]]:
    """Reasons why sections are left out, each with the titles of these sections in order."""
    wanted = MEETING if data.settings.report.part == "meeting" else SECTIONS
    titles: dict[str, list[str]] = {}
    for section in wanted:
        if section.needs is not None and not section.needs.met(data):
            titles.setdefault(section.needs.without, []).append(section.title)
    return list(titles.items())
