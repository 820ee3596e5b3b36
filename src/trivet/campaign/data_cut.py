"""An earlier data cut of what was read: which moment, and the rows up to it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from trivet.rawfiles.text.clock import cut_time_s
from trivet.schema.tables.dictionary import TABLES
from trivet.store.arrow_arrays import number_scalar, text_array, truth_array, truths
from trivet.store.tables import arrays, rows_table

NOW, BEFORE = "now", "before"
BY_SETTING, BY_DATA, BY_DAYS = "settings", "last row of the data", "setting report.compare_days"
_DATE_LENGTH = len("2026-05-15")


@dataclass(frozen=True)
class CutCell:
    """Rows of one cell up to an earlier data cut.

    Attributes
    ----------
    series, ledger : pyarrow.Table
        Tables of these names, of this cell.
    last_lines : dict of str to int
        Last line that counts of each cycling file with such lines.
    """

    series: pa.Table
    ledger: pa.Table
    last_lines: dict[str, int]


def data_cuts(
    ledger: pa.Table,
    *,
    data_cut: str | None,
    time_zone: str,
    compare_days: int,
    from_table: bool = False,
) -> pa.Table:
    """Give the data cut and the earlier one that it is compared with.

    Parameters
    ----------
    ledger : pyarrow.Table
        Table of this name, whose last time is the data cut by default.
    data_cut : str or None
        Data cut as set.
    time_zone : str
        IANA name of the campaign's zone.
    compare_days : int
        Days between the two cuts [d]; 0 for no comparison.
    from_table : bool
        Whether lives come from a table, which can't be cut.

    Returns
    -------
    pyarrow.Table
        Table `data_cuts`; each cut as the setting that gives it again, to the second.
    """
    text, by = data_cut, BY_SETTING
    if text is None:
        files = arrays(ledger)
        times = files["last_time_s"][files["absolute_time"] == "yes"]
        times = times[np.isfinite(times)]
        by = BY_DATA
        if times.size:
            text = datetime.fromtimestamp(float(np.ceil(times.max())), UTC).isoformat()
    now = _row(NOW, text, by, "" if text else "no file has times of the calendar", time_zone)
    reason = ""
    if from_table:
        reason = "lives come from a table, which has no times of the calendar"
    elif compare_days == 0:
        reason = "the settings ask for no comparison (report.compare_days is 0)"
    reason = now["reason"] or reason
    then = None if reason or text is None else _days_before(text, compare_days)
    before = _row(BEFORE, then, BY_DAYS, reason, time_zone)
    return rows_table(TABLES["data_cuts"], (now, before))


def _row(cut: str, text: str | None, by: str, reason: str, time_zone: str) -> dict[str, Any]:
    """One data cut."""
    time_s = cut_time_s(text, time_zone=time_zone)
    return {"cut": cut, "data_cut": text, "time_s": time_s, "decided_by": by, "reason": reason}


def _days_before(text: str, days: int) -> str:
    """Give the same time of day some days earlier, in the form in which the cut is written."""
    moment = datetime.fromisoformat(text) - timedelta(days=days)
    return moment.date().isoformat() if len(text) <= _DATE_LENGTH else moment.isoformat()


def time_of(cuts: pa.Table, cut: str) -> float | None:
    """Unix time of a data cut [s]; None where it is not known."""
    times: dict[str, float | None] = dict(
        zip(cuts["cut"].to_pylist(), cuts["time_s"].to_pylist(), strict=True)
    )
    return times[cut]


def reaches_beyond(ledger: Sequence[Mapping[str, Any]], cut_s: float) -> bool:
    """Whether a cell has cycling rows with calendar time after a moment [s].

    Parameters
    ----------
    ledger : sequence of rows
        Its rows of the ledger.
    cut_s : float
        The moment as Unix time [s].
    """
    return any(
        row["content"] == "cycling"
        and row["rows_used"] > 0
        and row["absolute_time"] == "yes"
        and row["last_time_s"] > cut_s
        for row in ledger
    )


def cut_cell(series: pa.Table, ledger: pa.Table, *, cut_s: float) -> CutCell:
    """Forget the rows of a cell after a moment.

    Parameters
    ----------
    series, ledger : pyarrow.Table
        Tables of these names, of one cell.
    cut_s : float
        The moment as Unix time [s]; files without calendar time are kept whole.
    """
    rows = ledger.to_pylist()
    kept = rows_before(series, ledger, cut_s=cut_s)
    ends = kept.group_by("file").aggregate(
        [("time_s", "min"), ("time_s", "max"), ("line", "max"), ("line", "count")]
    )
    by_file = {row["file"]: row for row in ends.to_pylist()}
    files = [_cut_file(row, by_file.get(row["file"])) for row in rows]
    table = TABLES["ledger"]
    return CutCell(
        kept,
        rows_table(table, files),
        {name: row["line_max"] for name, row in by_file.items()},
    )


def rows_before(rows: pa.Table, ledger: pa.Table, *, cut_s: float) -> pa.Table:
    """Rows of raw files up to a moment; those without calendar time are kept.

    Parameters
    ----------
    rows : pyarrow.Table
        Table `series`, `plating_series` or `spectrum_points` of one cell.
    ledger : pyarrow.Table
        Its table of this name.
    cut_s : float
        The moment as Unix time [s].
    """
    files = ledger.to_pylist()
    placed = [row["file"] for row in files if row["absolute_time"] == "yes"]
    can_cut = pc.is_in(rows["file"], value_set=text_array(placed))
    beyond = pc.greater(rows["time_s"], number_scalar(cut_s))
    return rows.filter(truth_array(~(truths(can_cut) & truths(beyond))))


def _cut_file(row: dict[str, Any], kept: dict[str, Any] | None) -> dict[str, Any]:
    """Give the row of the ledger of a file with fewer rows; spectra stay as they are."""
    if row["content"] != "cycling" or row["absolute_time"] != "yes":
        return row
    if kept is None:
        return row | {"rows_used": 0, "first_time_s": None, "last_time_s": None}
    first, last = kept["time_s_min"], kept["time_s_max"]
    return row | {"rows_used": kept["line_count"], "first_time_s": first, "last_time_s": last}


def findings_before(
    findings: pa.Table, *, ledger: pa.Table, last_lines: Mapping[str, int], cut_s: float
) -> pa.Table:
    """Findings of a cell's files that stood there at an earlier data cut.

    Parameters
    ----------
    findings, ledger : pyarrow.Table
        Tables of these names, of one cell, at the later cut.
    last_lines : mapping of str to int
        See `CutCell`.
    cut_s : float
        The earlier cut as Unix time [s].

    Notes
    -----
    A finding belongs to the earlier cut unless its file begins after it or its line lies beyond
    the last line that counted; one without file, about the cell as a whole, is taken as known.
    """
    later = {
        row["file"]
        for row in ledger.to_pylist()
        if row["absolute_time"] == "yes" and (row["first_time_s"] or 0.0) > cut_s
    }
    kept = [
        row["file"] not in later
        and (row["line"] is None or row["line"] <= last_lines.get(row["file"], row["line"]))
        for row in findings.to_pylist()
    ]
    return findings.filter(truth_array(np.array(kept, dtype=bool)))
