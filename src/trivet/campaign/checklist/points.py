"""Points of the reporting checklist: what is known of each, or what to write down for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from trivet.campaign.typed_values import number_of

Row = Mapping[str, Any]

NOT_RECORDED = "not recorded"
_LISTED = 4
"""Different values of a column that are listed; of more the range or the number is given."""


@dataclass(frozen=True)
class Point:
    """One thing that a paper must say.

    Attributes
    ----------
    name : str
        What it is.
    answer : str
        What is known; empty where nothing is.
    complete : bool
        Whether it is known for every cell that it concerns.
    write_down : str
        What to write down where it is not.
    """

    name: str
    answer: str
    complete: bool
    write_down: str


def known(name: str, answer: str | None, write_down: str = "") -> Point:
    """Give a point that data or settings answer, or leave open.

    Parameters
    ----------
    name : str
        What it is.
    answer : str or None
        What is known; None or empty where nothing is.
    write_down : str
        What to write down where it is not.
    """
    return Point(name, answer or "", bool(answer), "" if answer else write_down)


def sheet(cells: Sequence[Row], name: str, *columns: str, unit: str = "") -> Point:
    """Give a point that a column of the build sheet answers.

    Parameters
    ----------
    cells : sequence of rows
        Cells of the sheet that count.
    name : str
        What it is.
    *columns : str
        Names of the column, the one to write down first; the first that the sheet has counts.
    unit : str
        Unit of its numbers as printed.
    """
    column = next((name for name in columns if any(name in cell for cell in cells)), None)
    values = [str(cell.get(column) or "") for cell in cells] if column else []
    filled = [value for value in values if value]
    if not filled:
        return Point(name, "", False, columns[0])
    answer = values_in_words(filled, unit)
    if len(filled) < len(values):
        answer += f" ({len(filled)} of {len(values)} cells)"
        return Point(name, answer, False, f"{column} of every cell")
    return Point(name, answer, True, "")


def answers(points: Sequence[Point]) -> str:
    """Put points into one text: what is known of each, then those of which nothing is."""
    said = [f"{point.name}: {point.answer}" for point in points if point.answer]
    open_ = [point.name for point in points if not point.answer]
    return "; ".join([*said, *([f"{NOT_RECORDED}: {', '.join(open_)}"] if open_ else [])])


def values_in_words(values: Sequence[str], unit: str = "") -> str:
    """Few values as they are, many numbers as a range, many words as their number."""
    distinct = list(dict.fromkeys(values))
    ending = f" {unit}" if unit else ""
    if len(distinct) <= _LISTED:
        return ", ".join(distinct) + ending
    numbers = [number for value in distinct if (number := number_of(value)) is not None]
    if len(numbers) < len(distinct):
        return f"{min(distinct)} to {max(distinct)}"
    return f"{min(numbers):g} to {max(numbers):g}{ending}"


def spread(values: Iterable[float | None], unit: str = "", digits: int = 3) -> str:
    """Median and range of numbers with their count; empty where there is none."""
    have = [value for value in values if value is not None]
    if not have:
        return ""
    ending = f" {unit}" if unit else ""
    low, high = (f"{bound:.{digits}g}" for bound in (min(have), max(have)))
    middle = f"{median(have):.{digits}g}"
    if low == high:
        return f"{low}{ending} (n = {len(have)})"
    return f"median {middle}{ending}, {low} to {high} (n = {len(have)})"


def first_by_cell(rows: Iterable[Row], column: str) -> list[float | None]:
    """Value of a column in the first row of each cell."""
    found: dict[str, float | None] = {}
    for row in rows:
        found.setdefault(row["cell"], row[column])
    return list(found.values())


def tally(values: Iterable[Any]) -> str:
    """Count values in the order in which they come."""
    counts: dict[str, int] = {}
    for value in values:
        counts[str(value)] = counts.get(str(value), 0) + 1
    return ", ".join(f"{count} {value}" for value, count in counts.items())
