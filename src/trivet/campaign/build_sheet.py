"""Read the build sheet, join the bench log, and say everything that is wrong with them at once."""

from __future__ import annotations

import re
from pathlib import Path
from zoneinfo import ZoneInfo

from trivet.campaign.bench_log import read_bench_log
from trivet.campaign.manual_table import PeopleTable, read_people_table, unix_time_s
from trivet.campaign.near_groups import near_groups
from trivet.campaign.typed_values import Sign, number_of, number_problem, time_problem, unlike_times
from trivet.campaign.written_forms import Forms, in_one_form
from trivet.errors import InputError, Problem, near_name
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.campaign import BenchLog, BuildSheet

_FORBIDDEN_IN_ID = re.compile(r'[\\/{}<>:"|?*\x00-\x1f]')
_YES = ("yes", "y", "true", "ja", "j", "1", "ok")
_NO = ("no", "n", "false", "nein", "0", "not ok")
_LONGEST_ID = 120
"""Bytes of an id; file systems take 255 for a name, and names of logs add to the id."""
_TIME = re.compile(r"_at$")
_MEASURED = re.compile(r"_(mg|mm|um|uL|cm2|mAh|ohm|fraction)$")


def read_cells(
    folder: Path, *, build_sheet: BuildSheet, bench_log: BenchLog, clock_start: str, time_zone: str
) -> tuple[CellFacts, ...]:
    """Cells as built, each with its entries of the bench log, in the order of the sheet.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    build_sheet, bench_log : BuildSheet, BenchLog
        Settings of both.
    clock_start : str
        Column of the sheet with the time at which a cell's hours start.
    time_zone : str
        IANA name of the zone of times written by people.

    Raises
    ------
    InputError
        With every problem of both files.
    """
    cells, problems = read_build_sheet(
        folder,
        build_sheet=build_sheet,
        bench_log=bench_log,
        clock_start=clock_start,
        time_zone=time_zone,
    )
    if problems:
        raise InputError(problems)
    return cells


def read_build_sheet(
    folder: Path, *, build_sheet: BuildSheet, bench_log: BenchLog, clock_start: str, time_zone: str
) -> tuple[tuple[CellFacts, ...], list[Problem]]:
    """Cells as built with the bench log joined, and every problem of both files.

    Parameters as in `read_cells`. Where problems are found the cells may be incomplete.
    """
    required = ["cell", "batch", *build_sheet.factors, clock_start]
    table, problems = read_people_table(
        folder / build_sheet.file, required, names=build_sheet.columns, block="build_sheet"
    )
    if table is None:
        return (), problems
    table, doubts, _ = in_one_form(table, _forms(build_sheet, clock_start))
    problems += doubts
    zone = ZoneInfo(time_zone)
    cells = []
    for line, row in table.rows:
        if "included" in row:
            row["included"] = _plain_yes(row["included"])
        problems += _row_problems(table.name, line, row, build_sheet.factors, zone)
        cells.append(_facts(row, clock_start, zone))
    problems += _id_problems(table)
    problems += near_groups(table.name, table.rows, build_sheet.factors, build_sheet.as_meant)
    problems += unlike_times(table.name, [_times(line, row, zone) for line, row in table.rows])
    if not table.rows:
        problems.append(Problem(table.name, "lists no cell."))
    log, log_problems = read_bench_log(folder, bench_log, [cell.cell for cell in cells], zone)
    joined = tuple(
        CellFacts(**{**vars(cell), "log": tuple(e for e in log if e.cell == cell.cell)})
        for cell in cells
    )
    return joined, problems + log_problems


def _forms(build_sheet: BuildSheet, clock_start: str) -> Forms:
    """Which columns of the sheet hold times and numbers, and how they are written."""
    return Forms(
        "build_sheet",
        is_time=lambda column: column == clock_start or bool(_TIME.search(column)),
        is_number=lambda column: bool(_MEASURED.search(column)),
        dates=build_sheet.dates,
        decimal=build_sheet.decimal,
    )


def _times(line: int, row: dict[str, str], zone: ZoneInfo) -> tuple[int, str, dict[str, float]]:
    """Line, cell and times of a row, those that can be read."""
    read = {name: unix_time_s(value, zone) for name, value in row.items()
            if value and _TIME.search(name)}  # fmt: skip
    return line, row["cell"], {name: value for name, value in read.items() if value is not None}


def _facts(row: dict[str, str], clock_start: str, zone: ZoneInfo) -> CellFacts:
    """One row of the sheet as facts."""
    started = row.get("cycling_started_at", "")
    return CellFacts(
        cell=row["cell"],
        batch=row["batch"],
        included=row.get("included", "") != "no",
        exclusion_reason=row.get("exclusion_reason", ""),
        clock_start_s=unix_time_s(row[clock_start], zone) if row[clock_start] else None,
        cycling_started_s=unix_time_s(started, zone) if started else None,
        values=dict(row),
        numbers=_numbers(row),
    )


def _numbers(row: dict[str, str]) -> dict[str, float]:
    """What was measured, those that can be read."""
    read = {name: number_of(value) for name, value in row.items() if _MEASURED.search(name)}
    return {name: value for name, value in read.items() if value is not None}


def _row_problems(
    name: str, line: int, row: dict[str, str], factors: list[str], zone: ZoneInfo
) -> list[Problem]:
    """Everything wrong within one row."""
    cell = row["cell"]
    problems = [
        Problem(name, f"cell '{cell}' has no {column}.", line)
        for column in ("batch", *factors)
        if not row[column]
    ]
    if not cell:
        problems.append(Problem(name, "the row has no cell id.", line))
    elif _FORBIDDEN_IN_ID.search(cell) or cell.startswith((".", "-")):
        problems.append(
            Problem(
                name,
                f"cell id '{cell}' can't name a folder.",
                line,
                "Use letters, digits, '.', '_', '-' and no leading '.' or '-'.",
            )
        )
    elif len(cell.encode()) > _LONGEST_ID:
        message = f"cell id '{cell[:20]}...' has {len(cell.encode())} bytes, over {_LONGEST_ID}."
        problems.append(Problem(name, message, line, "Give it a shorter one."))
    included = row.get("included", "")
    if included not in ("", "yes", "no"):
        hint = near_name(included, ["yes", "no"])
        problems.append(
            Problem(
                name,
                f"'included' of cell '{cell}' is '{included}'; it must be yes or no.",
                line,
                hint,
            )
        )
    if included == "no" and not row.get("exclusion_reason"):
        problems.append(
            Problem(
                name,
                f"cell '{cell}' is excluded without a reason.",
                line,
                "Fill 'exclusion_reason'.",
            )
        )
    for column, value in row.items():
        problems += _value_problems(name, line, cell, column, value, zone)
    return problems


def _plain_yes(text: str) -> str:
    """`yes` or `no` where people write it otherwise; else as it stands."""
    word = text.casefold()
    return "yes" if word in _YES else "no" if word in _NO else text


def _value_problems(
    name: str, line: int, cell: str, column: str, value: str, zone: ZoneInfo
) -> list[Problem]:
    """Times must be times, and columns with a unit must be numbers."""
    if not value:
        return []
    what = f"'{column}' of cell '{cell}'"
    if _TIME.search(column) and unix_time_s(value, zone) is None:
        return [time_problem(name, line, what, value)]
    if _MEASURED.search(column):
        may_be_zero = column.endswith(("uncertainty_mg", "uncertainty_mm"))
        sign: Sign = "any" if may_be_zero else "positive"
        wrong = number_problem(name, line, what, value, sign=sign)
        return [] if wrong is None else [wrong]
    return []


def _id_problems(table: PeopleTable) -> list[Problem]:
    """Ids given twice, also where only the case differs, since folders may not tell them apart."""
    first: dict[str, tuple[int, str]] = {}
    problems = []
    for line, row in table.rows:
        cell = row["cell"]
        if cell.casefold() in first:
            earlier_line, earlier = first[cell.casefold()]
            same = (
                "is listed twice" if cell == earlier else f"differs from '{earlier}' in case only"
            )
            problems.append(
                Problem(table.name, f"cell '{cell}' {same}; first on line {earlier_line}.", line)
            )
        first.setdefault(cell.casefold(), (line, cell))
    return problems
