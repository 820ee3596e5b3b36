"""Start times before the header of a file: only what can be read one way counts."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import yaml
from raw_files import columns, lines, read

from trivet.cli.main import main
from trivet.rawfiles.text.preamble import start_of, written_step_s
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


ELAPSED = columns(t="elapsed time:s", I="current:mA", U="cell voltage:V")


def part(start: str, *, first_s: float = 0.0, label: str = "Started:") -> str:
    """A charge of 61 rows, a row a minute, with its start above the header."""
    rows = (f"{first_s + 60 * n},1.0,{3 + n / 100:.2f}" for n in range(61))
    return lines("Sample: A", f"{label} {start}", "", "t,I,U", *rows)


def started(form: str = "%d.%m.%Y %H:%M:%S", words: str = "Started:") -> Layout:
    """A layout with a declared start."""
    return Layout(columns=ELAPSED, start_line=words, start_format=form, time_zone=ZONE)


def test_rows_count_from_the_declared_start(tmp_path: Path) -> None:
    """Local time of the start plus elapsed time; the file lies on the calendar, and it is said."""
    got = read(tmp_path, {"A.csv": part("08.02.2026 16:32:05")}, started())
    assert got.series["time_s"][0] == MOMENT_s
    assert got.series["time_s"][-1] == MOMENT_s + 3600.0
    assert "start that stands above the header" in got.assumed
    assert "no absolute time" not in got.findings


def test_an_offset_in_the_start_outranks_the_zone(tmp_path: Path) -> None:
    """ISO 8601 with an offset is the moment itself, whatever the zone of the layout."""
    text = part("2026-02-08T15:32:05.500+00:00", label="# start")
    got = read(tmp_path, {"A.csv": text}, started("%Y-%m-%dT%H:%M:%S.%f%z", "# start"))
    assert got.series["time_s"][0] == MOMENT_s + 0.5


@pytest.mark.parametrize("start", ["", "8 February", "02/08/2026 16:32:05"])
def test_a_declared_start_that_is_not_there_is_a_fault(tmp_path: Path, start: str) -> None:
    """A file whose start can't be read is not placed somewhere in silence."""
    got = read(tmp_path, {"A.csv": part(start)}, started())
    assert not len(got.series["time_s"])
    assert got.findings["start time"]["severity"] == "fault"


def test_parts_are_placed_by_their_own_starts(tmp_path: Path) -> None:
    """Elapsed time that restarts, and elapsed time that runs on, give the same times."""
    starts = ("08.02.2026 16:32:05", "09.02.2026 16:32:05")
    for name, first_s in (("restarts", 0.0), ("runs on", 3660.0)):
        (tmp_path / name).mkdir()
        files = {"A_1.csv": part(starts[0]), "A_2.csv": part(starts[1], first_s=first_s)}
        got = read(tmp_path / name, files, started())
        assert got.series["time_s"][61] == MOMENT_s + 86400.0


def test_a_fraction_and_an_offset_above_a_spectrum_are_kept() -> None:
    """The offset of an undeclared start counts too."""
    assert start_of("measured: 2026-02-08T15:32:05.25+00:00", zone=ZONE) == MOMENT_s


@pytest.mark.parametrize(
    ("text", "step_s"),
    [
        ("08.02.2026 16:32:05", 1.0),
        ("08.02.2026 16:32", 60.0),
        ("2026-02-08T16:32:05.250Z", 0.001),
        ("2026-02-08", 86400.0),
    ],
)
def test_how_fine_a_time_is_written(text: str, step_s: float) -> None:
    """The last digit that is written is the smallest difference that can be seen."""
    assert written_step_s(text) == step_s


@pytest.mark.parametrize(
    ("above", "given"),
    [
        (["Started: 17.01.2026 18:49:59"], ("Started:", "%d.%m.%Y %H:%M:%S")),
        (["# start 2026-01-28 03:50:23"], ("# start", "")),
        (["Messzeit;14.01.2026 10:42:58"], ("Messzeit", "%d.%m.%Y %H:%M:%S")),
        (
            ["Exported: 01/20/2026 08:00:00", "Start: 01/17/2026 08:00:00"],
            ("Start:", "%m/%d/%Y %H:%M:%S"),
        ),
    ],
)
def test_layout_proposes_the_start(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    above: list[str],
    given: tuple[str, str],
) -> None:
    """The line that speaks of a start, its form proved by the date; one of an export is none."""
    path = tmp_path / "A.csv"
    rows = (f"{60 * n};1.0;{3 + n / 100:.2f}" for n in range(61))
    path.write_text(lines(*above, "t/s;I/mA;U/V", *rows), encoding="utf-8")
    assert main(["layout", str(path)]) == 0
    (layout,) = yaml.safe_load(capsys.readouterr().out)["raw"]["layouts"].values()
    assert (layout["start_line"], layout.get("start_format", "")) == given


@pytest.mark.parametrize("above", ["Start: 02/08/2026 16:32:05", "Date: 08.02.2026 16:32:05"])
def test_layout_asks_for_a_start_that_is_not_sure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], above: str
) -> None:
    """Day and month that nothing tells apart, and a date that may be of anything, are asked."""
    path = tmp_path / "A.csv"
    rows = (f"{60 * n};1.0;{3 + n / 100:.2f}" for n in range(61))
    path.write_text(lines(above, "t/s;I/mA;U/V", *rows), encoding="utf-8")
    assert main(["layout", str(path)]) == 2
    (layout,) = yaml.safe_load(capsys.readouterr().out)["raw"]["layouts"].values()
    assert layout["start_line"] == "decide"


def test_one_start_dates_no_second_sweep(tmp_path: Path) -> None:
    """A file of two sweeps with one start leaves them undated, and says so."""
    layout = Layout(
        columns=columns(f="frequency:Hz", re="real:ohm", im="imaginary:ohm"),
        start_line="measured:",
    )
    sweep = [f"{10.0 ** (4 - n / 4):.6g},{5 + n},{-1 - n / 10}" for n in range(20)]
    text = lines("measured: 2026-02-08T16:32:05", "f,re,im", *sweep, *sweep)
    got = read(tmp_path, {"A.csv": text}, layout, impedance=True)
    assert not np.any(np.isfinite(got.points["time_s"]))
    assert got.findings["one start for several sweeps"]["severity"] == "caution"
