"""The register of reports issued: one line of JSON a report, kept from run to run."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from trivet.store.regular_file import read_regular
from trivet.store.whole_file import write_whole

REGISTER_FILE = "register.jsonl"
"""Name of the register in the folder of results, and in the bag."""
ENTRY_FILE = "register_entry.json"
"""Name of the entry that the next report will add."""
ISSUED = "issued"
"""Key of the time of issue, the only thing in an entry that comes from the clock."""
_MOST = 2.5e11
"""Largest number of an entry: the Unix time of the last years that have four digits [s]."""
_MOST_BYTES = 512 * 2**20
_EPOCH = "SOURCE_DATE_EPOCH"
"""Time that stands for that of the clock, where builds are to give the same bytes
(https://reproducible-builds.org/specs/source-date-epoch/)."""
Entry = dict[str, Any]


@dataclass(frozen=True)
class Register:
    """What the register holds.

    Attributes
    ----------
    entries : tuple of dict
        Entries that can be read, the oldest first.
    damaged : tuple of (int, str)
        Numbers of the lines that can't, with why; such a line stays where it is.
    """

    entries: tuple[Entry, ...] = ()
    damaged: tuple[tuple[int, str], ...] = ()


def read_register(file: Path) -> Register:
    """Read the register; empty where there is none yet.

    Parameters
    ----------
    file : Path
        The register.

    Returns
    -------
    Register
        A file that can't be opened at all counts as one damaged line, number 1.
    """
    try:
        content = read_regular(file, most=_MOST_BYTES)
    except FileNotFoundError:
        return Register()
    except OSError as error:
        return Register(damaged=((1, error.strerror or str(error)),))
    entries, damaged = [], []
    for number, line in enumerate(content.split(b"\n"), start=1):
        if not line.strip():
            continue
        try:
            entries.append(_entry(line))
        except (ValueError, RecursionError) as error:
            damaged.append((number, _why(error)))
    return Register(tuple(entries), tuple(damaged))


def _entry(line: bytes) -> Entry:
    """One entry.

    Raises
    ------
    ValueError
        The line is none.
    """
    entry = json.loads(line)
    if not isinstance(entry, dict):
        raise ValueError("no entry of a report")
    for name, kind in _SHAPE.items():
        if not isinstance(entry.get(name), kind):
            raise ValueError(f"'{name}' is missing or of another kind")
    for name, columns in _ROWS.items():
        for row in entry[name]:
            _check_row(name, row, columns)
    for kept in entry["cells"].values():
        if not _texts(kept):
            raise ValueError("a row of 'cells' is damaged")
    if not _texts(entry["settings"]) or not _texts(entry["digests"]):
        raise ValueError("'settings' or 'digests' holds other things than text")
    _check_row("entry", entry, {"data_cut_s": _NUMBER})
    if not all(isinstance(name, str) for name in entry["columns"]):
        raise ValueError("'columns' holds other things than text")
    contrasts = [tuple(row[name] for name in _CONTRAST) for row in entry["verdicts"]]
    if len(set(contrasts)) < len(contrasts):
        raise ValueError("a contrast has two verdicts")
    _issued(entry[ISSUED])
    json.dumps(entry, ensure_ascii=False, allow_nan=False).encode()  # half signs are no text
    return entry


def _can_be(value: Any) -> bool:  # noqa: ANN401
    """Whether a value is text, missing, or a number that a time or count can be."""
    if isinstance(value, bool):
        return False
    return not isinstance(value, int | float) or abs(value) <= _MOST


def _issued(text: str) -> datetime:
    """Time of issue.

    Raises
    ------
    ValueError
        It has no zone, or is no time.
    """
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"'{ISSUED}' has no zone")
    return moment


def _check_row(name: str, row: Any, columns: Mapping[str, Any]) -> None:  # noqa: ANN401
    """Make sure that a row of an entry has what is asked of it.

    Raises
    ------
    ValueError
        It has not.
    """
    if not isinstance(row, dict):
        raise ValueError(f"a row of '{name}' is damaged")
    for column, kind in columns.items():
        value = row.get(column)
        if column not in row or not isinstance(value, kind) or not _can_be(value):
            raise ValueError(f"'{column}' of a row of '{name}' is missing or can't be")


def _texts(values: Any) -> bool:  # noqa: ANN401
    """Whether a value is a mapping of text to text."""
    return isinstance(values, dict) and all(isinstance(value, str) for value in values.values())


_SHAPE: dict[str, Any] = {
    ISSUED: str,
    "data_cut": str,
    "version": str,
    "settings": dict,
    "digests": dict,
    "cells": dict,
    "columns": list,
    "log": list,
    "ends": list,
    "verdicts": list,
}
_CONTRAST = ("endpoint", "factor", "group", "control")
_NUMBER = int | float | None
_COUNT = int | None
_ROWS: dict[str, dict[str, Any]] = {
    "log": {"cell": str, "time_s": int | float, "event": str, "says": str},
    "ends": {"cell": str, "endpoint": str, "cause": str, "duration": _NUMBER},
    "verdicts": {
        **dict.fromkeys(("endpoint", "clock", "factor", "group", "control", "verdict"), str),
        **dict.fromkeys(("p", "p_adjusted"), _NUMBER),
        **dict.fromkeys(("cells", "events", "control_cells", "control_events"), _COUNT),
    },
}
"""What the rows of an entry must have."""


def _why(error: Exception) -> str:
    """Why a line is no entry."""
    if isinstance(error, json.JSONDecodeError):
        return f"{error.msg} at character {error.colno}"
    if isinstance(error, UnicodeError):
        return "no text in UTF-8"
    return str(error) if not isinstance(error, RecursionError) else "nested too deeply"


def write_entry(file: Path, entry: Mapping[str, Any]) -> None:
    """Write the entry that the report will add to the register, beside and renamed.

    Parameters
    ----------
    file : Path
        Its file.
    entry : mapping
        The entry without its time.
    """
    text = json.dumps(entry, ensure_ascii=False, sort_keys=True, allow_nan=False, indent=1)
    write_whole(file, text.encode() + b"\n")


def read_entry(file: Path) -> Entry:
    """Read the entry that the report will add.

    Parameters
    ----------
    file : Path
        What `write_entry` wrote.

    Raises
    ------
    OSError
        It is not there: a fault of the program.
    """
    entry: Entry = json.loads(read_regular(file))
    return entry


def without_time(entry: Mapping[str, Any]) -> Entry:
    """Give all of an entry but when it was issued."""
    return {name: value for name, value in entry.items() if name != ISSUED}


def append_entry(file: Path, entry: Mapping[str, Any]) -> bool:
    """Add an entry unless the last one says the same, and all lines before stay as they are.

    The register is written beside and renamed, under a lock of its own, so that of two writers
    neither takes the other's line, and a kill leaves the old file or the new one.

    Parameters
    ----------
    file : Path
        The register.
    entry : mapping
        The entry without its time, see `trivet.campaign.register.entry.entry_of`.

    Returns
    -------
    bool
        Whether it was added.

    Raises
    ------
    OSError
        The register is there and can't be read or written.
    """
    guard = file.parent / "jobs" / f"{file.name}.lock"
    guard.parent.mkdir(parents=True, exist_ok=True)
    with guard.open("w") as held:
        with contextlib.suppress(OSError):
            # where a file system has no locks, the files of Snakemake stand between two runs
            fcntl.flock(held, fcntl.LOCK_EX)
        known = read_register(file)
        if known.entries and without_time(known.entries[-1]) == without_time(entry):
            return False
        before = b""
        if file.exists():
            before = read_regular(file, most=_MOST_BYTES)
        if before and not before.endswith(b"\n"):
            before += b"\n"
        stamped = {ISSUED: _now(), **without_time(entry)}
        line = json.dumps(stamped, ensure_ascii=False, sort_keys=True, allow_nan=False)
        beside = file.with_name(f".{file.name}.new")
        with beside.open("wb") as new:
            new.write(before + line.encode() + b"\n")
            new.flush()
            os.fsync(new.fileno())
        beside.replace(file)
    return True


def _now() -> str:
    """Time of issue, to the second, in UTC."""
    stated = os.environ.get(_EPOCH, "")
    moment = datetime.fromtimestamp(int(stated), UTC) if stated.isdigit() else datetime.now(UTC)
    return moment.replace(microsecond=0).isoformat()
