"""A table as it is printed: headings, rows of text, where it comes from, why it is empty."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from trivet.report.frame.data import Row
from trivet.report.frame.wording import count, shown

MOST_ROWS_PRINTED = 300
"""Longer tables are not for reading on paper."""

_ROWS_KEPT_TOGETHER = 14
_ROOM_FOR_A_WORD = 1.2  # letters of single words are wider than the mean of a line
_SHORTEST_SHARE, _LONGEST_SHARE, _GAP = 4, 52, 3
_LETTERS_A_LINE = 170
"""Bounds of a column's share, the gap beside it, and a line of small print, in letters."""


@dataclass(frozen=True)
class PrintedColumn:
    """One column of a printed table.

    Attributes
    ----------
    heading : str
        Heading with the unit.
    value : callable
        Gives the text from a row.
    numeric : bool
        Whether it is set flush right.
    """

    heading: str
    value: Callable[[Row], str]
    numeric: bool = False


@dataclass(frozen=True)
class PrintedCell:
    """One cell of a printed table."""

    text: str
    numeric: bool


@dataclass(frozen=True)
class PrintedTable:
    """A table ready for the page.

    Attributes
    ----------
    caption : str
        What it shows and from which table.
    headings : tuple of PrintedCell
        Column headings.
    rows : tuple of tuple of PrintedCell
        Rows of text; the first cell heads its row.
    reason : str
        Printed instead where there are no rows.
    style : str
        `plain` or `small`.
    widths : tuple of str
        Share of the type area that each column takes, in percent.
    """

    caption: str
    headings: tuple[PrintedCell, ...]
    rows: tuple[tuple[PrintedCell, ...], ...]
    reason: str = ""
    style: str = "plain"
    widths: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether it is short enough to stand on one page."""
        return len(self.rows) <= _ROWS_KEPT_TOGETHER


def words(heading: str, name: str) -> PrintedColumn:
    """Column of text from a column of a table."""
    return PrintedColumn(heading, lambda row: shown(row[name]))


def figure(heading: str, name: str, write: Callable[[Any], str]) -> PrintedColumn:
    """Column of numbers from a column of a table, written by a function of `wording`."""
    return PrintedColumn(heading, lambda row: write(row[name]), numeric=True)


def made(heading: str, value: Callable[[Row], str], *, numeric: bool = False) -> PrintedColumn:
    """Column whose text is put together from several columns."""
    return PrintedColumn(heading, value, numeric)


def print_table(
    rows: Sequence[Row],
    columns: Sequence[PrintedColumn],
    *,
    caption: str,
    reason: str,
    small: bool = False,
) -> PrintedTable:
    """Turn rows into text; of a very long table the first rows, and its caption says so.

    Parameters
    ----------
    rows : sequence of dict
        Rows in the order of print.
    columns : sequence of PrintedColumn
        What is printed.
    caption, reason : str
        Caption; and why there is nothing where there are no rows.
    small : bool
        Whether the table is set small.
    """
    printed = tuple(
        tuple(PrintedCell(column.value(row), column.numeric) for column in columns)
        for row in rows[:MOST_ROWS_PRINTED]
    )
    if len(rows) > MOST_ROWS_PRINTED:
        caption = (
            f"The first {count(MOST_ROWS_PRINTED)} of {count(len(rows))} rows; all of them stand "
            f"in the tables of the archive. {caption}"
        )
    headings = tuple(PrintedCell(column.heading, column.numeric) for column in columns)
    return PrintedTable(
        caption=caption,
        headings=headings,
        rows=printed,
        reason=reason,
        style="small" if small else "plain",
        widths=_widths(headings, printed),
    )


def _widths(
    headings: tuple[PrintedCell, ...], rows: tuple[tuple[PrintedCell, ...], ...]
) -> tuple[str, ...]:
    """Share the type area between the columns by the length of what stands in them.

    Numbers and single words never break if it can be helped; sentences give way to them.
    """
    least, wanted = [], []
    for place, heading in enumerate(headings):
        texts = [row[place].text for row in rows]
        longest = min(max((len(text) for text in texts), default=0), _LONGEST_SHARE)
        together = " ".join([heading.text, *texts])
        word = _ROOM_FOR_A_WORD * max((len(word) for word in together.split()), default=0)
        smallest = max(min(word, _LONGEST_SHARE), _SHORTEST_SHARE)
        least.append((max(longest, smallest) if heading.numeric else smallest) + _GAP)
        wanted.append(max(longest, smallest) + _GAP)
    total = sum(wanted)
    room = total - sum(least)
    if total > _LETTERS_A_LINE and room > 0:
        share = max(0.0, (_LETTERS_A_LINE - sum(least)) / room)
        wanted = [low + share * (wish - low) for low, wish in zip(least, wanted, strict=True)]
    return tuple(f"{100 * width / sum(wanted):.2f}%" for width in wanted)
