"""What was read from one raw file so far, with an account of every row."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pyarrow as pa

from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.text.delimited import DATED, RAGGED, REPEATED, TRUNCATED
from trivet.schema.findings.finding import Finding, Severity
from trivet.store.arrow_arrays import truth_array

NO_TIME = "no time"
FAR_AHEAD = "clock far ahead"
BOTH_CURRENTS = "charge and discharge current at once"
_NOTES = (TRUNCATED, REPEATED)
_MEANINGS = {
    RAGGED: "rows have another number of columns than the header",
    TRUNCATED: "the last line has no line end, so it may have been cut anywhere",
    REPEATED: "the header stands again between the rows",
    DATED: "a date stands where a number should",
    NO_TIME: "rows have no readable time",
    BOTH_CURRENTS: "rows have a charge and a discharge current at once",
    FAR_AHEAD: "single rows have a time far ahead, from which the next rows go back",
}


@dataclass(frozen=True)
class RawRead:
    """What was read from one file so far.

    Attributes
    ----------
    file : RawFile
        The file.
    cell : str
        Its cell.
    bytes : int
        Size [B].
    sha256 : str
        Checksum; empty where the file could not be opened.
    lines : numpy.ndarray of int64, shape (n_rows,)
        Lines of the rows still in use.
    values : dict of str to numpy.ndarray, shape (n_rows,)
        Quantities in our units.
    texts : dict of str to pyarrow.Array, shape (n_rows,)
        Times of day and pairs as written.
    aside : dict of str to numpy.ndarray of int64
        Lines of the rows set aside, by reason.
    uncounted : int
        Rows set aside whose lines are not known, because no header was found.
    findings : tuple of Finding
        What was noticed, without the rows set aside.
    assumed : tuple of str
        What was assumed and why.
    inferred : tuple of str
        The same without which column was read as what.
    derived : str
        Column that was derived from two others.
    absolute : bool
        Whether rows could be placed on the calendar.
    time_s : numpy.ndarray, shape (n_rows,)
        Unix time, or seconds since the first row [s]; empty before times are placed.
    preamble : str
        What stands before the header.
    start_s, start_step_s : float or None, float
        Unix time of the start that a declared line above the header states [s], and the smallest
        difference that its way of writing shows [s].
    clock_step_s : float
        Smallest difference that the clock shows which placed the file [s]; 0 where not known.
    two_currents : bool
        Whether the current was made of one of charge and one of discharge.
    wide : bool
        Whether several entries of `lines` come from one row, which is a spectrum.
    taken : tuple of str
        Which column was taken for which quantity, in which unit.
    proof_mAh : tuple of float and float, or None
        Charge that speaks for the sign of the current, and against it [mA.h]; None where it was
        not judged.
    """

    file: RawFile
    cell: str
    bytes: int = 0
    sha256: str = ""
    lines: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    values: dict[str, np.ndarray] = field(default_factory=dict)
    texts: dict[str, pa.Array] = field(default_factory=dict)
    aside: dict[str, np.ndarray] = field(default_factory=dict)
    uncounted: int = 0
    findings: tuple[Finding, ...] = ()
    assumed: tuple[str, ...] = ()
    inferred: tuple[str, ...] = ()
    derived: str = ""
    absolute: bool = False
    time_s: np.ndarray = field(default_factory=lambda: np.zeros(0))
    preamble: str = ""
    start_s: float | None = None
    start_step_s: float = 0.0
    clock_step_s: float = 0.0
    two_currents: bool = False
    wide: bool = False
    taken: tuple[str, ...] = ()
    proof_mAh: tuple[float, float] | None = None

    @property
    def rows_used(self) -> int:
        """How many rows of the file are in use; in a wide table a row holds many points."""
        return len(np.unique(self.lines)) if self.wide else len(self.lines)

    @property
    def counts_aside(self) -> dict[str, int]:
        """How many rows are set aside, by reason; a wide row of which a point is used is not."""
        if not self.wide:
            return {reason: len(lines) for reason, lines in self.aside.items() if len(lines)}
        told = self.lines
        counts = {}
        for reason, lines in self.aside.items():
            fresh = np.setdiff1d(lines, told)
            told = np.union1d(told, fresh)
            if len(fresh):
                counts[reason] = len(fresh)
        return counts

    @property
    def rows_aside(self) -> int:
        """How many rows are set aside."""
        return self.uncounted + sum(self.counts_aside.values())

    @property
    def rows_seen(self) -> int:
        """How many rows the file has."""
        return self.rows_used + self.rows_aside

    def note(
        self,
        check: str,
        severity: Severity,
        message: str,
        *,
        action: str = "none",
        line: int | None = None,
        value: float | None = None,
        limit: float | None = None,
        unit: str = "",
    ) -> RawRead:
        """Give the same with one more finding."""
        finding = Finding(
            self.cell,
            check,
            severity,
            message,
            action,
            self.file.relative,
            line,
            value,
            limit,
            unit,
        )
        return replace(self, findings=(*self.findings, finding))

    def assume(self, text: str) -> RawRead:
        """Give the same with one more assumption."""
        return replace(self, assumed=(*self.assumed, text), inferred=(*self.inferred, text))

    def read_as(self, text: str) -> RawRead:
        """Give the same with what was read as what."""
        return replace(self, assumed=(*self.assumed, text))

    def keep(self, mask: np.ndarray, *, reason: str = "") -> RawRead:
        """Give the same with only the rows of a mask; the others are set aside for a reason.

        Without a reason they do not count at all: they came after the data cut.
        """
        if bool(np.all(mask)):
            return self
        gone = self.lines[~mask]
        aside = dict(self.aside)
        if reason and len(gone):
            aside[reason] = np.concatenate([aside.get(reason, gone[:0]), gone])
        keeps = truth_array(mask)
        return replace(
            self,
            lines=self.lines[mask],
            values={name: column[mask] for name, column in self.values.items()},
            texts={name: column.filter(keeps) for name, column in self.texts.items()},
            time_s=self.time_s[mask] if len(self.time_s) else self.time_s,
            aside=aside,
        )

    def forget(self, mask: np.ndarray) -> RawRead:
        """Give the same as if the rows of a mask were not in the file yet.

        A row that was set aside goes with the row before it, since its own time is not known.
        """
        if not np.any(mask):
            return self
        before = {
            reason: np.searchsorted(self.lines, lines) - 1 for reason, lines in self.aside.items()
        }
        aside = {
            reason: lines[(before[reason] < 0) | ~mask[before[reason]]]
            for reason, lines in self.aside.items()
        }
        aside = {reason: lines for reason, lines in aside.items() if len(lines)}
        return replace(self.keep(~mask), aside=aside)

    def until(self, data_cut_s: float | None) -> RawRead:
        """Give the same as if rows after the data cut [s] were not in the file yet."""
        if data_cut_s is None or not self.absolute:
            return self
        return self.forget(np.logical_or.accumulate(self.time_s > data_cut_s))

    def refuse(
        self, check: str, message: str, *, line: int | None = None, reason: str = ""
    ) -> RawRead:
        """Give the same with all its rows set aside and a fault that says why."""
        mask = np.zeros(len(self.lines), dtype=bool)
        return self.keep(mask, reason=reason or check).note(
            check, "fault", message, action="file set aside", line=line
        )


def about_missing(read: RawRead) -> RawRead:
    """Give the same with one note for each quantity that has missing values."""
    for quantity, column in read.values.items():
        if column.ndim > 1:
            continue
        missing = np.isnan(column)
        count = int(missing.sum())
        if count:
            read = read.note(
                "missing value",
                "note",
                f"{quantity} is missing in {plural(count, 'row')} of {len(column)}",
                action="left missing",
                line=int(read.lines[int(np.argmax(missing))]),
                value=float(count),
                unit="1",
            )
    return read


def aside_findings(read: RawRead) -> list[Finding]:
    """One finding for each reason that rows of a file were set aside for."""
    told = {finding.check for finding in read.findings if finding.severity == "fault"}
    out = []
    for reason, lines in sorted(read.aside.items()):
        if reason in told:
            continue
        meaning = _MEANINGS.get(reason, reason)
        out.append(
            Finding(
                read.cell,
                reason,
                "note" if reason in _NOTES else "caution",
                f"{meaning}: {plural(len(lines), 'row')}, first on line {int(lines.min())}",
                "row set aside" if len(lines) == 1 else "rows set aside",
                read.file.relative,
                int(lines.min()),
                float(len(lines)),
                None,
                "1",
            )
        )
    return out


def plural(count: int, noun: str) -> str:
    """A count with its noun."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
