"""A column: name, unit, type, meaning and the address of the function that computes it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

ColumnType = Literal["text", "int", "float"]


class Sense(StrEnum):
    """What stored values stand for, where their type does not say it."""

    PLAIN = "as stored"
    TRUTH = "1 for true, 0 for false"
    YES_OR_NO = "yes or no"
    UNIX_TIME = "seconds since 1970-01-01 UTC"
    ISO_DATE = "date, ISO 8601, in the campaign's zone"


@dataclass(frozen=True)
class Column:
    """One quantity of one table.

    Attributes
    ----------
    name : str
        Name in the table, with its unit as suffix where it has one.
    unit : str
        Unit in UCUM spelling; empty for text, `1` for pure numbers and counts.
    type : ColumnType
        `text`, `int` or `float`.
    meaning : str
        What it is, in one sentence.
    computed_by : str
        Address `package.module:function` of the code that gives the value.
    required : bool
        Whether every row has a value; otherwise a missing value is null.
    sense : Sense
        What its values stand for.
    only_where : tuple of str, or None
        Column and value of the rows in which the sense holds; None: in all.
    """

    name: str
    unit: str
    type: ColumnType
    meaning: str
    computed_by: str
    required: bool = False
    sense: Sense = Sense.PLAIN
    only_where: tuple[str, str] | None = None


@dataclass(frozen=True)
class Table:
    """A table of the campaign: what one row is, its columns and its key.

    Attributes
    ----------
    name : str
        File name without ending.
    row : str
        What one row is.
    columns : tuple of Column
        Exactly the columns, in order.
    key : tuple of str
        Columns that order the rows, together unique where `unique` is set; empty where the rows
        stay in the order of the raw file.
    unique : bool
        Whether two rows may not share a key.
    open_ended : bool
        Whether text columns of the user's build sheet follow the listed ones.
    archived : bool
        Whether the table stands among the results under `tables/`.
    points : bool
        Whether its rows are points of curves, too many to go along with the printed report.
    """

    name: str
    row: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    unique: bool = True
    open_ended: bool = False
    archived: bool = True
    points: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the listed columns, in order."""
        return tuple(column.name for column in self.columns)


def text(name: str, meaning: str, computed_by: str, *, required: bool = False) -> Column:
    """Give a column of text."""
    return Column(name, "", "text", meaning, computed_by, required)


def count(name: str, meaning: str, computed_by: str, *, required: bool = False) -> Column:
    """Give a column of whole numbers."""
    return Column(name, "1", "int", meaning, computed_by, required)


def number(
    name: str, unit: str, meaning: str, computed_by: str, *, required: bool = False
) -> Column:
    """Give a column of real numbers in a unit."""
    return Column(name, unit, "float", meaning, computed_by, required)


def truth(name: str, meaning: str, computed_by: str, *, required: bool = False) -> Column:
    """Give a column of 1 for true and 0 for false."""
    return Column(name, "1", "int", meaning, computed_by, required, Sense.TRUTH)


def yes_or_no(name: str, meaning: str, computed_by: str, *, required: bool = False) -> Column:
    """Give a column of the words yes and no."""
    return Column(name, "", "text", meaning, computed_by, required, Sense.YES_OR_NO)


def unix_time(
    name: str,
    meaning: str,
    computed_by: str,
    *,
    required: bool = False,
    only_where: tuple[str, str] | None = None,
) -> Column:
    """Give a column of times in seconds since 1970-01-01 UTC."""
    sense = Sense.UNIX_TIME
    return Column(name, "s", "float", meaning, computed_by, required, sense, only_where)


def iso_date(name: str, meaning: str, computed_by: str, *, required: bool = False) -> Column:
    """Give a column of dates as text."""
    return Column(name, "", "text", meaning, computed_by, required, Sense.ISO_DATE)
