"""The series of a cell: times, parts, overlaps, cuts, signs and derived potentials."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trivet.rawfiles.layout.patterns import find_files
from trivet.rawfiles.ledger import file_findings, ledger_row
from trivet.rawfiles.plating import read_platings
from trivet.rawfiles.series import SeriesRead, read_series
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.raw import Layout, LayoutColumn, Raw, RawFiles

OPEN = "Test Time / s,Current / A,Voltage / V"
UNIX = "Unix Time / s,Current / A,Voltage / V"
RAW = Raw(cycling=[RawFiles(files="{cell}.csv"), RawFiles(files="{cell}_{part}.csv")])


def local_layout(**changes: object) -> Layout:
    """Local times, current and cell voltage."""
    columns = [
        LayoutColumn(header="date", quantity="absolute time", format="%d.%m.%Y %H:%M:%S"),
        LayoutColumn(header="I", quantity="current", unit="mA"),
        LayoutColumn(header="U", quantity="cell voltage", unit="V"),
    ]
    return Layout(**({"columns": columns} | changes))  # type: ignore[arg-type]


def read(
    folder: Path,
    files: dict[str, str],
    *,
    raw: Raw = RAW,
    started_s: float | None = None,
    cut_s: float | None = None,
) -> SeriesRead:
    """Write files of cell A and read them."""
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return read_series(
        find_files(folder, raw, "A"),
        facts=CellFacts("A", "1", cycling_started_s=started_s),
        raw=raw,
        time_zone="Europe/Berlin",
        data_cut_s=cut_s,
    )


def findings(got: SeriesRead) -> dict[str, Finding]:
    """Findings by check."""
    return {found.check: found for found in [*got.findings, *file_findings(got.reads)]}


def rows(times: list[float], header: str = UNIX, current: float = 0.0) -> str:
    """A file with rows at these times."""
    return "\n".join([header, *(f"{time!r},{current},3.4" for time in times)]) + "\n"


def charge(sign: int = 1, start: int = 0, header: str = UNIX) -> str:
    """A charge of an hour at 1 mA, written with a sign."""
    body = [f"{start + 60 * n},{sign * 0.001},{3.0 + 0.01 * n:.3f}" for n in range(61)]
    return "\n".join([header, *body]) + "\n"


def test_elapsed_time_counts_from_the_start_of_cycling(tmp_path: Path) -> None:
    """A file without calendar is placed by the build sheet's start of cycling."""
    got = read(tmp_path, {"A.csv": rows([5, 15], OPEN)}, started_s=1e9)
    assert list(got.columns["time_s"]) == [1e9, 1e9 + 10]
    assert ledger_row(got.reads[0])["absolute_time"] == "yes"
    row = ledger_row(got.reads[0])
    assert "start of cycling" in str(row["assumed"])
    assert str(row["inferred"]).startswith("elapsed time counts from the start of cycling")


def test_without_any_calendar_times_start_at_zero(tmp_path: Path) -> None:
    """Elapsed time alone gives times from 0, one finding, and no data cut."""
    got = read(tmp_path, {"A.csv": rows([5, 15], OPEN)}, cut_s=1.0)
    assert list(got.columns["time_s"]) == [0, 10]
    assert ledger_row(got.reads[0])["absolute_time"] == "no"
    assert "data cut can't be applied" in findings(got)["no absolute time"].message


def test_parts_that_count_on_are_joined_as_they_count(tmp_path: Path) -> None:
    """Elapsed time that runs on through the parts keeps its pauses."""
    files = {"A_2.csv": rows([1000, 1010], OPEN), "A_1.csv": rows([0, 10], OPEN)}
    got = read(tmp_path, files, started_s=0.0)
    assert list(got.columns["time_s"]) == [0, 10, 1000, 1010]


def test_parts_that_start_anew_are_joined_with_a_caution(tmp_path: Path) -> None:
    """A restarted elapsed time leaves the pause unknown, which is said and marks the calendar."""
    files = {"A_1.csv": rows([0, 10], OPEN), "A_2.csv": rows([0, 7], OPEN, 0.0005)}
    got = read(tmp_path, files, started_s=100.0)
    assert list(got.columns["time_s"]) == [100, 110, 110, 117]
    assert findings(got)["pause not known"].severity == "caution"
    assert [ledger_row(one)["absolute_time"] for one in got.reads] == ["yes", "no"]


def test_files_are_joined_by_calendar_not_by_name(tmp_path: Path) -> None:
    """Files with absolute time come in the order of their first rows."""
    files = {"A_1.csv": rows([2000, 2010]), "A_2.csv": rows([1000, 1010])}
    got = read(tmp_path, files)
    assert list(got.columns["time_s"]) == [1000, 1010, 2000, 2010]
    assert got.columns["file"].to_pylist() == ["A_2.csv", "A_2.csv", "A_1.csv", "A_1.csv"]


def test_overlapping_files_that_contradict_stop_the_cell(tmp_path: Path) -> None:
    """Two files that say different things of one stretch: no file of the cell is used."""
    files = {"A_1.csv": rows([0, 100]), "A_2.csv": rows([50, 150])}
    got = read(tmp_path, files)
    assert len(got.columns["time_s"]) == 0
    assert findings(got)["overlapping files"].severity == "fault"
    assert [ledger_row(one)["rows_set_aside"] for one in got.reads] == [2, 2]


def test_rows_that_stand_in_an_earlier_file_count_once(tmp_path: Path) -> None:
    """An export of all so far repeats the rows of the one before, which are dropped."""
    for header in (UNIX, OPEN):
        files = {"A_1.csv": rows([0, 50, 100], header), "A_2.csv": rows([0, 50, 100, 150], header)}
        got = read(tmp_path, files)
        assert list(got.columns["time_s"]) == [0, 50, 100, 150]
        assert findings(got)["exact duplicate"].file == "A_2.csv"


def test_same_content_stops_the_cell(tmp_path: Path) -> None:
    """A copy under another name stops the cell's cycling; the finding names both files."""
    files = {"A_1.csv": rows([0, 1]), "A_2.csv": rows([0, 1]), "A_3.csv": rows([5, 6])}
    got = read(tmp_path, files)
    assert len(got.columns["line"]) == 0
    found = findings(got)["same file twice"]
    assert found.severity == "fault"
    assert "'A_2.csv' has the same content as 'A_1.csv': remove one" in found.message
    assert [ledger_row(one)["rows_set_aside"] for one in got.reads] == [2, 2, 2]


def test_parts_that_have_a_header_only_are_no_copies(tmp_path: Path) -> None:
    """Two files that have only begun say nothing twice."""
    files = {"A_1.csv": rows([0, 1]), "A_2.csv": f"{UNIX}\n", "A_3.csv": f"{UNIX}\n"}
    assert list(read(tmp_path, files).columns["time_s"]) == [0, 1]


def test_elapsed_time_stays_beside_the_joined_time(tmp_path: Path) -> None:
    """The joined time less the elapsed time as recorded is one offset for each file."""
    got = read(tmp_path, {"A_1.csv": rows([0, 50], OPEN), "A_2.csv": rows([0, 30, 60], OPEN)})
    assert list(got.columns["elapsed_s"]) == [0, 50, 0, 30, 60]
    assert list(got.columns["time_s"] - got.columns["elapsed_s"]) == [0, 0, 50, 50, 50]
    calendar = read(tmp_path, {"A_1.csv": rows([10, 20], UNIX)})
    assert np.all(np.isnan(calendar.columns["elapsed_s"]))


def test_two_rows_at_one_time_stay_in_order(tmp_path: Path) -> None:
    """P1-10: both rows of a step change are kept in the order of the file."""
    body = f"{UNIX}\n0,0.001,3\n1800,0.001,3.1\n1800,-0.001,3.0\n3600,-0.001,2.9\n"
    got = read(tmp_path, {"A.csv": body})
    assert list(got.columns["time_s"]) == [0, 1800, 1800, 3600]
    assert list(got.columns["current_mA"]) == [1, 1, -1, -1]


@pytest.mark.parametrize("header", [UNIX, OPEN])
@pytest.mark.parametrize(
    ("times", "lone"), [([0, 10, 9e6, 20, 30, 40], 4), ([0, 10, 20, 30, 9e6, 40, 50], 6)]
)
def test_a_single_row_far_ahead_costs_itself_only(
    tmp_path: Path, header: str, times: list[float], lone: int
) -> None:
    """One row ahead of the clock is set aside; the rows behind it go on from those before."""
    got = read(tmp_path, {"A.csv": rows(times, header)})
    assert list(got.columns["time_s"]) == [time for time in times if time < 9e6]
    assert (findings(got)["clock far ahead"].line, findings(got)["clock far ahead"].value) == (
        lone,
        1,
    )
    assert "clock goes back" not in findings(got)


def test_a_first_row_far_ahead_costs_itself_only(tmp_path: Path) -> None:
    """The first row has no row before it, but those behind it go on by themselves."""
    got = read(tmp_path, {"A.csv": rows([9e6, 10, 20, 30], UNIX)})
    assert list(got.columns["time_s"]) == [10, 20, 30]


def test_a_wrong_date_in_one_row_moves_no_other(tmp_path: Path) -> None:
    """With two clocks, a calendar that is wrong in one row costs that row, not those behind."""
    text = "Test Time / s,Unix Time / s,Current / A,Voltage / V\n" + "".join(
        f"{10 * n},{9e8 if n == 3 else 1000 + 10 * n},0,3\n" for n in range(8)
    )
    got = read(tmp_path, {"A.csv": text})
    assert list(got.columns["time_s"]) == [1000 + 10 * n for n in range(8) if n != 3]


def test_two_rows_ahead_are_no_slip(tmp_path: Path) -> None:
    """Where two rows agree on the later time the clock was set back, and nothing is guessed."""
    got = read(tmp_path, {"A.csv": rows([0, 10, 5000, 5010, 20, 30], UNIX)})
    assert list(got.columns["time_s"]) == [0, 10, 5000, 5010]
    assert findings(got)["clock goes back"].value == 2


def test_clock_that_goes_back(tmp_path: Path) -> None:
    """Rows before a time already reached are set aside, never sorted in."""
    got = read(tmp_path, {"A.csv": rows([0, 100, 40, 90, 100, 110])})
    assert list(got.columns["line"]) == [2, 3, 6, 7]
    found = findings(got)["clock goes back"]
    assert (found.line, found.value, found.severity) == (4, 2, "fault")


def test_rows_without_time_are_set_aside(tmp_path: Path) -> None:
    """A row whose time is missing can't be placed."""
    got = read(tmp_path, {"A.csv": f"{UNIX}\n0,0,3\n,0,3\n2,0,3\n"})
    assert list(got.columns["line"]) == [2, 4]
    assert findings(got)["no time"].line == 3


def test_local_times_through_the_end_of_summer_time(tmp_path: Path) -> None:
    """P1-25: 02:59:50 then 02:00:10 on 2024-10-27 in Berlin are 20 s apart (IANA zone data)."""
    raw = Raw(
        cycling=[RawFiles(files="{cell}.csv", layout="bench")], layouts={"bench": local_layout()}
    )
    body = "date,I,U\n27.10.2024 02:59:50,0,3\n27.10.2024 02:00:10,0,3\n"
    got = read(tmp_path, {"A.csv": body}, raw=raw)
    assert list(got.columns["time_s"]) == [1729990790, 1729990810]
    assert findings(got)["hour that occurs twice"].severity == "note"


def test_zone_of_the_layout_outranks_the_campaign(tmp_path: Path) -> None:
    """Times of day are read in the layout's zone where it states one."""
    layout = local_layout(time_zone="UTC")
    raw = Raw(cycling=[RawFiles(files="{cell}.csv", layout="bench")], layouts={"bench": layout})
    got = read(tmp_path, {"A.csv": "date,I,U\n05.03.2026 10:00:00,0,3\nsoon,0,3\n"}, raw=raw)
    assert list(got.columns["time_s"]) == [datetime(2026, 3, 5, 10, tzinfo=UTC).timestamp()]
    assert findings(got)["unreadable value"].line == 3


def test_elapsed_time_gives_differences_and_the_calendar_the_start(tmp_path: Path) -> None:
    """Where both are given, a calendar of whole seconds does not blur the steps."""
    body = f"Unix Time / s,{OPEN}\n1000,0.0,0,3\n1000,0.4,0,3\n1001,0.8,0,3\n1030,25.0,0,3\n"
    got = read(tmp_path, {"A.csv": body})
    assert list(got.columns["time_s"]) == [1000, 1000.4, 1000.8, 1025]
    assert findings(got)["two clocks disagree"].value == pytest.approx(5.0)


def test_elapsed_time_that_pauses_is_joined_by_the_calendar(tmp_path: Path) -> None:
    """A pause that only the calendar saw keeps its length; a clock set forward an hour is none."""
    body = f"Unix Time / s,{OPEN}\n0,0,0,3\n10,10,0,3\n40010,10,0,3\n40020,20,0,3\n"
    got = read(tmp_path, {"A.csv": body})
    assert list(got.columns["time_s"]) == [0, 10, 40010, 40020]
    assert findings(got)["elapsed time paused"].line == 4
    shifted = f"Unix Time / s,{OPEN}\n0,0,0,3\n10,10,0,3\n3620,20,0,3\n"
    assert list(read(tmp_path, {"A.csv": shifted}).columns["time_s"]) == [0, 10, 20]


def test_rows_after_the_cut_do_not_exist(tmp_path: Path) -> None:
    """A cut file gives the same series and ledger counts as the file did at that time."""
    early = rows([0, 10, 20])
    late = early + "30,0,3.4\nx,0,3\n40,0,3.4\n50,0"
    first = read(tmp_path, {"A.csv": early}, cut_s=20.0)
    second = read(tmp_path, {"A.csv": late}, cut_s=20.0)
    for name, column in first.columns.items():
        np.testing.assert_array_equal(column, second.columns[name])
    assert findings(first) == findings(second)
    assert ledger_row(second.reads[0])["rows_seen"] == 3


def test_declared_sign_is_applied_and_proved(tmp_path: Path) -> None:
    """A layout with negative charge is turned, and the ledger says what proves it."""
    layout = Layout(
        charging_current="negative",
        columns=[
            LayoutColumn(header="Unix Time / s", quantity="unix time", unit="s"),
            LayoutColumn(header="Current / A", quantity="current", unit="A"),
            LayoutColumn(header="Voltage / V", quantity="cell voltage", unit="V"),
        ],
    )
    raw = Raw(cycling=[RawFiles(files="{cell}.csv", layout="bench")], layouts={"bench": layout})
    got = read(tmp_path, {"A.csv": charge(-1)}, raw=raw)
    assert np.all(got.columns["current_mA"] == 1.0)
    assert "proved by the voltage: 1 mAh for it" in str(ledger_row(got.reads[0])["assumed"])


def test_contradicted_sign_stops_all_cycling_files(tmp_path: Path) -> None:
    """A sign against the voltage in one file sets all cycling files of the cell aside."""
    got = read(tmp_path, {"A_1.csv": charge(1), "A_2.csv": charge(-1, start=10_000)})
    assert len(got.columns["time_s"]) == 0
    faults = [found for found in file_findings(got.reads) if found.check == "sign of current"]
    assert {found.file for found in faults} == {"A_1.csv", "A_2.csv"}
    assert all(ledger_row(one)["rows_set_aside"] == 61 for one in got.reads)


def test_missing_evidence_takes_the_declared_sign(tmp_path: Path) -> None:
    """A file of rest proves no sign, which is a note, and its rows are used."""
    got = read(tmp_path, {"A.csv": rows([0, 10, 20])})
    assert findings(got)["sign of current"].severity == "note"
    assert len(got.columns["time_s"]) == 3


@pytest.mark.parametrize("absent", ["cell_V", "positive_V", "negative_V"])
def test_third_of_three_is_derived(tmp_path: Path, absent: str) -> None:
    """Two of cell, positive and negative give the third: cell = positive - negative (Kirchhoff)."""
    headers = {
        "cell_V": ("Voltage / V", 3.4),
        "positive_V": ("Positive Electrode Potential / V", 3.5),
        "negative_V": ("Negative Electrode Potential / V", 0.1),
    }
    given_here = [value for name, value in headers.items() if name != absent]
    head = ",".join(["Unix Time / s", "Current / A", *(header for header, _ in given_here)])
    line = ",".join(["0", "0", *(str(value) for _, value in given_here)])
    got = read(tmp_path, {"A.csv": f"{head}\n{line}\n"})
    assert got.columns[absent][0] == pytest.approx(headers[absent][1])
    assert ledger_row(got.reads[0])["derived"] == absent


def test_cell_voltage_alone_is_allowed_and_said_once(tmp_path: Path) -> None:
    """A two-electrode cell is read; that nothing is known of its electrodes is one note."""
    got = read(tmp_path, {"A_1.csv": rows([0, 1]), "A_2.csv": rows([5, 6])})
    assert [found.check for found in got.findings] == ["electrodes not measured"]
    assert np.all(np.isnan(got.columns["positive_V"]))


@pytest.mark.parametrize(
    ("header", "line", "what"),
    [
        ("Unix Time / s,Current / A,Positive Electrode Potential / V", "0,0,3", "neither a cell"),
        ("Unix Time / s,Voltage / V,Cycle Count / 1", "0,3,1", "no column of current"),
        ("Cycle Count / 1,Voltage / V,Current / A", "1,3,0", "no column of time"),
    ],
)
def test_columns_that_a_cell_needs(tmp_path: Path, header: str, line: str, what: str) -> None:
    """Without time, current or a cell voltage a file is set aside, and says which."""
    got = read(tmp_path, {"A.csv": f"{header}\n{line}\n"})
    assert what in findings(got)["missing column"].message
    assert len(got.columns["time_s"]) == 0


def test_over_range_is_missing_and_its_row_kept(tmp_path: Path) -> None:
    """An over-range voltage is missing, not a number and not a reason to lose the current."""
    got = read(tmp_path, {"A.csv": f"{UNIX}\n0,0.001,3.0\n1,0.001,OL\n2,0.001,9.9E37\n"})
    assert list(np.isnan(got.columns["cell_V"])) == [False, True, True]
    assert (findings(got)["missing value"].line, findings(got)["missing value"].value) == (3, 2)


def test_no_file_gives_an_empty_series(tmp_path: Path) -> None:
    """A cell without files has no rows and no findings of its own."""
    got = read(tmp_path, {})
    assert len(got.columns["time_s"]) == 0
    assert got.reads == got.findings == ()


FIELD = st.sampled_from(
    ["0", "1", "2", "3", "50", "", "OL", "x", "1e3", "-1", '"', "\0", "1,5", "nan"]
)


@given(
    st.lists(st.lists(st.lists(FIELD, min_size=2, max_size=4), max_size=8), min_size=1, max_size=3),
    st.booleans(),
    st.one_of(st.none(), st.just(1.5)),
)
@settings(max_examples=120, deadline=None)
def test_rows_seen_are_used_or_set_aside(
    tmp_path_factory: pytest.TempPathFactory,
    parts: list[list[list[str]]],
    ended: bool,
    started_s: float | None,
) -> None:
    """Whatever stands in the files, every filled line is counted once and no error is raised."""
    folder = tmp_path_factory.mktemp("rows")
    files = {
        f"A_{part}.csv": "\n".join([UNIX if part else OPEN, *(",".join(line) for line in lines)])
        + ("\n" if ended else "")
        for part, lines in enumerate(parts)
    }
    got = read(folder, files, started_s=started_s)
    used = 0
    for one in got.reads:
        row = ledger_row(one)
        filled = sum(1 for line in files[one.file.relative].split("\n") if line.strip())
        found_header = "no header" not in {found.check for found in one.findings}
        assert row["rows_seen"] == len(one.lines) + one.rows_aside == filled - found_header
        used += len(one.lines)
        told = {found.check for found in file_findings([one])}
        assert set(one.aside) <= told
    assert used == len(got.columns["time_s"])
    assert np.all(np.diff(got.columns["time_s"]) >= 0)


def test_a_plating_file_that_stands_twice_counts_for_nothing(tmp_path: Path) -> None:
    """The charge of one plating must not be added up twice."""
    raw = Raw(plating=[RawFiles(files="{cell}_{part}.csv")])
    for part in (1, 2):
        (tmp_path / f"A_{part}.csv").write_text(rows([0, 10, 20], current=-0.001))
    got = read_platings(find_files(tmp_path, raw, "A"), cell="A", raw=raw, time_zone="UTC")
    assert len(got.columns["time_s"]) == 0
    assert "'A_2.csv' has the same content as 'A_1.csv'" in got.reads[0].findings[0].message
