"""The ledger: what became of every row of every raw file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pyarrow as pa

from trivet.rawfiles.reading.raw_read import RawRead, aside_findings
from trivet.schema.findings.finding import Finding
from trivet.schema.tables.raw import LEDGER, LEDGER_BY_CELL


def ledger_row(read: RawRead) -> dict[str, object]:
    """Row of the ledger for one file.

    Parameters
    ----------
    read : RawRead
        A file with the account of its rows.

    Returns
    -------
    dict of str to object
        By column; `rows_seen` is always `rows_used` plus `rows_set_aside`.
    """
    whole = [f"whole file: {read.uncounted}"] if read.uncounted else []
    reasons = [f"{reason}: {count}" for reason, count in sorted(read.counts_aside.items())]
    used = bool(len(read.time_s))
    return {
        "cell": read.cell,
        "file": read.file.relative,
        "content": read.file.content,
        "layout": read.file.layout,
        "bytes": read.bytes,
        "sha256": read.sha256,
        "rows_seen": read.rows_seen,
        "rows_used": read.rows_used,
        "rows_set_aside": read.rows_aside,
        "set_aside_because": "; ".join([*whole, *reasons]),
        "lines_used": f"{read.lines[0]} to {read.lines[-1]}" if len(read.lines) else "",
        "preamble": read.preamble,
        "assumed": "; ".join(read.assumed),
        "inferred": "; ".join(read.inferred),
        "derived": read.derived,
        "absolute_time": "yes" if read.absolute else "no",
        "first_time_s": _time(read, 0) if used else None,
        "last_time_s": _time(read, -1) if used else None,
    }


def _time(read: RawRead, row: int) -> float | None:
    """Time of a row; None where the file has none."""
    value = float(read.time_s[row])
    return value if value == value else None  # noqa: PLR0124 (NaN)


def ledger_columns(reads: Sequence[RawRead]) -> dict[str, list[object]]:
    """Columns of the ledger, a row a file."""
    rows = [ledger_row(read) for read in reads]
    return {name: [row[name] for row in rows] for name in LEDGER.names}


def file_findings(reads: Sequence[RawRead]) -> list[Finding]:
    """All findings of files: what was noticed, and every reason rows were set aside for."""
    out: list[Finding] = []
    for read in reads:
        out += [*read.findings, *aside_findings(read)]
    return out


def ledger_by_cell(ledger: pa.Table) -> dict[str, list[object]]:
    """Sum the ledger over the files of a cell and a content.

    Parameters
    ----------
    ledger : pyarrow.Table
        Table `ledger` of the campaign.

    Returns
    -------
    dict of str to list
        Columns of the table `ledger_by_cell`; what several files share is said once.
    """
    summed: dict[tuple[str, str], dict[str, Any]] = {}
    for row in ledger.to_pylist():
        key = (row["cell"], row["content"])
        line = summed.setdefault(
            key,
            {"cell": key[0], "content": key[1], "files": 0, "rows_seen": 0, "rows_used": 0,
             "rows_set_aside": 0, "layouts": {}, "assumed": {}, "inferred": {}},
        )  # fmt: skip
        line["files"] += 1
        for name in ("rows_seen", "rows_used", "rows_set_aside"):
            line[name] += row[name]
        line["layouts"][row["layout"]] = None
        derived = f"derived: {row['derived']}" if row["derived"] else ""
        for name in ("assumed", "inferred"):
            line[name] |= dict.fromkeys(part for part in (row[name], derived) if part)
    rows = list(summed.values())
    joined = {name: "; ".join for name in ("layouts", "assumed", "inferred")}
    return {
        name: [joined[name](row[name]) if name in joined else row[name] for row in rows]
        for name in LEDGER_BY_CELL.names
    }
