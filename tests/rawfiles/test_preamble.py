"""Start times before the header of a file: only what can be read one way counts."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from trivet.rawfiles.time.preamble import start_of

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
