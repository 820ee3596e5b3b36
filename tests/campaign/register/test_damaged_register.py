"""A register of which anything may have been changed: messages, and never a traceback."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trivet.campaign.register.rows import (
    damaged_lines,
    input_changes,
    issued_before,
    late_rows,
    reports_issued,
)
from trivet.schema.findings.finding import finding_columns
from trivet.schema.tables.dictionary import TABLES
from trivet.store.register_file import ISSUED, REGISTER_FILE, read_register
from trivet.store.tables import make_table, rows_table

ENTRY: dict[str, Any] = {
    ISSUED: "2026-03-01T09:00:00+00:00",
    "data_cut": "2026-03-01",
    "data_cut_s": 1_772_323_200.0,
    "version": "0",
    "digests": {"settings": "ab"},
    "settings": {"comparison.equivalence_margin": "1.25", "comparison.factors": "[]"},
    "columns": ["crimped_at", "seal"],
    "cells": {"K-01": {"seal": "tape", "included": "yes"}, "K-02": {"seal": "bead"}},
    "log": [{"cell": "K-02", "time_s": 1_772_000_000.0, "event": "stopped", "says": ""}],
    "ends": [{"cell": "K-02", "endpoint": "cell", "cause": "leak", "duration": 9.0}],
    "verdicts": [
        {"endpoint": "cell", "clock": "hours", "factor": "seal", "group": "bead", "control": "tape",
         "verdict": "inconclusive", "p": 0.2, "p_adjusted": 0.2, "cells": 1, "events": 1,
         "control_cells": 1, "control_events": 0}
    ],
}  # fmt: skip
ODD = (None, True, -1, 1e300, 10**30, float("nan"), "", "\ud800", "\x00", "[", [], {}, [[]],
       {"a": 1}, [None], "9999-99-99", [{"cell": "a"}])  # fmt: skip


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in an entry."""
    found = [path] if path else []
    if isinstance(value, dict):
        inside = list(value.items())
    else:
        inside = list(enumerate(value)) if isinstance(value, list) else []
    for key, below in inside:
        found += places(below, (*path, key))
    return found


def tables_of(folder: Path, content: bytes) -> int:
    """Make every table from a register of these bytes; how many lines were damaged."""
    file = folder / REGISTER_FILE
    file.write_bytes(content)
    register = read_register(file)
    now = {name: value for name, value in ENTRY.items() if name != ISSUED}
    now |= {"settings": {"comparison.equivalence_margin": "1.5"}, "data_cut_s": 1_772_300_000.0}
    issued = issued_before(register, now)
    zone = "Europe/Berlin"
    rows_table(TABLES["reports_issued"], reports_issued(issued, now), sparse=True)
    rows_table(TABLES["input_changes"], input_changes(issued, now, time_zone=zone))
    rows_table(TABLES["late_decisions"], late_rows(issued, now, time_zone=zone))
    make_table(TABLES["findings"], finding_columns(damaged_lines(register)))
    return len(register.damaged)


@pytest.mark.parametrize("place", places(ENTRY), ids=str)
def test_any_value_may_be_any_other(place: tuple[Any, ...], tmp_path: Path) -> None:
    """Each value replaced by each odd one, or left out: tables are made from what is left."""
    whole = json.dumps(ENTRY).encode() + b"\n"
    for odd in (*ODD, KeyError):
        entry = copy.deepcopy(ENTRY)
        inside: Any = entry
        for key in place[:-1]:
            inside = inside[key]
        if odd is KeyError:
            del inside[place[-1]]
        else:
            inside[place[-1]] = odd
        damaged = tables_of(tmp_path, json.dumps(entry).encode() + b"\n" + whole)
        assert damaged in (0, 1)


def test_any_byte_may_be_any_other(tmp_path: Path) -> None:
    """A thousand registers with a few bytes changed, cut or doubled."""
    whole = json.dumps(ENTRY).encode() + b"\n"
    random = np.random.default_rng(7)
    damaged = 0
    for _ in range(1000):
        content = bytearray(whole * 2)
        for at in random.integers(0, len(content), random.integers(1, 4)):
            content[at] = int(random.integers(0, 256))
        damaged += tables_of(tmp_path, bytes(content)[: random.integers(1, len(content) + 1)])
    assert damaged > 300
