"""The ledger: what became of every row of every raw file."""

from __future__ import annotations

from collections.abc import Sequence

from trivet.io.raw_read import RawRead, aside_findings
from trivet.records.findings import Finding
from trivet.records.raw_tables import LEDGER


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
    reasons = [f"{reason}: {len(lines)}" for reason, lines in sorted(read.aside.items())]
    used = bool(len(read.time_s))
    return {
        "cell": read.cell,
        "file": read.file.relative,
        "content": read.file.content,
        "layout": read.file.layout,
        "bytes": read.bytes,
        "sha256": read.sha256,
        "rows_seen": read.rows_seen,
        "rows_used": len(read.lines),
        "rows_set_aside": read.rows_aside,
        "set_aside_because": "; ".join([*whole, *reasons]),
        "assumed": "; ".join(read.assumed),
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
