"""Tell build sheets and bench logs among the files of a laboratory, and propose their columns."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from trivet.campaign.manual_table import text_rows
from trivet.campaign.own_columns import likely_header, plain
from trivet.campaign.proposal.column_words import (
    DATE_WORDS,
    EVENT_WORDS,
    SHEET_WORDS,
    TIME_WORDS,
    meant,
)
from trivet.campaign.typed_values import number_of
from trivet.rawfiles.proposal.names import squeezed
from trivet.rawfiles.reading.spreadsheet import is_workbook, workbook_rows
from trivet.rawfiles.text.text_file import RawFileError
from trivet.schema.cell_facts import LOG_EVENTS
from trivet.schema.settings.block import DECIDE

_MOST_BYTES = 1_000_000
_MOST_ROWS = 2_000
_TEXTS = (".csv", ".tsv", ".txt")
_LEAST_NAMED = 0.7
"""Share of rows that name a cell [1]."""
_MOST_GROUPS = 6
_TIME_OF_DAY = re.compile(r"[0-9]{1,2}:[0-9]{2}(:[0-9]{2})?( ?[AaPp][Mm])?")
_WITH_DATE = re.compile(r"[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}.*")
_IN_NOTES = {
    "mass_mg": re.compile(r"[0-9][0-9.,]* ?mg"),
    "charge_mAh": re.compile(r"[0-9][0-9.,]* ?mAh"),
}
"""Numbers that people write among remarks, by their columns here."""


@dataclass(frozen=True)
class PeoplesTable:
    """A table that people keep, as it may be meant.

    Attributes
    ----------
    path : Path
        The file.
    sheet : bool
        Whether it has a row a cell, as a build sheet; else it is a log.
    columns : dict of str to str or list of str
        Names in the file by the names used here; `decide` where none was found.
    groups : dict of str to tuple of str
        Values of each column that may be a build factor, by its name here.
    words : dict of str to tuple of str
        Own words of a log by the events, causes or reasons that they may mean; `decide` where
        none is known.
    """

    path: Path
    sheet: bool
    columns: dict[str, str | list[str]]
    groups: dict[str, tuple[str, ...]]
    words: dict[str, tuple[str, ...]]


def peoples_table(path: Path, cells: Collection[str]) -> PeoplesTable | None:
    """Build sheet or bench log; None for any other file.

    Parameters
    ----------
    path : Path
        The file.
    cells : collection of str
        Cells that names of raw files name.
    """
    known = {squeezed(cell) for cell in cells}
    for rows in _sheets(path):
        if not rows:
            continue
        start = likely_header(rows)
        header = [plain(cell) for cell in rows[start]]
        body = [row for row in rows[start + 1 :] if any(row)]
        found = _columns_of(header, body)
        named = [name for name, values in found.items() if _names_cells(values, known)]
        if named:
            return _table(path, found, named[0])
    return None


def _sheets(path: Path) -> Iterator[list[list[str]]]:
    """Rows of each sheet of a small file."""
    if path.stat().st_size > _MOST_BYTES:
        return
    try:
        if is_workbook(path):
            yield from (rows for rows in workbook_rows(path).values() if len(rows) <= _MOST_ROWS)
        elif path.suffix.casefold() in _TEXTS:
            _, rows, problems = text_rows(path)
            if not problems and len(rows) <= _MOST_ROWS:
                yield [cells for _, cells in rows]
    except (OSError, RawFileError):
        return  # what can't be read is no table of people; reading raw files says why


def _columns_of(header: Sequence[str], body: Sequence[Sequence[str]]) -> dict[str, list[str]]:
    """Values of each column that has a name."""
    return {
        name: [row[place].strip() if place < len(row) else "" for row in body]
        for place, name in enumerate(header)
        if name
    }


def _names_cells(values: Sequence[str], known: Collection[str]) -> bool:
    """Whether a column names cells."""
    said = [squeezed(value) for value in values if value]
    hits = [value for value in said if value in known]
    return len(set(hits)) > 1 and len(hits) >= _LEAST_NAMED * len(said)


def _table(path: Path, found: dict[str, list[str]], cell: str) -> PeoplesTable | None:
    """Propose what the table is and what its columns are."""
    named = [value for value in found[cell] if value]
    rest = {name: values for name, values in found.items() if name != cell and any(values)}
    sheet = _sheet(path, rest, cell)
    built = any(sheet.columns[ours] != DECIDE for ours in ("batch", "crimped_at"))
    if built and len(set(named)) == len(named):
        return sheet
    words = [name for name, values in rest.items() if _are_words(values)]
    return _log(path, rest, cell) if words and len(rest) - len(words) <= len(words) + 2 else None


def _are_words(values: Sequence[str]) -> bool:
    """Whether a column holds words, and no numbers or times."""
    said = [value for value in values if value]
    other = [v for v in said if number_of(v) is not None or _is_time(v)]
    return bool(said) and len(other) * 2 < len(said)


def _is_time(value: str) -> bool:
    """Whether a value is a date, a time of day, or both."""
    return bool(_TIME_OF_DAY.fullmatch(value) or _WITH_DATE.fullmatch(value))


def _sheet(path: Path, rest: dict[str, list[str]], cell: str) -> PeoplesTable:
    """Columns of a build sheet."""
    columns: dict[str, str | list[str]] = {"cell": cell}
    date = _date_column(rest)
    for name, values in rest.items():
        ours = meant(name, SHEET_WORDS, columns)
        if ours is None or not _fits(ours, values):
            continue
        clock_only = ours.endswith("_at") and all(
            _TIME_OF_DAY.fullmatch(value) for value in values if value
        )
        if clock_only and date is None:
            continue
        columns[ours] = [date, name] if clock_only and date is not None else name
    for ours in ("batch", "crimped_at"):
        columns.setdefault(ours, DECIDE)
    taken = {one for own in columns.values() for one in ([own] if isinstance(own, str) else own)}
    groups = {name: groups for name, values in rest.items()
              if name not in taken and (groups := _groups(values))}  # fmt: skip
    if isinstance(own := columns.get("separators"), str) and (few := _groups(rest[own])):
        groups["separators"] = few
    return PeoplesTable(path, True, columns, groups, {})


def _fits(ours: str, values: Sequence[str]) -> bool:
    """Whether most values are what a column of ours holds."""
    said = [value for value in values if value]
    if ours.endswith("_at"):
        fitting = [value for value in said if _is_time(value)]
    elif ours in ("batch", "included", "exclusion_reason", "separators", "assembly_fault"):
        return True
    else:
        fitting = [value for value in said if number_of(value.replace(",", ".")) is not None]
    return 2 * len(fitting) > len(said)


def _groups(values: Sequence[str]) -> tuple[str, ...]:
    """Groups that a column may stand for: few words, most of them of several cells."""
    counted = Counter(value for value in values if value)
    few = 1 < len(counted) <= _MOST_GROUPS
    repeated = sum(number for number in counted.values() if number > 1)
    return tuple(counted) if few and 2 * repeated > len(values) and _are_words(values) else ()


def _date_column(rest: dict[str, list[str]]) -> str | None:
    """The column of dates without times of day, where there is one."""
    for name, values in rest.items():
        said = [value for value in values if value]
        if any(word in name.casefold() for word in DATE_WORDS) and all(
            _WITH_DATE.fullmatch(value) for value in said
        ):
            return name
    return None


def _log(path: Path, rest: dict[str, list[str]], cell: str) -> PeoplesTable | None:
    """Columns and words of a bench log; None where nothing in it is a time."""
    time = _time_of_log(rest)
    if time is None:
        return None
    columns: dict[str, str | list[str]] = {"time": time, "cell": cell}
    texts = [name for name, values in rest.items() if _are_words(values) and name not in time]
    if not texts:
        return None
    event = min(texts, key=lambda name: len(set(rest[name])))
    columns["event"] = event
    notes = max((name for name in rest if name not in (event, *time)), default="",
                key=lambda name: len(set(rest[name])))  # fmt: skip
    if notes:
        columns["note"] = notes
        for ours, pattern in _IN_NOTES.items():
            if any(pattern.fullmatch(value) for value in rest[notes]):
                columns[ours] = notes
    words: dict[str, tuple[str, ...]] = {}
    for said in dict.fromkeys(value for value in rest[event] if value):
        ours = meant(said, EVENT_WORDS) or DECIDE
        if said not in LOG_EVENTS:
            words[ours] = (*words.get(ours, ()), said)
    return PeoplesTable(path, False, columns, {}, words)


def _time_of_log(rest: dict[str, list[str]]) -> str | list[str] | None:
    """The column of times, or those of date and time of day."""
    date = _date_column(rest)
    clock = [name for name, values in rest.items()
             if any(word in name.casefold() for word in TIME_WORDS)
             and all(_TIME_OF_DAY.fullmatch(value) for value in values if value)]  # fmt: skip
    if date is not None and clock:
        return [date, clock[0]]
    whole = [name for name, values in rest.items()
             if all(_WITH_DATE.fullmatch(value) for value in values if value)]  # fmt: skip
    return whole[0] if whole else None
