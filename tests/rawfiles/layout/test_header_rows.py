"""Headers over several lines: declared, standing again, changing, in workbooks, and proposed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import openpyxl
import pytest
from raw_files import columns, read

from trivet.cli.layout import describe
from trivet.rawfiles.proposal.propose import propose
from trivet.rawfiles.text import text_file
from trivet.schema.settings.raw import Layout

TWO = columns(
    **{
        "Elapsed time/h": "elapsed time:h",
        "Cell current/mA": "current:mA",
        "Cell voltage/V": "cell voltage:V",
        "Positive potential/V": "positive potential:V",
        "Negative potential/V": "negative potential:V",
    }
)
HEADER = (
    "Elapsed,Cell,Cell,Positive,Negative\ntime/h,current/mA,voltage/V,potential/V,potential/V\n"
)
TURNED = (
    "Cell,Elapsed,Cell,Positive,Negative\ncurrent/mA,time/h,voltage/V,potential/V,potential/V\n"
)
LAYOUT = Layout(columns=TWO, header_rows=2)


def rows(start: int, stop: int, *, turned: bool = False) -> str:
    """A charge, a row a minute."""
    return "".join(
        (f"1.5,{n / 60!r}" if turned else f"{n / 60!r},1.5")
        + f",{3 + n / 100:.2f},{3.1 + n / 50:.2f},{0.1 + n / 100:.2f}\n"
        for n in range(start, stop)
    )


def test_names_over_two_lines(tmp_path: Path) -> None:
    """What stands above each other is one name; lines keep their numbers."""
    got = read(tmp_path, {"A.csv": "made by hand\n" + HEADER + rows(0, 20)}, LAYOUT)
    assert got.series["positive_V"][[0, -1]].tolist() == [3.1, 3.48]
    assert got.series["negative_V"][[0, -1]].tolist() == [0.1, 0.29]
    assert got.series["line"][[0, -1]].tolist() == [4, 23]
    assert got.ledger[0]["rows_set_aside"] == 0
    assert got.ledger[0]["preamble"] == "made by hand"


def test_names_on_two_lines_and_units_on_a_third(tmp_path: Path) -> None:
    """A row of units behind the names is no data, declared or not."""
    named = columns(
        **{
            "Elapsed time": "elapsed time:h",
            "Cell current": "current:mA",
            "Cell U": "cell voltage:V",
        }
    )
    text = "Elapsed,Cell,Cell\ntime,current,U\nh,mA,V\n" + "".join(
        f"{n / 60!r},1,3.{n:02d}\n" for n in range(20)
    )
    for unit_row in (True, False):
        got = read(
            tmp_path, {"A.csv": text}, Layout(columns=named, header_rows=2, unit_row=unit_row)
        )
        assert got.series["line"][0] == 4
        assert "line 3 is a row of units" in got.assumed


@pytest.mark.parametrize("size", [100, 160, 220, 10**6])
def test_a_header_of_two_lines_that_stands_again(tmp_path: Path, size: int) -> None:
    """Both of its lines are set aside, wherever a block of text ends, however often."""
    text = HEADER + "".join(rows(5 * n, 5 * n + 5) + HEADER for n in range(30))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_file, "BLOCK_BYTES", size)
        got = read(tmp_path, {"A.csv": text}, LAYOUT)
    assert len(got.series["line"]) == 150
    assert got.ledger[0]["set_aside_because"] == "repeated header: 60"


@pytest.mark.parametrize("size", [100, 160, 220, 10**6])
def test_another_order_of_columns_under_a_later_header(tmp_path: Path, size: int) -> None:
    """Rows below a header that differs are read by it, never by the one before."""
    text = HEADER + rows(0, 20) + TURNED + rows(20, 40, turned=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_file, "BLOCK_BYTES", size)
        got = read(tmp_path, {"A.csv": text}, LAYOUT)
    assert got.series["current_mA"].tolist() == [1.5] * 40
    assert np.allclose(np.diff(got.series["time_s"]), 60)
    assert got.ledger[0]["rows_set_aside"] == 2


def test_names_over_two_rows_of_a_sheet(tmp_path: Path) -> None:
    """A sheet is known by its two rows of names."""
    book = openpyxl.Workbook()
    for line in (HEADER + rows(0, 20)).splitlines():
        cells = line.split(",")
        book.active.append([float(c) if c[0].isdigit() else c for c in cells])
    path = tmp_path / "book.xlsx"
    book.save(path)
    got = read(tmp_path, {"A.xlsx": path.read_bytes()}, LAYOUT)
    assert len(got.series["line"]) == 20


def test_two_lines_are_proposed_where_one_does_not_tell(tmp_path: Path) -> None:
    """`potential/V` twice says nothing; with the line above, all five columns are known."""
    path = tmp_path / "A.csv"
    path.write_text(HEADER + rows(0, 60))
    proposal = propose(path)
    assert proposal.layout is not None
    assert proposal.layout.header_rows == 2
    assert {column.quantity for column in proposal.layout.columns} == {
        "elapsed time",
        "current",
        "cell voltage",
        "positive potential",
        "negative potential",
    }
    assert not proposal.questions
    assert len(proposal.rows["time_s"]) == 60
    assert "header_rows: 2  # only lines 1 and 2 together" in describe(proposal)


def test_one_line_is_proposed_where_it_tells(tmp_path: Path) -> None:
    """A line of the preamble with as many fields is no part of the header."""
    path = tmp_path / "A.csv"
    path.write_text("made,by,hand\ntime/h,current/mA,voltage/V\n" + "".join(
        f"{n / 60!r},1,3.{n:02d}\n" for n in range(60)
    ))  # fmt: skip
    proposal = propose(path)
    assert proposal.layout is not None
    assert (proposal.layout.header_rows, proposal.questions) == (1, ())
