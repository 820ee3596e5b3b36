"""Dates and numbers as people write them, brought into one form, or asked about.

The order of day and month is never guessed: a column proves it by a day above 12, or the settings
declare it. The same holds for a comma that may part thousands or be the decimal sign.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from trivet.campaign.manual_table import PeopleTable
from trivet.errors import Problem

_DATE = re.compile(
    r"([0-9]{1,2})([./-])([0-9]{1,2})\2([0-9]{4})"
    r"(?:(?:, ?| |T)([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?( ?[AaPp][Mm])?)?"
)
_SHORT_YEAR = re.compile(r"[0-9]{1,2}([./-])[0-9]{1,2}\1[0-9]{2}(?:[ ,T].*)?")
_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+(?:[eE][+-]?[0-9]+)?")
_DOUBTFUL = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
_POINT = re.compile(r"[+-]?[0-9]*\.[0-9]+(?:[eE][+-]?[0-9]+)?")
_ORDERS = {"day first": (1, 3), "month first": (3, 1)}
"""Places of day and month in a date, by what the settings call the order."""


@dataclass(frozen=True)
class Forms:
    """How a table that people keep is written.

    Attributes
    ----------
    block : str
        Block of the settings that declares it, for the message.
    is_time, is_number : callable
        Whether a column, by its name, holds times, and numbers.
    dates : str
        `day first`, `month first`; empty: each column must prove it.
    decimal : str
        Decimal sign; empty: taken only where it can mean nothing else.
    """

    block: str
    is_time: Callable[[str], bool]
    is_number: Callable[[str], bool]
    dates: str = ""
    decimal: str = ""


def in_one_form(
    table: PeopleTable, forms: Forms
) -> tuple[PeopleTable, list[Problem], frozenset[str]]:
    """Give a table with its times in ISO 8601 and its numbers with a decimal point.

    Parameters
    ----------
    table : PeopleTable
        As written.
    forms : Forms
        Which columns hold what, and what the settings declare.

    Returns
    -------
    table : PeopleTable
        What is neither date nor number stands as it was; columns in doubt are blank.
    problems : list of Problem
        One for each column whose order of day and month, or decimal sign, nothing proves.
    doubtful : frozenset of str
        These columns.
    """
    rows = [(line, dict(row)) for line, row in table.rows]
    problems, doubtful = [], set()
    for column in table.header:
        found: list[Problem] = []
        if forms.is_time(column):
            found = _dates(table.name, column, rows, forms)
        elif forms.is_number(column):
            found = _numbers(table.name, column, rows, forms)
        if found:
            problems += found
            doubtful.add(column)
    blank = dict.fromkeys(doubtful, "")
    whole = tuple((line, row | blank) for line, row in rows)
    return replace(table, rows=whole), problems, frozenset(doubtful)


Rows = Sequence[tuple[int, dict[str, str]]]


def _dates(name: str, column: str, rows: Rows, forms: Forms) -> list[Problem]:
    """Bring the dates of a column into ISO 8601, in place."""
    short = [(line, row) for line, row in rows if _SHORT_YEAR.fullmatch(row[column])]
    if short:
        line, row = short[0]
        message = f"{_what(column, row)} is '{row[column]}', a year of two digits."
        return [Problem(name, message, line, "Write the year with four digits.")]
    found = [(line, row, match) for line, row in rows if (match := _DATE.fullmatch(row[column]))]
    if not found:
        return []
    order, problem = _order(name, column, found, forms)
    if problem is not None:
        return [problem]
    day, month = _ORDERS[order]
    for _, row, match in found:
        moment = _moment(match, day, month)
        if moment is not None:
            row[column] = moment.isoformat()
    return []


Found = Sequence[tuple[int, dict[str, str], re.Match[str]]]


def _order(name: str, column: str, found: Found, forms: Forms) -> tuple[str, Problem | None]:
    """Order of day and month that the settings declare or a day above 12 proves."""
    if forms.dates:
        return forms.dates, None
    proofs = {order: [(line, row) for line, row, match in found if int(match[day]) > 12]
              for order, (day, _) in _ORDERS.items()}  # fmt: skip
    proved = [order for order, whose in proofs.items() if whose]
    if len(proved) == 1:
        return proved[0], None
    declare = f"Declare '{forms.block}.dates' as 'day first' or 'month first'."
    if proved:
        (line, row), (other, _) = (proofs[order][0] for order in _ORDERS)
        message = (
            f"{_what(column, row)} is '{row[column]}', with the day first, but line {other} has "
            "it second."
        )
        return "", Problem(name, message, line, "Write all dates of a column alike.")
    unlike = [one for one in found if int(one[2][1]) != int(one[2][3])]
    line, row, match = (unlike or found)[0]
    either = " or ".join(_said(match, order) for order in _ORDERS)
    message = f"{_what(column, row)} is '{row[column]}': is it {either}? No day above 12 tells."
    return "", Problem(name, message, line, declare)


def _said(match: re.Match[str], order: str) -> str:
    """A date with its month as a word, read in an order."""
    moment = _moment(match, *_ORDERS[order])
    return "no date" if moment is None else f"{moment.day} {moment:%B}"


def _moment(match: re.Match[str], day: int, month: int) -> datetime | None:
    """The moment that a date means; None where the calendar does not have it."""
    hour, minute, second = (int(match[place] or 0) for place in (5, 6, 7))
    half = (match[8] or "").strip().casefold()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    try:
        return datetime(int(match[4]), int(match[month]), int(match[day]), hour, minute, second)
    except ValueError:
        # The check of the value says so, with its line.
        return None


def _numbers(name: str, column: str, rows: Rows, forms: Forms) -> list[Problem]:
    """Bring the numbers of a column to a decimal point, in place."""
    unit = _unit_behind(column)
    for _, row in rows:
        bare = unit.fullmatch(row[column]) if unit else None
        row[column] = bare[1] if bare else row[column]
    doubtful = []
    comma = forms.decimal == "," or (not forms.decimal and _commas_prove(column, rows))
    for line, row in rows:
        value = row[column]
        if not _COMMA.fullmatch(value) or forms.decimal == ".":
            continue
        if comma or not _DOUBTFUL.fullmatch(value):
            row[column] = value.replace(",", ".")
        else:
            doubtful.append((line, row))
    if not doubtful:
        return []
    line, row = doubtful[0]
    value = row[column]
    message = (
        f"{_what(column, row)} is '{value}': is it {value.replace(',', '.')} or "
        f"{value.replace(',', '')}?"
    )
    hint = f"Declare '{forms.block}.decimal' as ',' or '.', or write it without a comma."
    return [Problem(name, message, line, hint)]


def _unit_behind(column: str) -> re.Pattern[str] | None:
    """Pattern of a number with its unit behind it, where the column's name ends in that unit."""
    unit = column.rpartition("_")[2]
    spelt = f"{unit}|{unit.replace('u', '[µμ]', 1)}" if unit in ("um", "uL") else unit
    return re.compile(rf"([+-]?[0-9][0-9.,eE+-]*) ?(?:{spelt})") if unit else None


def _commas_prove(column: str, rows: Rows) -> bool:
    """Whether a number of the column has a comma that parts no thousands, and none a point."""
    values = [row[column] for _, row in rows]
    sure = any(_COMMA.fullmatch(one) and not _DOUBTFUL.fullmatch(one) for one in values)
    return sure and not any(_POINT.fullmatch(one) for one in values)


def _what(column: str, row: dict[str, str]) -> str:
    """Which value is meant."""
    cell = row.get("cell", "")
    return f"'{column}' of cell '{cell}'" if cell else f"'{column}'"
