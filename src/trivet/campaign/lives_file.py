"""Read a table of lives: an old campaign, or somebody else's, without raw files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from trivet.campaign.manual_table import PeopleTable, read_people_table
from trivet.campaign.table_lives import CLOCK_UNITS, TableLife
from trivet.campaign.typed_values import number_of, number_problem
from trivet.errors import InputError, Problem, near_name

ENDPOINTS = ("cell", "reference")
LIFE_COLUMNS_NEEDED = ("cell", "endpoint", "clock", "observed")
LIFE_COLUMNS = (
    "cell", "endpoint", "clock", "duration", "unit", "observed", "cause", "lower", "upper", "entry",
)  # fmt: skip
_NUMBERS = ("duration", "lower", "upper", "entry")


def read_lifetimes(
    folder: Path, *, file: str, cells: Sequence[str]
) -> tuple[tuple[TableLife, ...], list[Problem]]:
    """Rows of a table of lives, and everything wrong with it.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    file : str
        The table, below it.
    cells : sequence of str
        Ids of the build sheet.

    Returns
    -------
    lives : tuple of TableLife
        The rows that are right, in hours and cycles.
    problems : list of Problem
        What is wrong, with its line.
    """
    table, problems = read_people_table(folder / file, LIFE_COLUMNS_NEEDED, LIFE_COLUMNS)
    if table is None:
        return (), problems
    return lives_in(table, cells=cells, wrong_before=problems)


def lives_in(
    table: PeopleTable, *, cells: Sequence[str], wrong_before: Sequence[Problem] = ()
) -> tuple[tuple[TableLife, ...], list[Problem]]:
    """Lives in the rows of a table, and everything wrong with it.

    Parameters
    ----------
    table : PeopleTable
        Rows with the columns of a table of lives.
    cells : sequence of str
        Ids that the table may have.
    wrong_before : sequence of Problem
        What is known to be wrong with it already.
    """
    problems = list(wrong_before)
    lives = []
    known = set(cells)
    first: dict[tuple[str, str, str], int] = {}
    for line, row in table.rows:
        wrong = _words_wrong(row, known, cells)
        key = (row["cell"], row["endpoint"], row["clock"])
        if key in first:
            what = f"cell '{key[0]}' has its {key[1]} life in {key[2]} twice"
            wrong.append((f"{what}; first on line {first[key]}.", ""))
        first.setdefault(key, line)
        numbers, not_numbers = _numbers(table.name, line, row)
        life = None
        if not wrong and not not_numbers:
            life, wrong = _life(row, numbers, line)
        problems += [Problem(table.name, message, line, hint) for message, hint in wrong]
        problems += not_numbers
        if life is not None:
            lives.append(life)
    if not table.rows:
        problems.append(Problem(table.name, "holds no life."))
    return tuple(lives), problems


def lives_of(folder: Path, *, file: str, cells: Sequence[str]) -> tuple[TableLife, ...]:
    """Rows of a table of lives that has nothing wrong with it.

    Parameters as in `read_lifetimes`.

    Raises
    ------
    InputError
        With every problem of the table.
    """
    lives, problems = read_lifetimes(folder, file=file, cells=cells)
    if problems:
        raise InputError(problems)
    return lives


Wrong = tuple[str, str]
"""What is wrong, and what to do."""


def _words_wrong(row: dict[str, str], known: set[str], cells: Sequence[str]) -> list[Wrong]:
    """What is wrong with the words of a row."""
    wrong = []
    if row["cell"] not in known:
        hint = near_name(row["cell"], cells[:1000])
        wrong.append((f"cell '{row['cell']}' is not in the build sheet.", hint))
    if row["endpoint"] not in ENDPOINTS:
        hint = near_name(row["endpoint"], ENDPOINTS)
        wrong.append((f"'{row['endpoint']}' is no endpoint.", hint))
    if row["observed"] not in ("0", "1"):
        wrong.append(
            (f"'observed' is '{row['observed']}'; it must be 1 (end seen) or 0 (not seen).", "")
        )
    units = CLOCK_UNITS.get(row["clock"])
    if units is None:
        wrong.append((f"'{row['clock']}' is no clock.", near_name(row["clock"], list(CLOCK_UNITS))))
    elif row.get("unit", "") and row["unit"] not in units:
        message = f"unit '{row['unit']}' does not fit the clock {row['clock']}."
        wrong.append((message, f"Known are: {', '.join(units)}."))
    return wrong


def _numbers(
    name: str, line: int, row: dict[str, str]
) -> tuple[dict[str, float | None], list[Problem]]:
    """Numbers of a row as written; None where empty."""
    numbers: dict[str, float | None] = {}
    problems = []
    for column in _NUMBERS:
        text = row.get(column, "")
        wrong = (
            number_problem(name, line, f"'{column}'", text, sign="not negative") if text else None
        )
        numbers[column] = number_of(text) if text and wrong is None else None
        problems += [] if wrong is None else [wrong]
    return numbers, problems


def _life(
    row: dict[str, str], numbers: dict[str, float | None], line: int
) -> tuple[TableLife | None, list[Wrong]]:
    """One row as a life; the first bound known bad stands for a duration that is not given."""
    seen = row["observed"] == "1"
    duration, lower, upper, entry = (numbers[name] for name in _NUMBERS)
    if duration is None:
        duration = upper if seen else lower
    wrong: list[Wrong] = []
    if duration is None:
        wanted = "'duration' or 'upper'" if seen else "'duration' or 'lower'"
        return None, [(f"cell '{row['cell']}' has no {wanted}.", "")]
    if not seen and upper is not None:
        wrong.append(("'upper' is given, but 'observed' is 0: the end was not seen.", ""))
    if lower is not None and lower > duration:
        wrong.append((f"'lower' ({lower:g}) lies above the life ({duration:g}).", ""))
    if seen and upper is not None and upper < duration:
        wrong.append((f"'upper' ({upper:g}) lies below 'duration' ({duration:g}).", ""))
    if entry and entry >= duration:
        wrong.append((f"'entry' ({entry:g}) is not before the life ends ({duration:g}).", ""))
    if wrong:
        return None, wrong
    scale = CLOCK_UNITS[row["clock"]].get(row.get("unit", ""), 1.0)
    # the estimate takes (lower, upper]; with no bounds the time is known
    last_good = lower if lower is not None else (0.0 if seen and upper is not None else duration)
    first_bad = (upper if upper is not None else duration) if seen else None
    return TableLife(
        cell=row["cell"],
        endpoint=row["endpoint"],
        clock=row["clock"],
        duration=duration * scale,
        lower=last_good * scale,
        upper=None if first_bad is None else first_bad * scale,
        entry=entry * scale if entry else None,
        observed=seen,
        cause=row.get("cause", ""),
        line=line,
    ), []
