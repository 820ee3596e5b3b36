"""One raw file: encodings, preambles, headers, units, and what is set aside."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.rawfiles.layout.declared import layout_named
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.raw_read import RawRead, aside_findings
from trivet.rawfiles.reading.reader import read_file
from trivet.schema.settings.raw import Layout, LayoutColumn, Raw

BENCH = [
    LayoutColumn(header="time/h", quantity="elapsed time", unit="h"),
    LayoutColumn(header="I/µA", quantity="current", unit="uA"),
    LayoutColumn(header="Ewe °", quantity="cell voltage", unit="mV"),
]


def read(tmp_path: Path, content: bytes, layout: Layout | None = None) -> RawRead:
    """Read a file with these bytes, by default as the open format."""
    path = tmp_path / "A.csv"
    path.write_bytes(content)
    name = "bdf" if layout is None else "bench"
    raw = Raw(layouts={} if layout is None else {"bench": layout})
    file = RawFile(path, "A.csv", "cycling", name)
    return read_file(file, cell="A", layout=layout_named(raw, name=name, time_zone="UTC"))


def bench(**changes: object) -> Layout:
    """A layout of three columns with semicolons and decimal comma."""
    given: dict[str, object] = {"delimiter": ";", "decimal": ",", "columns": BENCH}
    return Layout(**(given | changes))  # type: ignore[arg-type]


TEXT = "time/h;I/µA;Ewe °\n0,5;1000;3412\n1,0;-500;3400\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path: Path, encoding: str, end: str) -> None:
    """A byte order mark outranks the declared encoding; all three line ends are read."""
    declared = "cp1252" if encoding == "cp1252" else "utf-8"
    got = read(tmp_path, TEXT.replace("\n", end).encode(encoding), bench(encoding=declared))
    assert list(got.values["elapsed time"]) == [1800, 3600]
    assert list(got.values["current"]) == [1.0, -0.5]
    assert list(got.values["cell voltage"]) == [3.412, 3.4]
    assert list(got.lines) == [2, 3]


def test_both_signs_of_micro_name_one_column(tmp_path: Path) -> None:
    """U+00B5 and U+03BC are one sign in a header (Unicode NFKC)."""
    assert len(read(tmp_path, TEXT.replace("µ", "μ").encode(), bench()).lines) == 2


def test_preamble_and_unit_row(tmp_path: Path) -> None:
    """Lines before the header and the row of units are no data, and lines keep their numbers."""
    text = "Cell;A\n\nMade;by hand;today\ntime;I;E;extra\n[h];(µA);mV;V\n0,5;1000;3412;1\n"
    columns = [
        LayoutColumn(header=header, quantity=column.quantity, unit=column.unit)
        for header, column in zip(("time", "I", "E"), BENCH, strict=True)
    ]
    got = read(tmp_path, text.encode(), bench(unit_row=True, columns=columns))
    assert list(got.lines) == [6]
    assert got.rows_seen == 1


def test_unit_row_that_contradicts_the_layout_is_refused(tmp_path: Path) -> None:
    """Milliamperes under a column declared in microamperes set the file aside."""
    text = TEXT.replace("\n0,5", "\nh;mA;mV\n0,5")
    got = read(tmp_path, text.encode(), bench(unit_row=True))
    assert [finding.check for finding in got.findings] == ["unit differs"]
    assert "'uA', the row of units says 'mA'" in got.findings[0].message
    assert (len(got.lines), got.rows_seen) == (0, 2)


def test_missing_column_lists_what_was_found(tmp_path: Path) -> None:
    """A declared column that is absent sets the file aside and lists the headers."""
    got = read(tmp_path, TEXT.replace("I/µA", "I/mA").encode(), bench())
    assert got.findings[0].check == "missing column"
    assert got.findings[0].severity == "fault"
    assert "'time/h', 'I/mA', 'Ewe °'" in got.findings[0].message
    assert (got.rows_seen, got.rows_aside) == (2, 2)


def test_header_named_twice_is_refused(tmp_path: Path) -> None:
    """Two columns of one name are never guessed between."""
    got = read(tmp_path, TEXT.replace("Ewe °", "Ewe °;I/µA").encode(), bench())
    assert got.findings[0].check == "ambiguous column"


def test_unknown_unit_is_refused(tmp_path: Path) -> None:
    """A unit that is not known sets the file aside and counts its rows."""
    columns = [*BENCH[:2], LayoutColumn(header="Ewe °", quantity="cell voltage", unit="cV")]
    got = read(tmp_path, TEXT.encode(), bench(columns=columns))
    assert got.findings[0].check == "unknown unit"
    assert (len(got.lines), got.rows_aside) == (0, 2)


@pytest.mark.parametrize(
    "header",
    [
        # Battery Data Format 1.3.0: preferred labels, and machine names.
        "Test Time / s,Current / A,Voltage / V,Positive Electrode Potential / V",
        "TEST TIME / S,current / a,voltage / v,positive electrode potential / v",
        "test_time_second,current_ampere,voltage_volt,positive_electrode_potential_volt",
    ],
)
def test_open_format_needs_no_layout(tmp_path: Path, header: str) -> None:
    """Labels of the Battery Data Format are read whatever their case, machine names too."""
    got = read(tmp_path, f"{header}\n0,0.001,3.4,3.45\n".encode())
    assert {name: list(column) for name, column in got.values.items()} == {
        "elapsed time": [0.0],
        "current": [1.0],
        "cell voltage": [3.4],
        "positive potential": [3.45],
    }


def test_deprecated_milliseconds_of_the_open_format(tmp_path: Path) -> None:
    """The deprecated millisecond columns of the Battery Data Format are converted."""
    got = read(tmp_path, b"unix_time_millisecond,current_ampere,voltage_volt\n1500,0,3\n")
    assert list(got.values["unix time"]) == [1.5]


@pytest.mark.parametrize(
    ("content", "check"),
    [
        (b"", "empty file"),
        (b"\r\n \n", "empty file"),
        (b"\1\2\3\n", "no header"),
        (b"a,b\n1,2\n", "no header"),
    ],
)
def test_files_without_data_become_findings(tmp_path: Path, content: bytes, check: str) -> None:
    """A file that is empty or foreign is a fault of the data, never an error of the program."""
    got = read(tmp_path, content)
    assert [(finding.check, finding.severity) for finding in got.findings] == [(check, "fault")]
    assert got.rows_seen == got.rows_aside


def test_folder_in_place_of_a_file_becomes_a_finding(tmp_path: Path) -> None:
    """What can't be opened is a finding."""
    layout = layout_named(Raw(), name="bdf", time_zone="UTC")
    got = read_file(RawFile(tmp_path, "A.csv", "cycling", "bdf"), cell="A", layout=layout)
    assert [finding.check for finding in got.findings] == ["unreadable file"]


def test_unknown_encoding_is_told(tmp_path: Path) -> None:
    """An encoding that does not exist sets the file aside."""
    got = read(tmp_path, TEXT.encode(), bench(encoding="latin-99"))
    assert [finding.check for finding in got.findings] == ["unknown encoding"]


def test_header_without_rows_is_told(tmp_path: Path) -> None:
    """A test that has just begun has a header only."""
    got = read(tmp_path, b"Test Time / s,Current / A,Voltage / V\n")
    assert [finding.check for finding in got.findings] == ["no rows"]


def test_reasons_become_one_finding_each(tmp_path: Path) -> None:
    """Many rows of one reason are one finding with the first line and the count."""
    body = "Test Time / s,Current / A,Voltage / V\n0,0,3\n1,0\n2,x,3\n3,0\n4,0,3"
    found = {finding.check: finding for finding in aside_findings(read(tmp_path, body.encode()))}
    assert (found["wrong number of columns"].line, found["wrong number of columns"].value) == (3, 2)
    assert found["unreadable value"].line == 4
    assert (found["truncated last line"].line, found["truncated last line"].severity) == (6, "note")


def test_bytes_that_the_encoding_lacks_are_told(tmp_path: Path) -> None:
    """A broken byte costs its own row, and the file's encoding is reported."""
    got = read(tmp_path, b"Test Time / s,Current / A,Voltage / V\n0,0,3\n1,0,\xff3\n2,0,3\n")
    assert [finding.check for finding in got.findings] == ["encoding"]
    assert list(got.lines) == [2, 4]
    assert list(got.aside["unreadable value"]) == [3]


def test_rows_after_a_cut_take_their_broken_neighbours_along(tmp_path: Path) -> None:
    """A row set aside behind the cut is as if not yet in the file."""
    body = b"Test Time / s,Current / A,Voltage / V\n0,0,3\nx,0,3\n1,0,3\ny,0,3\n"
    got = read(tmp_path, body)
    cut = got.forget(np.array([False, True]))
    assert (list(cut.lines), {k: list(v) for k, v in cut.aside.items()}) == (
        [2],
        {"unreadable value": [3]},
    )
