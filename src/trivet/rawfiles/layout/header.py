"""The header of a raw file: the line that bears the declared names, and the row of units."""

from __future__ import annotations

import difflib
from collections import deque
from dataclasses import dataclass, replace

from trivet.rawfiles.layout.declared import (
    ColumnRule,
    FileLayout,
    joined_names,
    match_columns,
    normal_header,
)
from trivet.rawfiles.layout.units import UnitError, known_unit, normal_unit, unit_of
from trivet.rawfiles.text.text_file import RawFileError, split_line

_SEARCHED_LINES = 2000
"""A header is looked for in so many lines; longer preambles are not known."""
_NO_UNIT = ("", "-", "1", "none")
_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "blank"}
_ENOUGH_TERMS = 3
"""A line with so many terms of the open format is taken for its header."""


@dataclass(frozen=True)
class Header:
    """The header of a file.

    Attributes
    ----------
    line : int
        Its first line, from 1.
    cells : tuple of str
        Names in the file, a blank last one left out.
    columns : dict of str to tuple of int and ColumnRule
        Position and rule of each quantity.
    body_start : int
        Position in the lines looked through where the data begin.
    body_line : int
        Line of that position.
    unit_line : int or None
        Line of the row of units.
    """

    line: int
    cells: tuple[str, ...]
    columns: dict[str, tuple[int, ColumnRule]]
    body_start: int
    body_line: int
    unit_line: int | None = None


def find_header(data: bytes, *, layout: FileLayout, line: int = 1) -> Header:
    """Find the line that bears the names of the layout's columns.

    Parameters
    ----------
    data : bytes
        Whole lines of a file, from which on the header is looked for.
    layout : FileLayout
        Its layout.
    line : int
        The first of these lines.

    Raises
    ------
    RawFileError
        No line bears all declared names, or one name stands twice.
    """
    matched, number, start, cells = _best_line(data, layout, line)
    if not matched:
        raise RawFileError("no header", _no_header(data, layout, line))
    if not cells[-1].strip():
        cells = cells[:-1]
    _complain_about_names(layout, cells, number)
    columns = {
        quantity: (places[0], rule)
        for quantity, (rule, places) in match_columns(layout, cells).items()
    }
    names = tuple(cell.strip() for cell in cells)
    header = Header(number - layout.header_rows + 1, names, columns, start, number + 1)
    return _skip_unit_row(data, layout, header)


def _best_line(data: bytes, layout: FileLayout, line: int) -> tuple[int, int, int, list[str]]:
    """The line with most declared names: how many, its number, where the next begins, its cells."""
    best: tuple[int, int, int, list[str]] = (0, 0, 0, [])
    wanted = sum(rule.required for rule in layout.columns) or _ENOUGH_TERMS
    offset = 0
    above = deque[list[str]](maxlen=layout.header_rows)
    for number in range(line, line + _SEARCHED_LINES):
        end = data.find(b"\n", offset)
        if end < 0:
            break
        shown = data[offset:end].decode("utf-8")
        offset = end + 1
        above.append(split_line(shown, layout.delimiter) or [])
        cells = joined_names(above)
        whole = len(above) == layout.header_rows
        matched = sum(map(bool, _found_names(layout, cells))) if whole else 0
        if matched > best[0]:
            best = (matched, number, offset, cells)
        if matched >= wanted:
            break
    return best


def is_header(layout: FileLayout, cells: list[str]) -> bool:
    """Whether a line between the rows is a header: two declared names and no number."""
    enough = min(2, len(layout.columns))
    return sum(_found_names(layout, cells)) >= enough and not any(map(_is_number, cells))


def _is_number(cell: str) -> bool:
    """Whether a field is a number, whatever its decimal sign."""
    try:
        float(cell.replace(",", "."))
    except ValueError:
        return False
    return True


def _found_names(layout: FileLayout, cells: list[str]) -> list[bool]:
    """For each column of the layout, whether a header names it."""
    names = {normal_header(cell, any_case=layout.any_case) for cell in cells}
    return [any(name in names for name in rule.names) for rule in layout.columns]


def _no_header(data: bytes, layout: FileLayout, line: int) -> str:
    """Sentence for a file in which no column is found; another delimiter may find some."""
    what = "any term of the open Battery Data Format" if layout.any_case else "any declared column"
    lines = (one.decode("utf-8").strip() for one in data.split(b"\n", _SEARCHED_LINES))
    first_line = next(filter(None, lines), "")
    others = {
        name: _best_line(data, replace(layout, delimiter=sign), line)[0]
        for sign, name in _DELIMITERS.items()
        if sign != layout.delimiter
    }
    best = max(others, key=lambda name: others[name])
    hint = f"; with a {best} between columns {others[best]} would be found" if others[best] else ""
    return f"no line has {what}; the first line is '{first_line[:120]}'{hint}"


def _complain_about_names(layout: FileLayout, cells: list[str], line: int) -> None:
    """Refuse a header that lacks a declared name or has it twice."""
    lacking = [
        rule.names[0]
        for rule, found in zip(layout.columns, _found_names(layout, cells), strict=True)
        if rule.required and not found
    ]
    if lacking:
        found = ", ".join(f"'{cell.strip()}'" for cell in cells)
        absent = ", ".join(f"'{name}'" for name in lacking)
        raise RawFileError(
            "missing column",
            f"layout '{layout.name}' declares {absent}, which the file does not have; "
            f"its headers are {found[:600]}{_near(lacking[0], cells)}",
            line,
        )
    for quantity, (_, places) in match_columns(layout, cells).items():
        if len(places) > 1:
            names = " and ".join(
                f"'{cells[place].strip()}' (column {place + 1})" for place in places
            )
            raise RawFileError("ambiguous column", f"{quantity} stands in {names}", line)


def _near(name: str, cells: list[str]) -> str:
    """Which header of the file may be meant; empty where none is near."""
    names = {normal_header(cell): cell.strip() for cell in cells}
    close = difflib.get_close_matches(name, names, n=1)
    return f"; '{names[close[0]]}' may be meant" if close else ""


def _skip_unit_row(data: bytes, layout: FileLayout, header: Header) -> Header:
    """Header with the row of units behind it; a unit that contradicts the layout is refused.

    A row that the layout does not declare is one where it has known units and no number.
    """
    offset, number = header.body_start, header.body_line
    while (end := data.find(b"\n", offset)) >= 0:
        line = data[offset:end].decode("utf-8")
        offset, number = end + 1, number + 1
        if not line.strip():
            continue
        cells = split_line(line, layout.delimiter) or []
        if not layout.unit_row and not _is_unit_row(header, cells):
            return header
        for quantity, (place, rule) in header.columns.items():
            in_file = cells[place] if place < len(cells) else ""
            _compare_unit(quantity, rule.unit, in_file, number - 1)
        return replace(header, body_start=offset, body_line=number, unit_line=number - 1)
    return header


def _is_unit_row(header: Header, cells: list[str]) -> bool:
    """Whether a row bears units: at least one that is known, and no number."""
    places = [place for place, _ in header.columns.values() if place < len(cells)]
    known = [place for place in places if known_unit(cells[place]) is not None]
    return bool(known) and not any(_is_number(cells[place]) for place in places)


def _compare_unit(quantity: str, declared: str, in_file: str, line: int) -> None:
    """Refuse a row of units that states another unit than the layout, or one that is not known."""
    shown = normal_unit(in_file)
    if not declared or shown in _NO_UNIT or shown == normal_unit(declared):
        return
    if known_unit(shown) is None:
        raise RawFileError(
            "unknown unit",
            f"the row of units gives {quantity} in '{shown}', which is not known; "
            f"the layout says '{declared}'",
            line,
        )
    try:
        same = unit_of(quantity, declared) == unit_of(quantity, shown)
    except UnitError:
        same = False
    if not same:
        raise RawFileError(
            "unit differs",
            f"the layout gives {quantity} in '{declared}', the row of units says '{shown}'",
            line,
        )
