"""Start times before the header of a file: only what can be read one way counts."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from raw_files import columns, lines, read

from trivet.rawfiles.time.preamble import start_of
from trivet.schema.settings.raw import Layout

ZONE = "Europe/Berlin"
MOMENT_s = datetime(2026, 2, 8, 16, 32, 5, tzinfo=ZoneInfo(ZONE)).timestamp()


@pytest.mark.parametrize(
    "text",
    [
        "Measurement started: 08.02.2026 16:32:05",
        "exported 09.02.2026 08:00\nMeasurement started: 2026-02-08T16:32:05\nuser: nobody",
        "2026-02-08 16:32:05",
    ],
)
def test_a_start_is_read(text: str) -> None:
    """ISO 8601 or day.month.year; the line that speaks of a start outranks others."""
    assert start_of(text, zone=ZONE) == MOMENT_s


@pytest.mark.parametrize(
    "text",
    ["", "started 02/08/2026 16:32", "08.02.2026 16:32\n09.02.2026 16:32", "at 99.99.2026 16:32"],
)
def test_what_can_be_read_two_ways_is_left(text: str) -> None:
    """Slashes, two times that differ, and no date give no start."""
    assert start_of(text, zone=ZONE) is None


def test_a_spectrum_takes_the_start_of_its_preamble(tmp_path: Path) -> None:
    """A sweep without a column of time begins at the start before its header, and it is said."""
    layout = Layout(
        columns=columns(f="frequency:Hz", re="real:ohm", im="imaginary:ohm"), time_zone=ZONE
    )
    body = [f"{10.0 ** (4 - n / 4):.6g},{5 + n},{-1 - n / 10}" for n in range(20)]
    text = lines("Measurement started: 08.02.2026 16:32:05", "f,re,im", *body)
    got = read(tmp_path, {"A.csv": text}, layout, impedance=True)
    assert set(got.points["time_s"]) == {MOMENT_s}
    assert "before the header" in got.assumed
