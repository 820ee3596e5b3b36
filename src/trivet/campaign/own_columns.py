"""Columns of a table that people keep, in the names used here: renamed, joined, below a title.

A date and a time of day in two columns are one time here, so that `columns` may name both.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from trivet.errors import Problem, if_near

Own = Mapping[str, str | list[str]]
_SEARCHED_ROWS = 50
_DATE_ALONE = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]00:00(:00)?")
"""A date as a workbook gives it, with a time of day that nobody wrote."""


def plain(name: str) -> str:
    """Name of a column with single blanks."""
    return " ".join(name.split())


def names_of(own: Own, column: str) -> list[str]:
    """Names in the file of a column that is used here."""
    given = own.get(column, column)
    return [given] if isinstance(given, str) else given


def header_row(rows: Sequence[Sequence[str]], wanted: Sequence[str]) -> int | None:
    """Place of the row that has all wanted names; None without such a row.

    Parameters
    ----------
    rows : sequence of sequence of str
        First rows of the table.
    wanted : sequence of str
        Names of columns in the file.
    """
    for at, row in enumerate(rows[:_SEARCHED_ROWS]):
        if {plain(name) for name in wanted} <= {plain(cell) for cell in row}:
            return at
    return None


def likely_header(rows: Sequence[Sequence[str]]) -> int:
    """Place of the first row that is filled as far as most: names stand there, not a title.

    The first row where all that are searched are blank.
    """
    filled = [sum(bool(cell) for cell in row) for row in rows[:_SEARCHED_ROWS]]
    return next((at for at, number in enumerate(filled) if 2 * number > max(filled)), 0)


def in_our_names(
    name: str, line: int, header: Sequence[str], own: Own, block: str
) -> tuple[list[str], list[list[int]], list[Problem]]:
    """Header in the names used here, the places that each is joined from, and names not there.

    Parameters
    ----------
    name : str
        Name of the file.
    line : int
        Line of the header.
    header : sequence of str
        Names in the file.
    own : mapping of str to str or list of str
        Names in the file by the names used here.
    block : str
        Block of the settings that gives them.
    """
    theirs = [plain(column) for column in header]
    problems, joined = [], dict[str, list[int]]()
    for ours in own:
        wanted = [plain(one) for one in names_of(own, ours)]
        for one in wanted:
            if one not in theirs:
                message = (
                    f"column '{one}', which '{block}.columns' names for '{ours}', is missing; "
                    f"found: {', '.join(theirs)}."
                )
                problems.append(Problem(name, message, line, if_near(one, theirs)))
        joined[ours] = [theirs.index(one) for one in wanted if one in theirs]
    taken = {place for places in joined.values() for place in places}
    names, places = [], []
    for place, column in enumerate(theirs):
        # in the order of the file: a column of ours stands where the first of its own stands
        for ours, own_places in joined.items():
            if own_places[:1] == [place]:
                names.append(ours)
                places.append(own_places)
        if place not in taken:
            names.append(column)
            places.append([place])
    return names, places, problems


def joined_value(cells: Sequence[str], places: Sequence[int]) -> str:
    """Value from one column, or a date and a time of day from two; empty where one is missing."""
    values = [cells[place] for place in places]
    if len(values) == 1:
        return values[0]
    if not all(values):
        return ""
    date = _DATE_ALONE.fullmatch(values[0])
    return " ".join([date[1] if date else values[0], *values[1:]])
