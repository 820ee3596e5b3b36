"""Workbooks: sheets chosen by their headers, splits joined, dates as dates."""

from __future__ import annotations

import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
from raw_files import PLAIN, Outcome, charge, read

from trivet.rawfiles.proposal.propose import propose
from trivet.schema.settings.raw import Layout, LayoutColumn

PLAIN_LAYOUT = Layout(columns=PLAIN)


def book(folder: Path, sheets: dict[str, list[list[object]]], layout: Layout) -> Outcome:
    """Write a workbook of cell A and read it."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(folder / "A.xlsx")
    return read(folder, {"A.xlsx": (folder / "A.xlsx").read_bytes()}, layout)


def test_defect_25_several_sheets_and_a_summary(tmp_path: Path) -> None:
    """Sheets with the declared headers are joined in their order; a summary is never data."""
    sheets: dict[str, list[list[object]]] = {
        "summary": [["cycle", "capacity"], [1, 2.0]],
        "data": [["made by hand"], [], ["t", "I", "U", "x"], [0, 1.5, 3.4, "a"], [60, 1.5, 3.5]],
        "data (2)": [["t", "I", "U"], [120, 1.5, 3.6], [180, None, 3.7]],
    }
    got = book(tmp_path, sheets, PLAIN_LAYOUT)
    assert got.series["time_s"].tolist() == [0, 60, 120, 180]
    assert got.series["current_mA"].tolist()[:3] == [1.5] * 3
    assert got.findings["missing value"]["value"] == 1
    assert "sheets data, data (2) of 3" in got.assumed


def test_defect_25_merged_cells_and_dates(tmp_path: Path) -> None:
    """Dates come as the layout writes them, clocks as times; a merged title is a preamble."""
    layout = Layout(
        columns=[
            LayoutColumn(header="when", quantity="absolute time", format="%d.%m.%Y %H:%M:%S"),
            LayoutColumn(header="t", quantity="elapsed time", unit="h:m:s"),
            *PLAIN[1:],
        ]
    )
    made = openpyxl.Workbook()
    sheet = made.active
    sheet.append(["a title over all columns"])
    sheet.merge_cells("A1:D1")
    sheet.append(["when", "t", "I", "U"])
    start = datetime(2025, 3, 4, 12, 0, 0)
    for n in range(3):
        step = timedelta(hours=13 * n)
        sheet.append([start + step, step, 1, 3.4])
    made.save(tmp_path / "A.xlsx")
    got = read(tmp_path, {"A.xlsx": (tmp_path / "A.xlsx").read_bytes()}, layout)
    assert got.series["time_s"].tolist() == [1741089600 + 46800 * n for n in range(3)]
    assert got.ledger[0]["preamble"] == "a title over all columns"


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 broken", charge().encode()])
def test_no_workbook_is_told(tmp_path: Path, content: bytes) -> None:
    """A file that is no workbook, whatever its name, is a fault of the data."""
    got = read(tmp_path, {"A.xlsx": content}, PLAIN_LAYOUT)
    assert got.findings["unreadable file"]["severity"] == "fault"


def test_workbook_without_the_headers(tmp_path: Path) -> None:
    """A workbook none of whose sheets has the declared headers is refused with their names."""
    got = book(tmp_path, {"summary": [["cycle", "capacity"], [1, 2.0]]}, PLAIN_LAYOUT)
    assert "'summary'" in str(got.findings["no header"]["message"])


def test_a_stray_last_cell_costs_no_memory(tmp_path: Path) -> None:
    """One cell at the last place of a sheet states a size of 17 thousand million cells."""
    made = openpyxl.Workbook()
    sheet = made.active
    for row in [["t", "I", "U"], [0, 1.5, 3.4], [60, 1.5, 3.5]]:
        sheet.append(row)
    sheet.cell(1_048_576, 16_384).value = "x"
    made.save(tmp_path / "A.xlsx")
    got = read(tmp_path, {"A.xlsx": (tmp_path / "A.xlsx").read_bytes()}, PLAIN_LAYOUT)
    assert got.series["time_s"].tolist() == [0, 60]
    assert got.findings["wrong number of columns"]["line"] == 1_048_576
    # the peak of a process of its own [kB]: room that is only reserved does not count
    told = (
        "import sys; from pathlib import Path; "
        "from trivet.rawfiles.proposal.propose import propose; propose(Path(sys.argv[1])); "
        "print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    )
    if not Path("/proc/self/status").exists():
        pytest.skip("the peak of a process can't be asked for here")
    command = [sys.executable, "-c", told, str(tmp_path / "A.xlsx")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert int(done.stdout) < 500_000


def test_a_workbook_gets_a_proposal(tmp_path: Path) -> None:
    """The longest sheet is proposed, and the workbook reads by it, its dates too."""
    made = openpyxl.Workbook()
    made.active.append(["summary"])
    sheet = made.create_sheet("data")
    sheet.append(["Date", "I [mA]", "U [V]"])
    for n in range(30):
        sheet.append([datetime(2025, 3, 4, 12) + timedelta(minutes=n), 1.0, 3 + n / 100])
    made.save(tmp_path / "A.xlsx")
    proposal = propose(tmp_path / "A.xlsx")
    assert proposal.questions == ()
    assert proposal.layout is not None
    got = read(tmp_path, {"A.xlsx": (tmp_path / "A.xlsx").read_bytes()}, proposal.layout)
    assert got.series["time_s"].tolist() == [1741089600 + 60 * n for n in range(30)]
