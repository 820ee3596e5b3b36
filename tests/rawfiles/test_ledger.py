"""The ledger's account of a file."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pyarrow as pa

from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.ledger import file_findings, ledger_by_cell, ledger_columns, ledger_row
from trivet.rawfiles.reading.raw_read import RawRead
from trivet.schema.tables.raw import LEDGER, LEDGER_BY_CELL
from trivet.store.tables import make_table

FILE = RawFile(Path("A.csv"), "A.csv", "cycling", "bdf")


def three_rows() -> RawRead:
    """A file with three rows on lines 2 to 4 at 10, 20 and 30 s."""
    return RawRead(
        FILE,
        "A",
        bytes=3,
        sha256=hashlib.sha256(b"abc").hexdigest(),
        lines=np.array([2, 3, 4]),
        time_s=np.array([10.0, 20.0, 30.0]),
    )


def test_row_has_the_columns_of_the_dictionary() -> None:
    """A ledger row has exactly the columns of its table."""
    assert tuple(ledger_row(three_rows())) == LEDGER.names
    assert tuple(ledger_columns([three_rows()])) == LEDGER.names


def test_rows_set_aside_are_counted_by_reason() -> None:
    """Each reason has its count, and seen = used + set aside."""
    read = three_rows().keep(np.array([True, False, True]), reason="no time")
    row = ledger_row(read.keep(np.array([False, True]), reason="clock goes back"))
    assert (row["rows_seen"], row["rows_used"], row["rows_set_aside"]) == (3, 1, 2)
    assert row["set_aside_because"] == "clock goes back: 1; no time: 1"
    assert row["first_time_s"] == row["last_time_s"] == 30


def test_the_ledger_adds_up_by_cell() -> None:
    """Sums over the files of a cell equal the sums of their rows; assumptions are said once."""
    first = three_rows()
    second = three_rows().keep(np.array([True, False, True]), reason="no time")
    rows = make_table(LEDGER, ledger_columns([first]))
    other = {**ledger_columns([second]), "file": ["other.csv"]}
    summed = ledger_by_cell(pa.concat_tables([rows, make_table(LEDGER, other)]))
    assert (summed["files"], summed["rows_seen"]) == ([2], [6])
    assert (summed["rows_used"], summed["rows_set_aside"]) == ([5], [1])
    assert summed["layouts"] == [rows["layout"][0].as_py()]
    make_table(LEDGER_BY_CELL, summed)


def test_refused_file_is_one_fault() -> None:
    """A file set aside as a whole has one fault that says why, not one more for its rows."""
    read = three_rows().refuse("overlapping files", "two at once", line=2)
    assert [(f.check, f.severity, f.action) for f in file_findings([read])] == [
        ("overlapping files", "fault", "file set aside")
    ]
    assert ledger_row(read)["rows_set_aside"] == 3
    assert ledger_row(read)["first_time_s"] is None
