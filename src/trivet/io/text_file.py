"""A raw file as clean text: its bytes, checksum, encoding, line ends, header and body."""

from __future__ import annotations

import codecs
import csv
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from trivet.io.layouts import ColumnRule, FileLayout, match_columns, normal_header
from trivet.io.units import UnitError, known_unit, normal_unit, unit_of

_SEARCHED_LINES = 2000
"""A header is looked for in so many lines; longer preambles are not known."""
_ENOUGH_TERMS = 3
"""A line with so many terms of the open format is taken for its header."""
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


class RawFileError(Exception):
    """A raw file can't be read as its layout says; the file is set aside.

    Parameters
    ----------
    check : str
        Name of the check for the finding.
    message : str
        One sentence for a person.
    line : int or None
        Line it is seen on.
    """

    def __init__(self, check: str, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.check, self.message, self.line = check, message, line


@dataclass(frozen=True)
class RawText:
    """Text of a file.

    Attributes
    ----------
    data : bytes
        UTF-8 with line feeds only.
    bytes : int
        Size of the file [B].
    sha256 : str
        Checksum of the file, hexadecimal.
    encoding : str
        Encoding it was read with.
    from_mark : bool
        Whether a byte order mark told the encoding.
    undecodable : tuple of int
        Lines with bytes that the encoding does not have.
    """

    data: bytes
    bytes: int
    sha256: str
    encoding: str
    from_mark: bool
    undecodable: tuple[int, ...]

    @property
    def filled_lines(self) -> int:
        """How many lines are not blank."""
        return sum(1 for line in self.data.split(b"\n") if line.strip())


@dataclass(frozen=True)
class Header:
    """The header of a file.

    Attributes
    ----------
    line : int
        Its line, from 1.
    cells : tuple of str
        Names in the file, a blank last one left out.
    columns : dict of str to tuple of int and ColumnRule
        Position and rule of each quantity.
    body_start : int
        Position in the text where the data begin.
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


def read_text(path: Path, *, encoding: str) -> RawText:
    """Read a file; a byte order mark outranks the declared encoding.

    Raises
    ------
    OSError
        The file can't be read.
    """
    raw = path.read_bytes()
    mark = next(((sign, name) for sign, name in _BOMS if raw.startswith(sign)), None)
    used = mark[1] if mark else encoding
    content = raw[len(mark[0]) :] if mark else raw
    try:
        text = content.decode(used)
        broken = False
    except UnicodeDecodeError:
        text = content.decode(used, errors="replace")
        broken = True
    data = text.encode("utf-8", errors="replace")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    sign = "\ufffd".encode()
    lines = enumerate(data.split(b"\n"), start=1) if broken else ()
    return RawText(
        data=data,
        bytes=len(raw),
        sha256=hashlib.sha256(raw).hexdigest(),
        encoding=used,
        from_mark=mark is not None,
        undecodable=tuple(number for number, line in lines if sign in line),
    )


def split_line(line: str, delimiter: str) -> list[str] | None:
    """Fields of one line, quotes as in RFC 4180; None where the quotes make no sense.

    A blank as delimiter stands for a run of blanks.
    """
    if delimiter == " ":
        line = re.sub("[ \t]+", " ", line).strip(" ")
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True))
    except csv.Error:
        return None


def find_header(text: RawText, *, layout: FileLayout) -> Header:
    """Find the line that bears the names of the layout's columns.

    Raises
    ------
    RawFileError
        No line bears all declared names, or one name stands twice.
    """
    best: tuple[int, int, int, list[str]] = (0, 0, 0, [])
    wanted = sum(rule.required for rule in layout.columns) or _ENOUGH_TERMS
    offset, first_filled = 0, ""
    for number in range(1, _SEARCHED_LINES + 1):
        end = text.data.find(b"\n", offset)
        if end < 0:
            break
        line = text.data[offset:end].decode("utf-8")
        offset = end + 1
        first_filled = first_filled or line.strip()
        cells = split_line(line, layout.delimiter) or []
        matched = sum(map(bool, _found_names(layout, cells)))
        if matched > best[0]:
            best = (matched, number, offset, cells)
        if matched >= wanted:
            break
    matched, number, start, cells = best
    if not matched:
        raise RawFileError("no header", _no_header(layout, first_filled))
    if not cells[-1].strip():
        cells = cells[:-1]
    _complain_about_names(layout, cells, number)
    columns = {
        quantity: (places[0], rule)
        for quantity, (rule, places) in match_columns(layout, cells).items()
    }
    header = Header(number, tuple(cell.strip() for cell in cells), columns, start, number + 1)
    return _skip_unit_row(text, layout, header) if layout.unit_row else header


def _found_names(layout: FileLayout, cells: list[str]) -> list[bool]:
    """For each column of the layout, whether a header names it."""
    names = {normal_header(cell, any_case=layout.any_case) for cell in cells}
    return [any(name in names for name in rule.names) for rule in layout.columns]


def _no_header(layout: FileLayout, first_line: str) -> str:
    """Sentence for a file in which no column is found."""
    what = "any term of the open Battery Data Format" if layout.any_case else "any declared column"
    return f"no line has {what}; the first line is '{first_line[:120]}'"


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
            f"its headers are {found[:600]}",
            line,
        )
    for quantity, (_, places) in match_columns(layout, cells).items():
        if len(places) > 1:
            names = " and ".join(
                f"'{cells[place].strip()}' (column {place + 1})" for place in places
            )
            raise RawFileError("ambiguous column", f"{quantity} stands in {names}", line)


def _skip_unit_row(text: RawText, layout: FileLayout, header: Header) -> Header:
    """Header with the row of units behind it; a unit that contradicts the layout is refused."""
    offset, number = header.body_start, header.body_line
    while (end := text.data.find(b"\n", offset)) >= 0:
        line = text.data[offset:end].decode("utf-8")
        offset, number = end + 1, number + 1
        if not line.strip():
            continue
        cells = split_line(line, layout.delimiter) or []
        for quantity, (place, rule) in header.columns.items():
            in_file = cells[place] if place < len(cells) else ""
            _compare_unit(quantity, rule.unit, in_file, number - 1)
        return Header(header.line, header.cells, header.columns, offset, number, number - 1)
    return header


def _compare_unit(quantity: str, declared: str, in_file: str, line: int) -> None:
    """Refuse a unit row that states another known unit than the layout."""
    shown = normal_unit(in_file)
    if not declared or known_unit(shown) is None or shown == normal_unit(declared):
        return
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
