"""A table as it is printed: headings, rows of text, where it comes from, why it is empty."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from trivet.report.frame.column_widths import ColumnTexts, column_widths
from trivet.report.frame.data import Row
from trivet.report.frame.wording import count, shown

MOST_ROWS_ON_PAPER = 120
"""Tables of more rows are not for reading on paper."""
FIRST_ROWS_ON_PAPER = 30
"""Rows of such a table that paper shows."""
MOST_ROWS_ON_A_PAGE = 5_000
"""Rows of a table that the web page holds."""
MOST_CELLS_NAMED = 12
"""Cells that a line about several of them names."""

_ROWS_KEPT_TOGETHER = 14


class Names(Enum):
    """What the text of a column is the name of, so that a page can lead there."""

    NOTHING = "nothing"
    CELL = "cell"
    TABLE = "table"


@dataclass(frozen=True, slots=True)
class Subject:
    """What a row is about.

    Attributes
    ----------
    cells : tuple of str
        Its cells; empty where it is about groups.
    groups : tuple of str
        Its groups, where it names no cell; the control it is compared with among them.
    factor : str or None
        Factor of these groups; None where it is the primary one.
    """

    cells: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    factor: str | None = None


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
    names : Names
        What its text is the name of.
    """

    heading: str
    value: Callable[[Row], str]
    numeric: bool = False
    names: Names = Names.NOTHING


@dataclass(frozen=True, slots=True)
class PrintedCell:
    """One cell of a printed table."""

    text: str
    numeric: bool
    names: Names = Names.NOTHING


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
    all_rows : int
        Rows that there are, of which `rows` may be the first only.
    reason : str
        Printed instead where there are no rows.
    style : str
        `plain` or `small`.
    widths : tuple of str
        Share of the type area that each column takes, in percent.
    subjects : tuple of Subject
        What each row is about.
    sources : tuple of str
        Tables of the archive that its numbers stand in.
    home : bool
        Whether its rows are where the cells are described, so that names of cells lead there
        where cells have no pages.
    """

    caption: str
    headings: tuple[PrintedCell, ...]
    rows: tuple[tuple[PrintedCell, ...], ...]
    all_rows: int = 0
    reason: str = ""
    style: str = "plain"
    widths: tuple[str, ...] = ()
    subjects: tuple[Subject, ...] = ()
    sources: tuple[str, ...] = ()
    home: bool = False

    @property
    def whole(self) -> bool:
        """Whether it is short enough to stand on one page."""
        return len(self.rows) <= _ROWS_KEPT_TOGETHER

    @property
    def on_paper(self) -> tuple[tuple[PrintedCell, ...], ...]:
        """Rows that are for reading on paper."""
        return self.rows if self.all_rows <= MOST_ROWS_ON_PAPER else self.rows[:FIRST_ROWS_ON_PAPER]

    def cut(self, rows: int) -> str:
        """Sentence before the caption where only the first `rows` rows are shown; else empty."""
        if rows >= self.all_rows:
            return ""
        return (
            f"The first {count(rows)} of {count(self.all_rows)} rows; all of them stand in the "
            "tables of the archive. "
        )


def words(heading: str, name: str) -> PrintedColumn:
    """Column of text from a column of a table."""
    names = {"cell": Names.CELL, "table": Names.TABLE}.get(name, Names.NOTHING)
    return PrintedColumn(heading, lambda row: shown(row[name]), names=names)


def figure(heading: str, name: str, write: Callable[[Any], str]) -> PrintedColumn:
    """Column of numbers from a column of a table, written by a function of `wording`."""
    return PrintedColumn(heading, lambda row: write(row[name]), numeric=True)


def made(
    heading: str,
    value: Callable[[Row], str],
    *,
    numeric: bool = False,
    names: Names = Names.NOTHING,
) -> PrintedColumn:
    """Column whose text is put together from several columns."""
    return PrintedColumn(heading, value, numeric, names)


def print_table(
    rows: Sequence[Row],
    columns: Sequence[PrintedColumn],
    *,
    caption: str,
    reason: str,
    small: bool = False,
    sources: Sequence[str] = (),
    home: bool = False,
) -> PrintedTable:
    """Turn rows into text; of a very long table the first rows, which its caption will say.

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
    sources : sequence of str
        Tables of the archive that the numbers stand in.
    home : bool
        Whether the rows are where the cells are described.
    """
    printed = tuple(
        tuple(PrintedCell(column.value(row), column.numeric, column.names) for column in columns)
        for row in rows[:MOST_ROWS_ON_A_PAGE]
    )
    headings = tuple(PrintedCell(column.heading, column.numeric) for column in columns)
    style = "small" if small else "plain"
    return PrintedTable(
        caption=caption,
        headings=headings,
        rows=printed,
        all_rows=len(rows),
        reason=reason,
        style=style,
        widths=column_widths(_texts(headings, printed), style=style),
        subjects=tuple(_subject(row) for row in rows[:MOST_ROWS_ON_A_PAGE]),
        sources=tuple(sources),
        home=home,
    )


def _texts(
    headings: Sequence[PrintedCell], rows: Sequence[Sequence[PrintedCell]]
) -> list[ColumnTexts]:
    """What stands in each column."""
    return [
        ColumnTexts(heading.text, [row[place].text for row in rows], heading.numeric)
        for place, heading in enumerate(headings)
    ]


def _subject(row: Row) -> Subject:
    """Take what a row is about from its columns `cells` or `cell`, else `group` and `control`."""
    cells = row.get("cells")
    if isinstance(cells, list):  # elsewhere a count
        return Subject(cells=tuple(cells))
    if row.get("cell"):
        return Subject(cells=(row["cell"],))
    groups = tuple(row[name] for name in ("group", "control") if row.get(name))
    return Subject(groups=groups, factor=row.get("factor"))
