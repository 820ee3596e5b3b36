"""What people type: times, numbers and texts that can be meant, told from slips of the hand.

One home of these rules, so that build sheet, bench log and table of lives refuse alike, before any
work, with file, line and value.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Literal
from zoneinfo import ZoneInfo

from trivet.errors import Problem, printable
from trivet.schema.limits import FIRST_YEAR, LAST_YEAR, MOST

Sign = Literal["any", "not negative", "positive"]
"""Which sign a number can have."""
MOST_SIGNS = 4000
"""Longest text of one value; a longer one is a row that went astray."""
LONGEST_SPAN_S = 366.0 * 86400.0
"""Times of one cell's build lie within a year of each other; common practice, no source."""
FARTHEST_S = 3.0 * 366.0 * 86400.0
"""A time lies within three years of the middle of its column; common practice, no source."""


def text_problems(name: str, line: int, row: Mapping[str, str]) -> list[Problem]:
    """Values that no one can have meant: signs that steer a terminal, or without end.

    Parameters
    ----------
    name, line : str, int
        File and line, for the message.
    row : mapping of str to str
        Values by column.
    """
    problems = []
    for column, value in row.items():
        if len(value) > MOST_SIGNS:
            message = f"'{column}' has {len(value)} signs, {MOST_SIGNS} at most."
            hint = f"It begins with '{printable(value[:40])}'; is a quote left open?"
            problems.append(Problem(name, message, line, hint))
            continue
        odd = sorted({sign for sign in value if _steers(sign)})
        if odd:
            codes = ", ".join(f"U+{ord(sign):04X}" for sign in odd[:4])
            message = f"'{column}' holds signs that can't be printed ({codes})."
            problems.append(Problem(name, message, line, "Type the value anew."))
    return problems


def _steers(sign: str) -> bool:
    """Whether a sign is a control character or a separator of lines; a line break may stand."""
    return not sign.isprintable() and sign not in "\t\n\r\u00a0\u202f\u2009\u2002\u2003\u200b\ufeff"


def time_s(text: str, zone: ZoneInfo) -> float | None:
    """Unix time of a local date and time in ISO 8601 [s]; None where it is none that can be meant.

    A time with its own offset keeps it; a time that occurs twice (clocks set back) is the first.
    """
    try:
        moment = datetime.fromisoformat(text)
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            return None
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=zone)
        return moment.timestamp()
    except (ValueError, OverflowError):
        return None


def time_problem(name: str, line: int, what: str, text: str) -> Problem:
    """Say why a text is not a time that can be meant."""
    try:
        year = datetime.fromisoformat(text).year
    except ValueError:
        hint = "Write it as 2026-05-15T18:00."
        return Problem(name, f"{what} is '{printable(text[:60])}', no time.", line, hint)
    message = f"{what} is '{text}': the year {year} can't be of this campaign."
    return Problem(name, message, line, f"Years from {FIRST_YEAR} to {LAST_YEAR} can be.")


def number_of(text: str) -> float | None:
    """Number that a text is, with a point as decimal sign; None where it is none, or not finite."""
    value = _number(text)
    return value if value is not None and math.isfinite(value) else None


def _number(text: str) -> float | None:
    """Number that a text is, also one that is not finite; digits in groups are a slip."""
    try:
        return None if "_" in text else float(text)
    except ValueError:
        return None


def number_problem(name: str, line: int, what: str, text: str, *, sign: Sign) -> Problem | None:
    """Say what is wrong with a number, or nothing.

    Parameters
    ----------
    name, line : str, int
        File and line, for the message.
    what : str
        What the number is of.
    text : str
        The number as typed.
    sign : str
        Which sign it can have: any, not negative, positive.
    """
    value = _number(text)
    if value is None:
        hint = "Use a point as decimal sign, and no unit."
        return Problem(name, f"{what} is '{printable(text[:60])}', no number.", line, hint)
    if not math.isfinite(value):
        hint = "Leave it empty where it is not known."
        return Problem(name, f"{what} is '{text}'.", line, hint)
    if sign == "not negative" and value < 0:
        return Problem(name, f"{what} is {text}; it can't be negative.", line)
    if sign == "positive" and value <= 0:
        hint = "Leave it empty where it is not known."
        return Problem(name, f"{what} is {text}; it must be above 0.", line, hint)
    if abs(value) > MOST:
        return Problem(name, f"{what} is {text}, beyond what a coin cell can have.", line)
    return None


def unlike_times(name: str, rows: Sequence[tuple[int, str, Mapping[str, float]]]) -> list[Problem]:
    """Times that the others of their cell, or of their column, speak against.

    Parameters
    ----------
    name : str
        File, for the message.
    rows : sequence of (int, str, mapping of str to float)
        Line, cell, and its times by column as Unix time [s].

    Returns
    -------
    list of Problem
        One a time: the time of a row farthest from the middle of all times of the sheet where a
        row spans more than a year, and any time years from that middle.
    """
    every = [value for _, _, times in rows for value in times.values()]
    if not every:
        return []
    middle = statistics.median(every)
    problems = []
    for line, cell, times in rows:
        if not times:
            continue
        spans = max(times.values()) - min(times.values()) > LONGEST_SPAN_S
        column = max(times, key=lambda key: abs(times[key] - middle))
        off = times[column]
        if not spans and (len(rows) < 3 or abs(off - middle) <= FARTHEST_S):
            continue
        said = datetime.fromtimestamp(off, UTC).date().isoformat()
        usual = datetime.fromtimestamp(middle, UTC).date().isoformat()
        message = f"'{column}' of cell '{cell}' is {said}; the times of the sheet lie near {usual}."
        problems.append(Problem(name, message, line, "Is the year right?"))
    return problems


def open_quote(
    name: str, first_line: int, lines: Sequence[str], *, delimiter: str, columns: int
) -> Problem | None:
    """Say that a quote swallows whole rows, or nothing.

    A value may hold a line break. It can't hold lines that have the delimiters of a row.

    Parameters
    ----------
    name : str
        File, for the message.
    first_line : int
        Line on which the row begins.
    lines : sequence of str
        The lines that were taken as one row.
    delimiter : str
        Sign between values.
    columns : int
        Values of a row.
    """
    inside = [line for line in lines[1:] if line.count(delimiter) >= max(columns - 1, 1)]
    if not inside:
        return None
    message = (
        f'a quote (") that opens here is not closed on its line, so that '
        f"{len(lines) - 1} more lines would be taken as one value."
    )
    return Problem(
        name, message, first_line, "Close the quote, or write it twice where it is meant."
    )
