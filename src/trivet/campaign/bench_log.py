"""Read the bench log: what people did to cells, with time."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

from trivet.campaign.manual_table import PeopleTable, read_people_table, unix_time_s
from trivet.campaign.own_columns import plain
from trivet.campaign.typed_values import Sign, number_of, number_problem, time_problem
from trivet.campaign.written_forms import Forms, in_one_form
from trivet.errors import Problem, near_name
from trivet.reasons import STATED_REASONS
from trivet.schema.cell_facts import (
    FAILURE_CAUSES,
    LOG_EVENTS,
    REFERENCE_CHECKED,
    LogEntry,
)
from trivet.schema.settings.campaign import BenchLog
from trivet.schema.sheet_columns import LOG_COLUMNS, LOG_WORDS, NUMBERS

_TIMES = ("time", "entered_at")
_WORDS = ("event", "cause", "reason")
_SAID_AT_ONCE = (("failed", "cause", FAILURE_CAUSES), ("stopped", "reason", STATED_REASONS))
_SIGNS: dict[str, Sign] = {"offset_mV": "any", "mass_mg": "positive"}
"""Of numbers that can be negative, or not 0."""


def read_bench_log(
    folder: Path, bench_log: BenchLog, cells: Sequence[str], zone: ZoneInfo
) -> tuple[tuple[LogEntry, ...], list[Problem]]:
    """Entries in order of time, and everything wrong with the log.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    bench_log : BenchLog
        Settings of the log; no file means no entries.
    cells : sequence of str
        Ids of the build sheet.
    zone : ZoneInfo
        Zone of the times in the log.
    """
    if bench_log.file is None:
        return (), []
    table, problems = read_people_table(
        folder / bench_log.file,
        ["time", "cell", "event"],
        tuple(LOG_COLUMNS),
        names=bench_log.columns,
        block="bench_log",
        short_rows=True,  # most columns are for a few events only
    )
    if table is None:
        return (), problems
    table = _in_our_words(table, bench_log)
    table, doubts, asked = in_one_form(table, _forms(bench_log))
    problems += doubts
    entries = []
    for line, row in table.rows:
        entry, wrong = _entry(table.name, line, row, cells, zone, asked)
        problems += wrong
        if entry is not None:
            entries.append(entry)
    return tuple(sorted(entries, key=lambda entry: (entry.time_s, entry.line))), problems


def _in_our_words(table: PeopleTable, bench_log: BenchLog) -> PeopleTable:
    """Events, causes and reasons in the words used here; numbers where their event has them."""
    ours = {plain(theirs).casefold(): word for word, own in bench_log.words.items()
            if word in LOG_WORDS for theirs in own}  # fmt: skip
    notes = bench_log.columns.get("note")
    shared = [column for column in NUMBERS if notes and bench_log.columns.get(column) == notes]
    rows = []
    for line, row in table.rows:
        said = {column: ours.get(plain(row[column]).casefold(), row[column])
                for column in _WORDS if column in row}  # fmt: skip
        # one word may say both that a cell failed or was stopped, and why
        for event, column, known in _SAID_AT_ONCE:
            if said["event"] in known:
                said |= {"event": event, column: said.get(column) or said["event"]}
        blank = {column: "" for column in shared if said["event"] not in NUMBERS[column]}
        rows.append((line, row | said | blank))
    return replace(table, rows=tuple(rows))


def _forms(bench_log: BenchLog) -> Forms:
    """Which columns of the log hold times and numbers, and how they are written."""
    return Forms(
        "bench_log",
        is_time=lambda column: column in _TIMES,
        is_number=lambda column: column in NUMBERS,
        dates=bench_log.dates,
        decimal=bench_log.decimal,
    )


def _entry(
    name: str,
    line: int,
    row: dict[str, str],
    cells: Sequence[str],
    zone: ZoneInfo,
    asked: Collection[str],
) -> tuple[LogEntry | None, list[Problem]]:
    """One row as an entry, or what is wrong with it besides columns that are asked about."""
    problems = []
    time_s = unix_time_s(row["time"], zone)
    if time_s is None and "time" not in asked:
        what = f"'time' of cell '{row['cell']}'"
        problems.append(time_problem(name, line, what, row["time"]))
    if row["cell"] not in cells:
        problems.append(
            Problem(
                name,
                f"cell '{row['cell']}' is not in the build sheet.",
                line,
                near_name(row["cell"], cells),
            )
        )
    if row["event"] not in LOG_EVENTS:
        problems.append(
            Problem(
                name, f"'{row['event']}' is no event.", line, near_name(row["event"], LOG_EVENTS)
            )
        )
    cause, reason = row.get("cause", ""), row.get("reason", "")
    problems += _words_wrong(name, line, row["event"], cause, reason)
    numbers = {}
    for column in NUMBERS:
        numbers[column], wrong = _number(name, line, column, row.get(column, ""))
        problems += wrong
        missing = (
            row["event"] == REFERENCE_CHECKED
            and column not in asked
            and column in ("offset_mV", "uncertainty_mV")
        )
        if missing and not row.get(column, ""):
            message = (
                f"'{REFERENCE_CHECKED}' needs '{column}': the offset that was measured, and how "
                "sure."
            )
            problems.append(Problem(name, message, line))
    if problems or time_s is None:
        return None, problems
    return LogEntry(
        cell=row["cell"],
        time_s=time_s,
        event=row["event"],
        cause=cause,
        note=row.get("note", ""),
        reason=reason,
        line=line,
        **numbers,
    ), []


def _words_wrong(name: str, line: int, event: str, cause: str, reason: str) -> list[Problem]:
    """What is wrong with the cause of a failure and the reason of a stop."""
    problems = []
    if event == "failed" and cause not in FAILURE_CAUSES:
        hint = near_name(cause, FAILURE_CAUSES)
        problems.append(Problem(name, f"'{cause}' is not a cause of a failure.", line, hint))
    if reason and reason not in STATED_REASONS:
        hint = near_name(reason, STATED_REASONS)
        problems.append(Problem(name, f"'{reason}' is not a reason of a stop.", line, hint))
    return problems


def _number(name: str, line: int, column: str, text: str) -> tuple[float | None, list[Problem]]:
    """A number that may be missing; only an offset can be negative, only a mass not be 0."""
    if not text:
        return None, []
    sign = _SIGNS.get(column, "not negative")
    wrong = number_problem(name, line, f"'{column}'", text, sign=sign)
    return (number_of(text), []) if wrong is None else (None, [wrong])
