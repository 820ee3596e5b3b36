"""An earlier campaign from a table of lives that also says the group and batch of each cell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from trivet.campaign.lives_file import LIFE_COLUMNS, LIFE_COLUMNS_NEEDED, lives_in
from trivet.campaign.manual_table import PeopleTable, read_people_table
from trivet.campaign.table_lives import TableLife
from trivet.errors import Problem, near_name

GROUP = "group"


@dataclass(frozen=True)
class BuiltCell:
    """One cell of an earlier campaign.

    Attributes
    ----------
    cell, batch : str
        Its id, and the batch it was built in.
    values : dict of str to str
        Its variant by factor; factors that the campaign does not have are left out.
    line : int or None
        Line in the table, where it stands in one that people wrote.
    """

    cell: str
    batch: str
    values: dict[str, str]
    line: int | None = None


def read_table_of_lives(
    folder: Path, *, file: str, factors: Sequence[str]
) -> tuple[tuple[BuiltCell, ...], tuple[TableLife, ...], list[Problem]]:
    """Read cells and lives of an earlier campaign.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    file : str
        The table, below it.
    factors : sequence of str
        Factors that are compared, the primary one first.

    Returns
    -------
    cells : tuple of BuiltCell
        Each cell once.
    lives : tuple of TableLife
        Its lives.
    problems : list of Problem
        Everything wrong with the table.
    """
    known = (*LIFE_COLUMNS, "batch", GROUP, *factors)
    table, problems = read_people_table(folder / file, (*LIFE_COLUMNS_NEEDED, "batch"), known)
    if table is None:
        return (), (), problems
    problems += _without_group(table, factors[0])
    if problems:
        return (), (), problems
    names = list(dict.fromkeys(row["cell"] for _, row in table.rows))
    cells, unlike = _cells(table, factors)
    lives, problems = lives_in(table, cells=names)
    return cells, lives, [*problems, *unlike]


def _without_group(table: PeopleTable, primary: str) -> Iterator[Problem]:
    """A table without the group of a cell, or with two columns for it."""
    given = [name for name in (primary, GROUP) if name in table.header]
    if not given:
        hint = near_name(primary, table.header)
        message = f"has no column '{primary}' (or '{GROUP}') with the group of each cell."
        yield Problem(table.name, message, hint=hint)
    if len(given) > 1 and primary != GROUP:
        yield Problem(table.name, f"has '{primary}' and '{GROUP}'; leave out one of the two.")


def _cells(
    table: PeopleTable, factors: Sequence[str]
) -> tuple[tuple[BuiltCell, ...], list[Problem]]:
    """Cells of the table; rows of one cell must say the same of it."""
    column = {name: name for name in factors if name in table.header}
    column.setdefault(factors[0], GROUP)
    cells: dict[str, BuiltCell] = {}
    problems = []
    for line, row in table.rows:
        values = {factor: row[own] for factor, own in column.items()}
        built = BuiltCell(row["cell"], row["batch"], values, line)
        empty = [
            name
            for name, value in (
                ("cell", built.cell),
                ("batch", built.batch),
                (column[factors[0]], values[factors[0]]),
            )
            if not value
        ]
        if empty:
            problems.append(Problem(table.name, f"has no {' and no '.join(empty)}.", line))
        first = cells.setdefault(built.cell, built)
        if (first.batch, first.values) != (built.batch, built.values):
            message = f"cell '{built.cell}' has another batch or group than on line {first.line}."
            problems.append(Problem(table.name, message, line))
    return tuple(cells.values()), problems
