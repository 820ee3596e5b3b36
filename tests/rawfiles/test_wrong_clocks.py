"""Clocks that were set wrong, and times in the wrong unit: named with their file, never believed.

The list of such slips is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from raw_files import EXPECTED, OPEN, UNIX, charge, columns, lines, read

from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Layout

BUILT_S = datetime(2026, 5, 1, tzinfo=UTC).timestamp()
DAY_S = 86400.0
FACTS = replace(CellFacts("A", "1"), clock_start_s=BUILT_S)


def at(start_s: float, *, count: int = 61, sign: int = 1) -> str:
    """A charge of an hour that starts at a time of the calendar."""
    rows = charge(UNIX, count=count, sign=sign).splitlines()
    body = [row.split(",", 1) for row in rows[1:]]
    return lines(rows[0], *(f"{float(time) + start_s:.0f},{rest}" for time, rest in body))


def test_a_file_dated_2099_is_set_aside_alone(tmp_path: Path) -> None:
    """The other file of the cell counts, and the end of its data is that of the right file."""
    wrong_s = datetime(2099, 1, 1, tzinfo=UTC).timestamp()
    files = {"A_1.csv": at(BUILT_S + DAY_S), "A_2.csv": at(wrong_s)}
    outcome = read(tmp_path, files, facts=FACTS)
    finding = outcome.findings["dated far ahead"]
    assert finding["severity"] == "fault"
    assert finding["file"] == "A_2.csv"
    assert finding["line"] == 2
    assert "2099-01-01" in str(finding["message"])
    assert "raw.longest_pause_d" in str(finding["message"])
    used = {row["file"]: row["rows_used"] for row in outcome.ledger}
    assert used == {"A_1.csv": 61, "A_2.csv": 0}
    assert outcome.series["time_s"].max() < wrong_s


def test_a_clock_that_jumps_within_a_file_keeps_the_rows_before(tmp_path: Path) -> None:
    """Rows from the jump on are set aside, with the line on which it happens."""
    wrong_s = datetime(2099, 1, 1, tzinfo=UTC).timestamp()
    text = at(BUILT_S + DAY_S, count=30) + at(wrong_s, count=30).split("\n", 1)[1]
    outcome = read(tmp_path, {"A.csv": text}, facts=FACTS)
    finding = outcome.findings["dated far ahead"]
    assert finding["line"] == 32
    assert "on line 31" in str(finding["message"])
    assert outcome.ledger[0]["rows_used"] == 30


def test_a_pause_that_can_be_is_no_wrong_clock(tmp_path: Path) -> None:
    """A cell that rested for eleven months is still that cell."""
    files = {"A_1.csv": at(BUILT_S + DAY_S), "A_2.csv": at(BUILT_S + 330 * DAY_S)}
    outcome = read(tmp_path, files, facts=FACTS)
    assert "dated far ahead" not in outcome.findings
    assert [row["rows_used"] for row in outcome.ledger] == [61, 61]


def test_unix_milliseconds_in_a_column_of_seconds_are_named(tmp_path: Path) -> None:
    """A time of 1.78e12 s would lie in the year 58000; the message says what it would be."""
    layout = Layout(columns=columns(t="unix time:s", I="current:mA", U="cell voltage:V"))
    body = [f"{(BUILT_S + 60 * n) * 1000:.0f},1.0,{3 + 0.01 * n:.3f}" for n in range(30)]
    outcome = read(tmp_path, {"A.csv": lines("t,I,U", *body)}, layout)
    finding = outcome.findings["dated far ahead"]
    assert finding["file"] == "A.csv"
    assert "milliseconds" in str(finding["message"])
    assert not len(outcome.series["time_s"])


@pytest.mark.parametrize(("factor", "fits"), [(1000, False), (1, True)])
def test_elapsed_milliseconds_in_a_column_of_seconds_are_named(
    tmp_path: Path, factor: int, fits: bool
) -> None:
    """Half-cycles of a thousand capacities: charge is current times time, and no cell holds it."""
    rows, time = [], 0
    for _ in range(3):
        for sign in (1, -1):
            for n in range(61):
                volt = 2.6 + 0.017 * n if sign > 0 else 3.62 - 0.017 * n
                rows.append(f"{(time + 60 * n) * factor},{sign * 0.002},{volt:.3f}")
            time += 3660
    outcome = read(tmp_path, {"A.csv": lines(OPEN, *rows)}, expected=EXPECTED)
    assert (outcome.ledger[0]["rows_used"] == len(rows)) == fits
    if not fits:
        finding = outcome.findings["file does not fit its cell"]
        assert finding["file"] == "A.csv"
        assert "ms for s" in str(finding["message"])


def test_a_spectrum_dated_2099_moves_nothing(tmp_path: Path) -> None:
    """Spectra are held against the build and the ends of the cycling files."""
    layout = Layout(
        columns=columns(t="unix time:s", f="frequency:Hz", x="real:ohm", y="imaginary:ohm")
    )
    wrong_s = datetime(2099, 1, 1, tzinfo=UTC).timestamp()
    frequencies = np.geomspace(1e5, 0.1, 12)
    body = [f"{wrong_s + n:.0f},{f:.6g},{10 + n},{-n}" for n, f in enumerate(frequencies)]
    outcome = read(
        tmp_path, {"A.csv": lines("t,f,x,y", *body)}, layout, facts=FACTS, impedance=True
    )
    assert outcome.findings["dated far ahead"]["file"] == "A.csv"
    assert outcome.ledger[0]["last_time_s"] is None


def test_a_clock_that_fell_back_for_some_rows_costs_none_of_the_right_ones(tmp_path: Path) -> None:
    """After an empty battery a clock counts from 2010; what is dated rightly later stays."""
    early_s = datetime(2010, 1, 1, tzinfo=UTC).timestamp()
    spectra = Layout(
        columns=columns(t="unix time:s", f="frequency:Hz", x="real:ohm", y="imaginary:ohm")
    )
    body = [
        f"{start_s + n:.0f},{f:.6g},{10 + n},{-n}"
        for start_s in (BUILT_S + DAY_S, early_s)
        for n, f in enumerate(np.geomspace(1e5, 0.1, 12))
    ]
    outcome = read(
        tmp_path, {"A.csv": lines("t,f,x,y", *body)}, spectra, facts=FACTS, impedance=True
    )
    assert "dated far ahead" not in outcome.findings
    assert outcome.ledger[0]["rows_used"] == len(body)
