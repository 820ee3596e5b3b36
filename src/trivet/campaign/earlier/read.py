"""Earlier campaigns as tables of cells and lives, alike wherever they come from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet.campaign.built.weighings import MASS_LOST
from trivet.campaign.earlier.bag import read_bag
from trivet.campaign.earlier.people_table import BuiltCell, read_table_of_lives
from trivet.campaign.near_groups import near
from trivet.campaign.table_lives import TABLE, TableLife
from trivet.errors import InputError, Problem
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.inference import Comparison, Earlier
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import make_table, rows_table


@dataclass(frozen=True)
class EarlierCampaign:
    """One earlier campaign.

    Attributes
    ----------
    name : str
        What the settings call it.
    cells, lifetimes : pyarrow.Table
        As the tables of these names; cells also have a column for each factor they know.
    """

    name: str
    cells: pa.Table
    lifetimes: pa.Table


def earlier_campaigns(folder: Path, comparison: Comparison) -> tuple[EarlierCampaign, ...]:
    """Earlier campaigns that have nothing wrong with them.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    comparison : Comparison
        Settings.

    Raises
    ------
    InputError
        With every problem of their files.
    """
    factors = [factor.factor for factor in comparison.factors]
    read = [_read(folder, one, factors) for one in comparison.earlier]
    problems = [problem for _, _, found in read for problem in found]
    if problems:
        raise InputError(problems)
    return tuple(campaign for campaign, _, _ in read if campaign is not None)


def earlier_problems(
    folder: Path, comparison: Comparison, *, cells: Sequence[CellFacts], as_meant: Sequence[str]
) -> list[Problem]:
    """Everything wrong with earlier campaigns, by themselves and beside this one.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    comparison : Comparison
        Settings.
    cells : sequence of CellFacts
        Cells of this campaign.
    as_meant : sequence of str
        Names of groups that are meant as they are, although each looks like another.
    """
    factors = [factor.factor for factor in comparison.factors]
    groups = {factor: {cell.values.get(factor, "") for cell in cells} - {""} for factor in factors}
    seen = {(facts.cell, facts.batch): "this campaign" for facts in cells}
    problems = []
    for one in comparison.earlier:
        if (one.table is None) == (one.archive is None):
            continue  # which of the two is meant is asked for among the settings
        _, built, found = _read(folder, one, factors)
        source = Path(one.table).name if one.table is not None else str(one.archive)
        problems += [*found, *_near_groups(source, built, groups, as_meant)]
        problems += _twice(source, built, seen)
        seen |= {(cell.cell, cell.batch): f"'{one.name}'" for cell in built}
    return problems


def _near_groups(
    source: str,
    built: Sequence[BuiltCell],
    groups: Mapping[str, set[str]],
    as_meant: Sequence[str],
) -> Iterator[Problem]:
    """Groups that look like one of this campaign and are not: each once, on its first line."""
    asked = set()
    for cell in built:
        for factor, value in cell.values.items():
            own = groups.get(factor, set())
            if not value or value in own or value in as_meant or (factor, value) in asked:
                continue
            usual = next((name for name in sorted(own) if near(name, value)), None)
            if usual is not None:
                asked.add((factor, value))
                message = (
                    f"'{factor}' of cell '{cell.cell}' is '{value}', and '{usual}' in this "
                    "campaign: is it the same?"
                )
                hint = f"Write it alike, or list '{value}' in 'build_sheet.as_meant'."
                yield Problem(source, message, cell.line, hint)


def _twice(
    source: str, built: Sequence[BuiltCell], seen: Mapping[tuple[str, str], str]
) -> Iterator[Problem]:
    """Cells that another campaign has too: each would count twice."""
    both = [cell for cell in built if (cell.cell, cell.batch) in seen]
    if both:
        first = both[0]
        others = f" and {len(both) - 1} more" if len(both) > 1 else ""
        message = (
            f"cell '{first.cell}' of batch '{first.batch}'{others} also stands in "
            f"{seen[first.cell, first.batch]}, and would count twice."
        )
        hint = "Leave it out here; where it is another cell, call its batch otherwise."
        yield Problem(source, message, first.line, hint)


def _read(
    folder: Path, one: Earlier, factors: Sequence[str]
) -> tuple[EarlierCampaign | None, tuple[BuiltCell, ...], list[Problem]]:
    """One earlier campaign, its cells, and what is wrong with it."""
    if one.table is not None:
        built, lives, problems = read_table_of_lives(folder, file=one.table, factors=factors)
        if problems:
            return None, built, problems
        tables = _from_people(built, lives, factors, one.table)
        return EarlierCampaign(one.name, *tables), built, []
    found, problems = read_bag(folder, bag=one.archive or "", factors=factors)
    if problems:
        return None, (), problems
    own = [name for name in factors if name in found["cells"].column_names]
    built = tuple(
        BuiltCell(row["cell"], row["batch"], {name: row[name] or "" for name in own})
        for row in found["cells"].to_pylist()
        if row["included"] == 1
    )
    return EarlierCampaign(one.name, found["cells"], found["lifetimes"]), built, []


def _from_people(
    built: Sequence[BuiltCell], lives: Sequence[TableLife], factors: Sequence[str], file: str
) -> tuple[pa.Table, pa.Table]:
    """Cells and lives of a table that people wrote, as a run would have given them."""
    own = [name for name in factors if built and name in built[0].values]
    columns: dict[str, list[Any]] = {
        "cell": [cell.cell for cell in built],
        "batch": [cell.batch for cell in built],
        "group": [cell.values[factors[0]] for cell in built],
        "included": [1] * len(built),
        "exclusion_reason": [""] * len(built),
        "status": [TABLE] * len(built),
        MASS_LOST: [None] * len(built),
    }
    columns |= {name: [cell.values[name] for cell in built] for name in own}
    of_cell = {cell.cell: cell for cell in built}
    rows = []
    for life in lives:
        cell = of_cell[life.cell]
        rows.append(life.row(group=cell.values[factors[0]], batch=cell.batch, file=file))
    return make_table(TABLES["cells"], columns, own), rows_table(TABLES["lifetimes"], rows)
