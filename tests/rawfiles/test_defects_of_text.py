"""What real exports do to their text, each defect by its name: the file is read right, or refused.

The list of defects is common practice, no source; where a value is checked, its source stands
beside it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from raw_files import OPEN, PLAIN, UNIX, charge, columns, lines, read

from trivet.rawfiles.layout.patterns import find_files
from trivet.schema.settings.raw import Layout, LayoutColumn, Raw, RawFiles

PLAIN_LAYOUT = Layout(columns=PLAIN)


@pytest.mark.parametrize(
    ("encoding", "declared", "told"),
    [
        ("utf-8", "cp1252", "utf-8, which the bytes prove"),
        ("utf-8-sig", "cp1252", "utf-8 from the byte order mark"),
        ("utf-16", "cp1252", "from the byte order mark"),
        ("utf-16-le", "cp1252", "utf-16-le, which the bytes prove"),
        ("utf-16-be", "utf-8", "utf-16-be, which the bytes prove"),
        ("cp1252", "cp1252", ""),
        ("gbk", "gbk", ""),
    ],
)
def test_defect_01_encodings(tmp_path: Path, encoding: str, declared: str, told: str) -> None:
    """Byte order mark, then UTF-8 where the bytes are that, then as declared; the choice is told.

    Round trips through the standard library's codecs.
    """
    word = "温度" if encoding == "gbk" else "Prüfling µ"
    layout = Layout(
        encoding=declared,
        columns=[*PLAIN, LayoutColumn(header=word, quantity="temperature", unit="degC")],
    )
    got = read(tmp_path, {"A.csv": lines(f"t,I,U,{word}", "0,1,3.4,25").encode(encoding)}, layout)
    assert list(got.series["temperature_degC"]) == [25]
    assert told in got.assumed


@pytest.mark.parametrize("header", ["I/µA", "I/μA", "I/Âµ" + "A", "I/Î¼A"])
def test_defect_01_mangled_signs(tmp_path: Path, header: str) -> None:
    """Both signs for micro, and what is left of them when UTF-8 was read as Windows-1252."""
    layout = Layout(columns=[PLAIN[0], PLAIN[2], *columns(**{"I/µA": "current:uA"})])
    got = read(tmp_path, {"A.csv": lines(f"t,U,{header}", "0,3.4,1500")}, layout)
    assert list(got.series["current_mA"]) == [1.5]


def test_defect_02_decimal_comma_and_thousands_sign(tmp_path: Path) -> None:
    """`1.234,5` is 1234.5 and `0,001` is 0.001 where the comma is declared (worked by hand)."""
    layout = Layout(delimiter=";", decimal=",", columns=PLAIN)
    rows = lines("t;I;U", "1.234,5;0,001;3,4", "1 235,5;1;3,4", "1'236,5;1;3,4", "1\u202f237,5;1;3")
    got = read(tmp_path, {"A.csv": rows}, layout)
    assert list(np.diff(got.series["time_s"])) == [1, 1, 1]
    assert got.series["current_mA"][0] == 0.001


def test_defect_02_ambiguous_group_is_refused_unless_declared(tmp_path: Path) -> None:
    """`1,234` alone may be either: its row is set aside, until a thousands sign is declared."""
    rows = {"A.csv": lines("t;I;U", "0;1;3.4", "1,234;1;3.5")}
    layout = Layout(delimiter=";", columns=PLAIN)
    assert read(tmp_path, rows, layout).findings["unreadable value"]["line"] == 3
    declared = Layout(delimiter=";", thousands=",", columns=PLAIN)
    assert list(read(tmp_path, rows, declared).series["time_s"]) == [0, 1234]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", " ", "|"])
def test_defect_03_delimiters_and_quotes(tmp_path: Path, delimiter: str) -> None:
    """Every delimiter is read, quoted fields as in RFC 4180."""
    text = lines("t|I|U", '0|"1"|3.4', "60|1|3.5").replace("|", delimiter)
    layout = Layout(delimiter=delimiter, columns=PLAIN)  # type: ignore[arg-type]
    assert list(read(tmp_path, {"A.csv": text}, layout).series["current_mA"]) == [1, 1]


def test_defect_04_preamble_and_footer(tmp_path: Path) -> None:
    """The header is found by its names; what stands before it is kept, a footer is set aside."""
    text = lines("Lines before the data: 4", "cell;A", "", "t;I;U", "0;1;3.4", "60;1;3.5", "end")
    got = read(tmp_path, {"A.csv": text}, Layout(delimiter=";", columns=PLAIN))
    assert list(got.series["line"]) == [5, 6]
    assert got.ledger[0]["preamble"] == "Lines before the data: 4 | cell;A"
    assert got.findings["wrong number of columns"]["line"] == 7


def test_defect_05_unit_row_that_is_not_declared(tmp_path: Path) -> None:
    """A row of known units and no number is no data; one that contradicts the layout is refused."""
    rows = lines("t,I,U", "s,mA,V", "0,1,3.4")
    got = read(tmp_path, {"A.csv": rows}, PLAIN_LAYOUT)
    assert list(got.series["line"]) == [3]
    assert "line 2 is a row of units" in got.assumed
    got = read(tmp_path, {"A.csv": rows.replace("mA", "A")}, PLAIN_LAYOUT)
    assert got.findings["unit differs"]["severity"] == "fault"


def test_defect_05_unknown_unit(tmp_path: Path) -> None:
    """A unit row with a unit that is not known stops the file."""
    got = read(tmp_path, {"A.csv": lines("t,I,U", "s,mA,furlong", "0,1,3.4")}, PLAIN_LAYOUT)
    assert "'furlong', which is not known" in str(got.findings["unknown unit"]["message"])


def test_defect_07_repeated_header(tmp_path: Path) -> None:
    """The same header between the rows is dropped and counted."""
    text = lines(OPEN, "0,0,3.4", OPEN, "60,0,3.4")
    got = read(tmp_path, {"A.csv": text})
    assert list(got.series["line"]) == [2, 4]
    assert got.findings["repeated header"]["line"] == 3


def test_defect_07_another_header_begins_a_segment(tmp_path: Path) -> None:
    """Columns that change their order between the rows are read by the new header."""
    text = lines("t,I,U", "0,1,3.4", "U,t,x,I", "3.5,60,9,2", "t,I,U", "120,1,3.6")
    got = read(tmp_path, {"A.csv": text}, PLAIN_LAYOUT)
    assert list(got.series["cell_V"]) == [3.4, 3.5, 3.6]
    assert list(got.series["current_mA"]) == [1, 2, 1]
    assert "from line 3 on another header" in got.assumed


def test_defect_07_another_header_without_a_declared_column(tmp_path: Path) -> None:
    """Rows below a header that lacks a column are set aside, since nothing says what they are."""
    text = lines("t,I,U", "0,1,3.4", "t,I,E", "60,1,3.5", "120,1,3.6")
    got = read(tmp_path, {"A.csv": text}, PLAIN_LAYOUT)
    assert list(got.series["line"]) == [2]
    assert got.findings["other header between the rows"]["severity"] == "fault"
    assert got.ledger[0]["rows_set_aside"] == 3


@pytest.mark.parametrize("word", ["NaN", "OL", "OVER", "---", "#N/A", "1.#INF", "-9999", "9.9E37"])
def test_defect_19_words_for_no_value(tmp_path: Path, word: str) -> None:
    """Over-range and absent values are missing with a note, and their rows are kept."""
    got = read(tmp_path, {"A.csv": lines(OPEN, "0,0,3.4", f"60,0,{word}", "120,0,", "180,0,3.4")})
    assert np.isnan(got.series["cell_V"]).tolist() == [False, True, True, False]
    assert got.findings["missing value"]["value"] == 2


def test_defect_20_truncated_last_line(tmp_path: Path) -> None:
    """A last line that lacks fields and its end is dropped and told."""
    got = read(tmp_path, {"A.csv": lines(OPEN, "0,0,3.4") + "60,0"})
    assert list(got.series["line"]) == [2]
    assert got.findings["truncated last line"]["line"] == 3


def test_defect_21_number_cut_in_the_middle(tmp_path: Path) -> None:
    """A last line with every field but no line end is dropped: `3.4` may be of `3.4127`."""
    got = read(tmp_path, {"A.csv": lines(OPEN, "0,0,3.4127") + "60,0,3.4"})
    assert list(got.series["cell_V"]) == [3.4127]
    assert got.ledger[0]["rows_set_aside"] == 1


def test_defect_22_zero_bytes_after_a_power_failure(tmp_path: Path) -> None:
    """A block of zeros costs the rows it hit; its offset is told; reading resumes at whole rows."""
    head = lines(OPEN, "0,0,3.4", "60,0,3.4").encode()
    content = head + b"120,0" + b"\0" * 600 + b",3.4\n180,0,3.4\n"
    got = read(tmp_path, {"A.csv": content})
    assert list(got.series["time_s"]) == [0, 60, 180]
    assert got.findings["zero bytes"]["value"] == len(head) + len("120,0")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_defect_23_line_ends_blank_lines_form_feeds(tmp_path: Path, end: str) -> None:
    """All line ends, blank lines and form feeds leave the rows and their lines as they are."""
    text = end.join([OPEN, "0,0,3.4", "", "\f", "60,0,3.4", ""])
    got = read(tmp_path, {"A.csv": text.encode()})
    assert list(got.series["line"]) == [2, 5]
    assert got.ledger[0]["rows_seen"] == 2


def test_defect_24_trailing_delimiter_and_ragged_rows(tmp_path: Path) -> None:
    """A blank last column is no column; a row with a field too many or too few is set aside."""
    got = read(
        tmp_path, {"A.csv": lines(OPEN + ",", "0,0,3.4,", "60,0,3.4,9,", "120,0", "180,0,3,")}
    )
    assert list(got.series["line"]) == [2, 5]
    ragged = got.findings["wrong number of columns"]
    assert (ragged["line"], ragged["value"]) == (3, 2)


def test_defect_25_numbers_turned_into_dates(tmp_path: Path) -> None:
    """A text that a spreadsheet rewrote, `3.4` to `03. Apr`, is refused as a whole."""
    rows = [f"{60 * n},0,{'03. Apr' if n % 2 else 3.41}" for n in range(10)]
    got = read(tmp_path, {"A.csv": lines(OPEN, *rows)})
    assert got.findings["date in place of a number"]["severity"] == "fault"
    assert got.ledger[0]["rows_used"] == 0


def test_defect_33_columns_in_another_order_or_language(tmp_path: Path) -> None:
    """Order does not matter, declared aliases name the same column, and the mapping is told."""
    layout = Layout(
        columns=[
            LayoutColumn(header="Zeit/s", also=["Time/s"], quantity="elapsed time", unit="s"),
            LayoutColumn(header="Strom/mA", also=["Current/mA"], quantity="current", unit="mA"),
            LayoutColumn(
                header="Spannung/V", also=["Voltage/V"], quantity="cell voltage", unit="V"
            ),
        ]
    )
    german = read(tmp_path, {"A.csv": lines("Zeit/s,Strom/mA,Spannung/V", "0,1,3.4")}, layout)
    english = read(tmp_path, {"A.csv": lines("Voltage/V,Time/s,Current/mA", "3.4,0,1")}, layout)
    for name in ("time_s", "current_mA", "cell_V"):
        assert german.series[name].tolist() == english.series[name].tolist()
    assert "elapsed time from 'Time/s' in s" in english.assumed


@pytest.mark.parametrize("content", [b"", b"\n\n", b" "])
def test_defect_36_empty_file(tmp_path: Path, content: bytes) -> None:
    """A file of no bytes is told, and the cell stays in the count."""
    got = read(tmp_path, {"A.csv": content})
    assert got.findings["empty file"]["severity"] == "fault"
    assert got.findings["no data"]["action"] == "cell counted without data"
    assert len(got.ledger) == 1


def test_defect_36_folder_lock_copy_and_no_permission(tmp_path: Path) -> None:
    """A folder in place of a file is told; the lock copy of a workbook is no file of a cell."""
    (tmp_path / "A.csv").mkdir()
    (tmp_path / "~$A.xlsx").write_bytes(b"lock")
    raw = Raw(cycling=[RawFiles(files="{cell}.csv"), RawFiles(files="{cell}.xlsx")])
    assert find_files(tmp_path, raw, "A") == []
    secret = tmp_path / "A_1.csv"
    secret.write_text(charge(), encoding="utf-8")
    secret.chmod(0)
    try:
        readable = secret.open("rb")
        readable.close()
    except PermissionError:
        got = read(tmp_path, {})
        assert "unreadable file" in got.findings
    finally:
        secret.chmod(0o600)


@pytest.mark.parametrize("name", ["Zelle ä 1", "007", "1e5", "ß-Ω", "x" * 200])
@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_defect_37_names_of_files(tmp_path: Path, name: str, form: str) -> None:
    """Blanks, accents in both of Unicode's forms, long names, ids that look like numbers.

    Forms by the standard library's Unicode data.
    """
    import unicodedata  # noqa: PLC0415

    (tmp_path / unicodedata.normalize(form, f"{name}.csv")).write_text(charge(), encoding="utf-8")
    raw = Raw(cycling=[RawFiles(files="{cell}.csv")])
    assert len(find_files(tmp_path, raw, name)) == 1
    assert find_files(tmp_path, raw, name.upper() + "?") == []


def test_defect_37_letter_case_is_part_of_a_name(tmp_path: Path) -> None:
    """`a.csv` is no file of cell `A`, and `7` is not `007`."""
    for name in ("a", "7"):
        (tmp_path / f"{name}.csv").write_text(charge(), encoding="utf-8")
    raw = Raw(cycling=[RawFiles(files="{cell}.csv")])
    assert [find_files(tmp_path, raw, cell) for cell in ("A", "007")] == [[], []]


@pytest.mark.parametrize("cell", ["=1+1", "+SUM(A1)", "@x", "-2+3"])
def test_defect_38_formulas(tmp_path: Path, cell: str) -> None:
    """Text that looks like a formula is text: unreadable as a number, never computed."""
    got = read(tmp_path, {"A.csv": lines(UNIX, "0,0,3.4", f"60,0,{cell}")})
    assert got.findings["unreadable value"]["line"] == 3
    assert got.ledger[0]["rows_used"] == 1
