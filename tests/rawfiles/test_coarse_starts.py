"""Starts and dates that are coarser than the clock: parts follow on, real overlaps stay faults.

Expected times follow from how the files are made: a part begins when the one before it ended, and a
date is cut to its last written digit.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from raw_files import Outcome, columns, lines, read

from trivet.schema.settings.raw import Layout, LayoutColumn

BEGAN = datetime(2026, 2, 8, 16, 32, 5, 460000, tzinfo=UTC)
START_LINE = Layout(
    columns=columns(t="elapsed time:s", I="current:mA", U="cell voltage:V"),
    start_line="Started:",
    start_format="%Y-%m-%d %H:%M:%S",
)
ROWS = 61
FORMS = {"minute": "%d.%m.%Y %H:%M", "day": "%d.%m.%Y"}


def dated(form: str) -> Layout:
    """A layout with dates in a form beside the elapsed time."""
    date = LayoutColumn(header="date", quantity="absolute time", format=form)
    return Layout(columns=[date, *START_LINE.columns])


def part(number: int, *, form: str = "", minutes_early: float = 0.0) -> str:
    """A part of an hour with a row a minute, right behind the one before it; a charge."""
    began = BEGAN + timedelta(hours=number, minutes=-minutes_early)
    rows = []
    for n in range(ROWS):
        date = f"{began + timedelta(minutes=n):{form}}," if form else ""
        rows.append(f"{date}{60 * n},1.0,{3 + 0.2 * bool(number) + n / 400:.4f}")
    if form:
        return lines("date,t,I,U", *rows)
    return lines(f"Started: {began:%Y-%m-%d %H:%M:%S}", "t,I,U", *rows)


def parts(folder: Path, layout: Layout, *, form: str = "", minutes_early: float = 0.0) -> Outcome:
    """Two parts, the second of which may begin before the first has ended."""
    files = {
        "A_1.csv": part(0, form=form),
        "A_2.csv": part(1, form=form, minutes_early=minutes_early),
    }
    return read(folder, files, layout)


def test_parts_with_starts_in_whole_seconds_follow_on(tmp_path: Path) -> None:
    """A last row written 0.46 s after the next start was cut is no overlap: a note, all rows."""
    text = part(0).replace("\n3600,", "\n3600.46,")
    got = read(tmp_path, {"A_1.csv": text, "A_2.csv": part(1)}, START_LINE)
    assert len(got.series["time_s"]) == 2 * ROWS
    assert np.all(np.diff(got.series["time_s"]) >= 0)
    found = got.findings["parts closer than their clock"]
    assert (found["severity"], found["action"]) == ("note", "placed right behind it")
    assert found["value"] == pytest.approx(0.46, abs=1e-6)
    # One second of the start, and the shorter of the two intervals: one row a minute.
    assert found["limit"] == pytest.approx(61.0)


def test_a_real_overlap_stays_a_fault(tmp_path: Path) -> None:
    """Five minutes are more than a second and a row: no file of the cell is used."""
    got = parts(tmp_path, START_LINE, minutes_early=5)
    assert not len(got.series["time_s"])
    assert got.findings["overlapping files"]["severity"] == "fault"


def test_starts_with_fractions_are_not_excused(tmp_path: Path) -> None:
    """Where the start shows a tenth of a second, half a second is an overlap."""
    layout = START_LINE.model_copy(update={"start_format": "%Y-%m-%d %H:%M:%S.%f"})
    files = {
        f"A_{n}.csv": part(n).replace(":05\n", f":05.{digits}\n")
        for n, digits in ((0, "5"), (1, "0"))
    }
    got = read(tmp_path, files, layout)
    assert got.findings["overlapping files"]["severity"] == "fault"


@pytest.mark.parametrize("coarse", list(FORMS))
def test_restarting_parts_with_coarse_dates_are_placed(tmp_path: Path, coarse: str) -> None:
    """Elapsed time gives what is finer than the dates, dates give the place of each part."""
    got = parts(tmp_path, dated(FORMS[coarse]), form=FORMS[coarse])
    assert len(got.series["time_s"]) == 2 * ROWS
    steps_s = np.diff(got.series["time_s"])
    np.testing.assert_allclose(np.delete(steps_s, ROWS - 1), 60.0)
    assert 0 <= steps_s[ROWS - 1] <= 60.0
    assert "two clocks disagree" not in got.findings


def test_dates_to_the_minute_are_no_clock_that_disagrees(tmp_path: Path) -> None:
    """59.9 s between a date cut to the minute and the elapsed time are its rounding."""
    rows = [f"{BEGAN + timedelta(seconds=59.9 * n):%d.%m.%Y %H:%M},{59.9 * n:.1f},1.0,{3 + n / 400}"
            for n in range(ROWS)]  # fmt: skip
    got = read(tmp_path, {"A.csv": lines("date,t,I,U", *rows)}, dated(FORMS["minute"]))
    assert "two clocks disagree" not in got.findings
    late_s = got.series["time_s"][0] - BEGAN.timestamp()
    # Every row lies in its minute; from 61 of them the start is known to a second.
    assert -1.0 <= late_s <= 0.0


def test_a_clock_that_runs_off_is_still_told(tmp_path: Path) -> None:
    """Ten minutes in an hour are more than a minute's rounding."""
    rows = [f"{BEGAN + timedelta(seconds=70 * n):%d.%m.%Y %H:%M},{60 * n},1.0,{3 + n / 400}"
            for n in range(ROWS)]  # fmt: skip
    got = read(tmp_path, {"A.csv": lines("date,t,I,U", *rows)}, dated(FORMS["minute"]))
    assert got.findings["two clocks disagree"]["severity"] == "caution"


def test_a_day_without_rows_is_kept_with_dates_to_the_day(tmp_path: Path) -> None:
    """A part dated two days later is not pulled to the one before it."""
    form = FORMS["day"]
    files = {"A_1.csv": part(0, form=form), "A_2.csv": part(48, form=form)}
    got = read(tmp_path, files, dated(form))
    pause_s = got.series["time_s"][ROWS] - got.series["time_s"][ROWS - 1]
    assert 86400.0 <= pause_s <= 3 * 86400.0
