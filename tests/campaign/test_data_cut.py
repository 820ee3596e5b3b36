"""An earlier data cut: which moment, and which rows."""

from __future__ import annotations

from datetime import UTC, datetime

import pyarrow as pa
import pytest

from trivet.campaign.data_cut import BEFORE, NOW, cut_cell, data_cuts, findings_before, time_of
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import make_table

LAST_S = datetime(2026, 5, 15, 6, 59, 1, 400_000, UTC).timestamp()


def table(name: str, rows: list[dict[str, object]]) -> pa.Table:
    """Rows as a table; columns that a row leaves out are missing."""
    entry = TABLES[name]
    return make_table(entry, {key: [row.get(key) for row in rows] for key in entry.names})


def ledger(last_s: float | None = LAST_S, absolute: str = "yes", first_s: float = 0.0) -> pa.Table:
    """A file of a cell."""
    row = {"cell": "A", "file": "a", "content": "cycling", "layout": "l", "bytes": 1,
           "sha256": "0", "rows_seen": 4, "rows_used": 4, "rows_set_aside": 0,
           "absolute_time": absolute, "first_time_s": first_s, "last_time_s": last_s}  # fmt: skip
    return table("ledger", [row])


def cuts(text: str | None = None, days: int = 7, of: pa.Table | None = None) -> pa.Table:
    """Data cuts of a campaign in a zone that sets its clocks on 29 March 2026."""
    given = ledger() if of is None else of
    return data_cuts(given, data_cut=text, time_zone="Europe/Berlin", compare_days=days)


def test_the_default_cut_holds_every_row_and_can_be_set() -> None:
    """The cut by default is the last time in the data, rounded up to a whole second."""
    rows = {row["cut"]: row for row in cuts().to_pylist()}
    assert rows[NOW]["data_cut"] == "2026-05-15T06:59:02+00:00"
    assert rows[BEFORE]["data_cut"] == "2026-05-08T06:59:02+00:00"
    assert LAST_S <= rows[NOW]["time_s"] < LAST_S + 1


def test_a_date_stays_a_date() -> None:
    """A cut set as a date is compared with a date; both count to the end of the day there.

    Berlin went from UTC+1 to UTC+2 on 29 March 2026 (rule of the European Union: last Sunday in
    March), so these seven days have one hour less.
    """
    made = cuts("2026-03-31")
    assert made["data_cut"].to_pylist() == ["2026-03-24", "2026-03-31"]
    now, before = time_of(made, NOW), time_of(made, BEFORE)
    assert now is not None
    assert before is not None
    assert now - before == 7 * 86400 - 3600


@pytest.mark.parametrize(
    ("days", "of", "words"),
    [
        (0, ledger(), "compare_days"),
        (7, ledger(5.0, "no"), "calendar"),
        (7, ledger(None), "calend"),
    ],
)
def test_no_comparison_says_why(days: int, of: pa.Table, words: str) -> None:
    """Where there is no earlier cut there is a reason."""
    made = cuts(days=days, of=of)
    assert time_of(made, BEFORE) is None
    assert words in made["reason"].to_pylist()[0]


def series(times: list[float], file: str = "a") -> pa.Table:
    """Rows of a cell, lines counted from 2."""
    return table("series", [{"cell": "A", "time_s": time, "file": file, "line": place + 2}
                            for place, time in enumerate(times)])  # fmt: skip


def test_rows_after_the_cut_are_forgotten_and_the_ledger_follows() -> None:
    """A row at the cut counts, a later one does not."""
    kept = cut_cell(series([1.0, 2.0, 3.0]), ledger(3.0), cut_s=2.0)
    assert kept.series["time_s"].to_pylist() == [1.0, 2.0]
    row = kept.ledger.to_pylist()[0]
    assert (row["rows_used"], row["first_time_s"], row["last_time_s"]) == (2, 1.0, 2.0)
    assert kept.last_lines == {"a": 3}


def test_rows_without_calendar_time_cannot_be_cut() -> None:
    """A file that counts from its own start keeps its rows."""
    kept = cut_cell(series([1.0, 2.0, 3.0]), ledger(3.0, "no"), cut_s=2.0)
    assert kept.series.num_rows == 3


def test_findings_beyond_the_last_line_are_later() -> None:
    """By line within a file, by the start of the file; those without file stay."""
    rows = [{"cell": "A", "file": file, "line": line, "check": "c", "severity": "note",
             "action": "none", "message": message}
            for file, line, message in (("a", 3, "at"), ("a", 4, "beyond"),
                                        ("", None, "whole"))]  # fmt: skip
    found = findings_before(
        table("findings", rows), ledger=ledger(3.0), last_lines={"a": 3}, cut_s=2.0
    )
    assert set(found["message"].to_pylist()) == {"at", "whole"}
    begun = ledger(3.0, first_s=2.5)
    later = findings_before(table("findings", rows), ledger=begun, last_lines={}, cut_s=2.0)
    assert later["message"].to_pylist() == ["whole"]
