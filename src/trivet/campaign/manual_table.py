"""Small tables that people keep: build sheet and bench log, as delimited text with a header."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from trivet.campaign.typed_values import open_quote, text_problems, time_s
from trivet.errors import Problem, near_name
from trivet.store.regular_file import read_file_bytes

MOST_BYTES = 50_000_000
"""Largest table that people keep [B]."""
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
    path: Path, required: Sequence[str], known: Sequence[str] = ()
) -> tuple[PeopleTable | None, list[Problem]]:
    """Read a table kept by people; lines that start with # are comments.

    Parameters
    ----------
    path : Path
        The file.
    required : sequence of str
        Columns that must be there.
    known : sequence of str
        Columns that may be there, to propose near names; empty allows any.

    Returns
    -------
    table : PeopleTable or None
        None where the file or its header can't be used.
    problems : list of Problem
        Everything wrong with the form of the table.
    """
    name = path.name
    try:
        text = read_file_bytes(path, most=MOST_BYTES).decode("utf-8-sig")
    except OSError as error:
        return None, [Problem(name, f"can't be read: {error.strerror}.")]
    except UnicodeDecodeError as error:
        return None, [
            Problem(
                name, f"is not UTF-8 text (byte {error.start}).", hint="Save it as 'CSV UTF-8'."
            )
        ]
    lines = _LINE_END.split(text)
    start = next((i for i, line in enumerate(lines) if line.strip() and line[0] != "#"), None)
    if start is None:
        return None, [Problem(name, "has no header row.")]
    delimiter = max(",;\t", key=lines[start].count)
    rows, problems = _rows(name, text, lines, delimiter)
    if problems:
        return None, problems
    header_line, header = rows[0]
    problems = _header_problems(name, header_line, header, required, known)
    if any(f"'{column}'" in p.message for p in problems for column in required):
        return None, problems
    table_rows = []
    for line, cells in rows[1:]:
        if len(cells) != len(header):
            problems.append(
                Problem(name, f"has {len(cells)} values where the header has {len(header)}.", line)
            )
            continue
        row = dict(zip(header, cells, strict=True))
        problems += text_problems(name, line, row)
        table_rows.append((line, row))
    return PeopleTable(name, tuple(header), tuple(table_rows)), problems


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
    name: str, line: int, header: list[str], required: Sequence[str], known: Sequence[str]
) -> list[Problem]:
    """Columns missing, unknown, unnamed or given twice."""
    problems = []
    for column in required:
        if column not in header:
            message = f"column '{column}' is missing; found: {', '.join(header)}."
            problems.append(Problem(name, message, line, _if_near(column, header)))
    for position, column in enumerate(header):
        if not column:
            problems.append(Problem(name, f"column {position + 1} has no name.", line))
        elif header.index(column) != position:
            problems.append(Problem(name, f"column '{column}' is given twice.", line))
        elif known and column not in known:
            hint = near_name(column, known)
            problems.append(Problem(name, f"unknown column '{column}'.", line, hint))
    return problems


def _if_near(word: str, names: Sequence[str]) -> str:
    """Proposal where a near name exists, nothing otherwise."""
    proposal = near_name(word, [name for name in names if name])
    return proposal if proposal.startswith("Did you mean") else ""


def unix_time_s(text: str, zone: ZoneInfo) -> float | None:
    """Unix time of a local date and time, see `trivet.campaign.typed_values.time_s` [s]."""
    return time_s(text, zone)
