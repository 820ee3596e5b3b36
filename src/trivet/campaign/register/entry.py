"""One entry of the register: what a report rests on, and what it says of each contrast."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from trivet.reasons import Kept
from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.marked import registered
from trivet.store.register_file import Entry

Row = Mapping[str, Any]
_OF_CONTRAST = ("endpoint", "clock", "factor", "group", "control", "verdict")
_OF_VERDICT = (
    *_OF_CONTRAST,
    "p",
    "p_adjusted",
    "cells",
    "events",
    "control_cells",
    "control_events",
)
_SAID = ("cause", "reason", "charge_mAh", "mass_mg", "offset_mV", "uncertainty_mV", "note")


def entry_of(
    *,
    settings: Mapping[str, Any],
    cells: Sequence[CellFacts],
    lifetimes: Iterable[Row],
    comparisons: Iterable[Row],
    data_cut: tuple[str, float | None],
    digests: Mapping[str, str],
    version: str,
) -> Entry:
    """Give an entry without its time.

    Parameters
    ----------
    settings : mapping
        Settings by block.
    cells : sequence of CellFacts
        All cells of the build sheet with their entries of the bench log.
    lifetimes, comparisons : iterable of rows
        Tables of these names.
    data_cut : tuple of str and float or None
        The data cut as the setting that gives it again, and as Unix time [s].
    digests : mapping of str to str
        Checksums of build sheet, bench log and table of lives by `Kept` or file; that of the
        settings is added.
    version : str
        Version of the program.

    Returns
    -------
    dict
        All values are such that JSON gives them back as they are.
    """
    flat = dict(dotted(settings))
    clock = settings["lifetime"]["primary_clock"]
    text, time_s = data_cut
    return {
        "data_cut": text,
        "data_cut_s": _plain(time_s),
        "version": version,
        "digests": {**digests, Kept.SETTINGS.value: _digest(flat)},
        "settings": {name: value for name, value in flat.items() if registered(name)},
        "columns": [
            settings["lifetime"]["clock_start"],
            *(factor["factor"] for factor in settings["comparison"]["factors"]),
        ],
        "cells": {facts.cell: _row_of(facts) for facts in cells},
        "log": [_log_row(entry) for facts in cells for entry in facts.log],
        "ends": [
            {name: _plain(row[name]) for name in ("cell", "endpoint", "cause", "duration")}
            for row in lifetimes
            if row["clock"] == clock and row["observed"]
        ],
        "verdicts": [
            {name: _plain(row[name]) for name in _OF_VERDICT}
            for row in comparisons
            if row["clock"] == clock and row["verdict"]
        ],
    }


def contrast_of(row: Row) -> tuple[str, str, str, str]:
    """Endpoint, factor, group and control of a row of verdicts."""
    return row["endpoint"], row["factor"], row["group"], row["control"]


def dotted(settings: Any, path: str = "") -> Iterator[tuple[str, str]]:  # noqa: ANN401
    """Give each setting by its dotted name, as text; lists stand whole, those of text plainly.

    Parameters
    ----------
    settings : object
        A block, or a value.
    path : str
        Its dotted name.
    """
    if isinstance(settings, dict):
        for name, value in settings.items():
            yield from dotted(value, f"{path}.{name}" if path else str(name))
    elif isinstance(settings, str):
        yield path, settings
    elif isinstance(settings, list) and settings and all(isinstance(one, str) for one in settings):
        yield path, ", ".join(settings)
    else:
        yield path, json.dumps(settings, ensure_ascii=False, sort_keys=True)


def _digest(settings: Mapping[str, str]) -> str:
    """Checksum over all settings by name."""
    text = json.dumps(settings, ensure_ascii=False, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _row_of(facts: CellFacts) -> dict[str, str]:
    """Row of the build sheet: what it says, and that a cell counts where it says nothing."""
    said = {name: value for name, value in facts.values.items() if value and name != "cell"}
    return said | {"included": "yes" if facts.included else "no"}


def _log_row(entry: LogEntry) -> dict[str, Any]:
    """One entry of the bench log, without its line, which moves."""
    said = [
        f"{name} {value}" if name != "note" else str(value)
        for name in _SAID
        if (value := getattr(entry, name)) not in ("", None)
    ]
    return {
        "cell": entry.cell,
        "time_s": float(entry.time_s),
        "event": entry.event,
        "says": "; ".join(said),
    }


def _plain(value: Any) -> Any:  # noqa: ANN401
    """Value as JSON can hold it: a number that is none is missing."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
