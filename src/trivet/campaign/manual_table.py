"""Small tables that people keep: build sheet and bench log, as delimited text or a workbook."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from trivet.campaign.own_columns import (
    Own,
    header_row,
    in_our_names,
    joined_value,
    likely_header,
    names_of,
)
from trivet.campaign.typed_values import open_quote, text_problems, time_s
from trivet.errors import Problem, if_near, near_name
from trivet.rawfiles.reading.spreadsheet import is_workbook, workbook_rows
from trivet.rawfiles.text.text_file import RawFileError
from trivet.store.regular_file import read_regular

_SAMPLE_LINES = 20
_LINE_END = re.compile(r"\r\n|\r|\n")
"""Ends of lines as tables have them; other separators of text are none."""


@dataclass(frozen=True)
class PeopleTable:
    """A table as people wrote it.

    Attributes
    ----------
    name : str
        The file as the user would name it.
    header : tuple of str
        Column names.
    rows : tuple of (int, dict of str to str)
        Line of each row in the file and its values by column, trimmed.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]


def read_people_table(
    path: Path,
    required: Sequence[str],
    known: Sequence[str] = (),
    *,
    names: Own | None = None,
    block: str = "",
    short_rows: bool = False,
) -> tuple[PeopleTable | None, list[Problem]]:
    """Read a table kept by people, as delimited text or a workbook.

    Rows that start with # are comments.

    Parameters
    ----------
    path : Path
        The file.
    required : sequence of str
        Columns that must be there.
    known : sequence of str
        Columns that may be there, to propose near names; empty allows any.
    names : mapping of str to str or list of str, or None
        Own names of columns in the file, by the names used here; of several the values are joined.
    block : str
        Block of the settings that gives these names, for the message.
    short_rows : bool
        Whether a row may end early: what is missing at its end is empty.

    Returns
    -------
    table : PeopleTable or None
        None where the file or its header can't be used. Its columns have the names used here.
    problems : list of Problem
        Everything wrong with the form of the table.
    """
    own = dict(names or {})
    wanted = [one for column in required for one in names_of(own, column)]
    name, rows, problems = _workbook(path, wanted) if is_workbook(path) else text_rows(path)
    if problems:
        return None, problems
    rows = _without_blank_edge(rows[_start([cells for _, cells in rows], wanted) :])
    header_line, theirs = rows[0]
    header, places, problems = in_our_names(name, header_line, theirs, own, block)
    extra = bool(own)  # who keeps a table of his own may keep more in it
    problems += _header_problems(name, header_line, header, required, known, extra=extra)
    if any(f"'{column}'" in p.message for p in problems for column in required):
        return None, problems
    table_rows = []
    for line, given in rows[1:]:
        missing = len(theirs) - len(given) if short_rows else 0
        cells = given + [""] * missing
        if len(cells) != len(theirs):
            problems.append(
                Problem(name, f"has {len(cells)} values where the header has {len(theirs)}.", line)
            )
            continue
        row = {column: joined_value(cells, own_places)
               for column, own_places in zip(header, places, strict=True)}  # fmt: skip
        problems += text_problems(name, line, row)
        table_rows.append((line, row))
    return PeopleTable(name, tuple(header), tuple(table_rows)), problems


Rows = list[tuple[int, list[str]]]


def text_rows(path: Path) -> tuple[str, Rows, list[Problem]]:
    """Name and rows of delimited text, or what is wrong with it.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    name : str
        The file as the user would name it.
    rows : list of (int, list of str)
        Rows that say something, each with its line; comments left out, values trimmed.
    problems : list of Problem
        Why it can't be read.
    """
    name = path.name
    try:
        text = read_regular(path).decode("utf-8-sig")
    except OSError as error:
        return name, [], [Problem(name, f"can't be read: {error.strerror}.")]
    except UnicodeDecodeError as error:
        message = f"is not UTF-8 text (byte {error.start})."
        return name, [], [Problem(name, message, hint="Save it as 'CSV UTF-8'.")]
    lines = _LINE_END.split(text)
    start = next((i for i, line in enumerate(lines) if line.strip() and line[0] != "#"), None)
    if start is None:
        return name, [], [Problem(name, "has no header row.")]
    delimiter = _delimiter(lines[start:])
    return name, *_rows(name, text, lines, delimiter)


def _delimiter(lines: Sequence[str]) -> str:
    """What parts the values: by the first line, or below a title by the lines that follow."""
    sample = next((line for line in lines[:_SAMPLE_LINES] if any(map(line.count, ",;\t"))), "")
    return max(",;\t", key=sample.count)


def _workbook(path: Path, wanted: Sequence[str]) -> tuple[str, Rows, list[Problem]]:
    """Name and rows of the one sheet of a workbook that has the required columns."""
    name = path.name
    try:
        sheets = workbook_rows(path)
    except OSError as error:
        return name, [], [Problem(name, f"can't be read: {error.strerror}.")]
    except RawFileError as fault:
        return name, [], [Problem(name, f"{fault.message}.")]
    fitting = [title for title, rows in sheets.items() if header_row(rows, wanted) is not None]
    if len(fitting) > 1:
        message = f"has several sheets with the columns {', '.join(wanted)}: {', '.join(fitting)}."
        return name, [], [Problem(name, message, hint="Keep one of them in this file.")]
    filled = [title for title, rows in sheets.items() if any(any(row) for row in rows)]
    if not filled:
        return name, [], [Problem(name, "has no header row.")]
    title = (fitting or filled)[0]
    rows = [
        (line, [cell.strip() for cell in row])
        for line, row in enumerate(sheets[title], start=1)
        if any(row) and not row[0].startswith("#")
    ]
    name = f"{name} (sheet '{title}')"
    return name, rows, [] if rows else [Problem(name, "has no header row.")]


def _start(rows: Sequence[Sequence[str]], wanted: Sequence[str]) -> int:
    """Place of the row of names: the one with all that is wanted, else the likely one."""
    found = header_row(rows, wanted)
    return likely_header(rows) if found is None else found


def _without_blank_edge(rows: Rows) -> Rows:
    """Rows as wide as the last column that has a name or a value; shorter ones of workbooks filled.

    Spreadsheets write empty columns behind the table, and leave out empty values at its end.
    """
    width = max(
        (place + 1 for _, cells in rows for place, cell in enumerate(cells) if cell), default=0
    )
    return [(line, cells[:width]) for line, cells in rows]


def _rows(
    name: str, text: str, lines: Sequence[str], delimiter: str
) -> tuple[list[tuple[int, list[str]]], list[Problem]]:
    """Rows that say something, with the line each starts on, values trimmed; and open quotes."""
    columns = max((line.count(delimiter) for line in lines), default=0) + 1
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    problems: list[Problem] = []
    line = 1
    try:
        for cells in reader:
            taken = lines[line - 1 : reader.line_num]
            swallowed = open_quote(name, line, taken, delimiter=delimiter, columns=columns)
            if swallowed is not None:
                problems.append(swallowed)
            trimmed = [cell.strip() for cell in cells]
            if any(trimmed) and not trimmed[0].startswith("#"):
                rows.append((line, trimmed))
            line = reader.line_num + 1
    except csv.Error as error:
        why = f"can't be read from here on ({error}); a quote (\") may be left open."
        problems.append(Problem(name, why, line, "Close the quote."))
    if not rows and not problems:
        problems.append(Problem(name, "has no header row."))
    return rows, problems


def _header_problems(
    name: str,
    line: int,
    header: list[str],
    required: Sequence[str],
    known: Sequence[str],
    *,
    extra: bool,
) -> list[Problem]:
    """Columns missing, unnamed, given twice, or unknown: where others may be, those near a name."""
    problems = []
    for column in required:
        if column not in header:
            message = f"column '{column}' is missing; found: {', '.join(header)}."
            problems.append(Problem(name, message, line, if_near(column, filter(None, header))))
    for position, column in enumerate(header):
        if not column:
            problems.append(Problem(name, f"column {position + 1} has no name.", line))
        elif header.index(column) != position:
            problems.append(Problem(name, f"column '{column}' is given twice.", line))
        elif known and column not in known:
            hint = near_name(column, known)
            if extra and not if_near(column, known):
                continue
            problems.append(Problem(name, f"unknown column '{column}'.", line, hint))
    return problems


def unix_time_s(text: str, zone: ZoneInfo) -> float | None:
    """Unix time of a local date and time, see `trivet.campaign.typed_values.time_s` [s]."""
    return time_s(text, zone)
