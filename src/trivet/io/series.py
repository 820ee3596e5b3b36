"""The series of a cell: its cycling files joined on one axis of time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trivet.io.file_reader import read_file, refuse_copies, split_copies
from trivet.io.layouts import FileLayout, layout_named
from trivet.io.patterns import RawFile
from trivet.io.raw_read import RawRead, about_missing
from trivet.io.sign import SignEvidence, sign_evidence
from trivet.io.time_axis import place_rows
from trivet.records.cell_facts import CellFacts
from trivet.records.findings import Finding
from trivet.records.layouts import Raw
from trivet.records.raw_tables import SERIES

_VOLTAGES = {
    "cell voltage": "cell_V",
    "positive potential": "positive_V",
    "negative potential": "negative_V",
}
_SIGN = "sign of current"


@dataclass(frozen=True)
class SeriesRead:
    """Cycling files of a cell.

    Attributes
    ----------
    columns : dict of str to numpy.ndarray, shape (n_rows,)
        Columns of the table `series`.
    reads : tuple of RawRead
        Every file with the account of its rows.
    findings : tuple of Finding
        What concerns the cell, not one file.
    """

    columns: dict[str, np.ndarray]
    reads: tuple[RawRead, ...]
    findings: tuple[Finding, ...] = ()


def read_series(
    files: Sequence[RawFile],
    *,
    facts: CellFacts,
    raw: Raw,
    time_zone: str,
    data_cut_s: float | None = None,
) -> SeriesRead:
    """Read the cycling files of a cell.

    Parameters
    ----------
    files : sequence of RawFile
        Its cycling files, in the order of their names.
    facts : CellFacts
        The cell; its cycling start places files that have elapsed time only.
    raw : Raw
        Patterns and layouts.
    time_zone : str
        IANA zone of the campaign.
    data_cut_s : float or None
        Unix time after which rows do not count [s].

    Returns
    -------
    SeriesRead
        Rows in order of time; current positive in charge [mA], voltages [V], times [s].
    """
    layouts = {
        file.layout: layout_named(raw, name=file.layout, time_zone=time_zone) for file in files
    }
    reads, copies = split_copies(
        [read_file(file, cell=facts.cell, layout=layouts[file.layout]) for file in files]
    )
    reads = [place_rows(read, layout=layouts[read.file.layout]) for read in reads]
    reads = _place_elapsed(reads, facts.cycling_started_s)
    findings = _about_calendar(reads, facts.cell, data_cut_s)
    reads = [_cut(read, data_cut_s) for read in reads]
    copied = refuse_copies(reads, copies)
    reads = [_with_voltages(about_missing(read)) for read in reads]
    reads = _refuse_overlaps(reads)
    reads = _prove_sign([_charge_positive(read, layouts[read.file.layout]) for read in reads])
    findings += _about_electrodes(reads, facts.cell)
    return SeriesRead(_columns(reads, facts.cell), (*reads, *copied), tuple(findings))


def _place_elapsed(reads: list[RawRead], started_s: float | None) -> list[RawRead]:
    """Place files that have elapsed time only, one behind the other in the order of their names."""
    others = any(read.absolute for read in reads)
    known = started_s is not None
    offset_s: float | None = None
    last_elapsed_s = 0.0
    out = []
    for read in reads:
        if read.absolute or not len(read.lines):
            out.append(read)
        elif others and not known:
            message = "the file has elapsed time only, other files of the cell have the calendar"
            out.append(read.refuse("no absolute time", message))
        else:
            first_s, end_s = float(read.time_s[0]), float(read.time_s[-1])
            restarts = offset_s is not None and first_s < last_elapsed_s
            if offset_s is None:
                offset_s = (started_s or 0.0) - first_s
            elif restarts:
                offset_s, known = offset_s + last_elapsed_s - first_s, False
            last_elapsed_s = end_s
            out.append(_placed(read, offset_s, known=known, restarts=restarts))
    return out


def _placed(read: RawRead, offset_s: float, *, known: bool, restarts: bool) -> RawRead:
    """Elapsed times moved to their place, with what that rests on."""
    placed = replace(read, time_s=read.time_s + offset_s, absolute=known)
    if restarts:
        placed = _about_restart(placed)
    if known:
        placed = placed.assume("elapsed time counts from the start of cycling in the build sheet")
    return placed


def _about_restart(read: RawRead) -> RawRead:
    """Say that the pause before a file is not known."""
    return read.note(
        "pause not known",
        "caution",
        "the file has elapsed time only and starts anew, so the pause before it is not known",
        action="placed right behind the file before",
        line=int(read.lines[0]),
    )


def _about_calendar(reads: Sequence[RawRead], cell: str, data_cut_s: float | None) -> list[Finding]:
    """Say once that a cell's rows are not on the calendar."""
    if all(read.absolute for read in reads if len(read.lines)):
        return []
    cut = "" if data_cut_s is None else "; the data cut can't be applied to them"
    message = (
        "rows have elapsed time only and the build sheet states no start of cycling, so their "
        f"hours count from the first row{cut}"
    )
    return [Finding(cell, "no absolute time", "caution", message, "counted from the first row")]


def _cut(read: RawRead, data_cut_s: float | None) -> RawRead:
    """Rows up to the data cut."""
    if data_cut_s is None or not read.absolute:
        return read
    return read.forget(np.logical_or.accumulate(read.time_s > data_cut_s))


def _with_voltages(read: RawRead) -> RawRead:
    """Cell voltage and both potentials, the third from two where one is not there."""
    if not len(read.lines):
        return read
    have = [name for name in _VOLTAGES if name in read.values]
    if "current" not in read.values:
        return read.refuse("missing column", "the file has no column of current")
    if len(have) < 2 and have != ["cell voltage"]:
        message = "the file has neither a cell voltage nor both potentials"
        return read.refuse("missing column", message)
    absent = [name for name in _VOLTAGES if name not in read.values]
    if len(absent) != 1:
        return read
    cell, positive, negative = (read.values.get(name, np.zeros(0)) for name in _VOLTAGES)
    derived = {
        "cell voltage": lambda: positive - negative,
        "positive potential": lambda: cell + negative,
        "negative potential": lambda: positive - cell,
    }[absent[0]]()
    return replace(read, values={**read.values, absent[0]: derived}, derived=_VOLTAGES[absent[0]])


def _refuse_overlaps(reads: Sequence[RawRead]) -> list[RawRead]:
    """Files in order of their first row; one that begins before the last one ended is set aside."""
    filled = [read for read in reads if len(read.lines)]
    out = [read for read in reads if not len(read.lines)]
    end_s, last = -np.inf, ""
    for read in sorted(filled, key=lambda read: (float(read.time_s[0]), read.file.order)):
        if read.time_s[0] < end_s:
            message = (
                f"the file begins {end_s - read.time_s[0]:.6g} s before '{last}' ends; "
                "a cell can't be in two files at once"
            )
            out.append(read.refuse("overlapping files", message))
            continue
        end_s, last = float(read.time_s[-1]), read.file.relative
        out.append(read)
    return out


def _charge_positive(read: RawRead, layout: FileLayout) -> RawRead:
    """Current with charge positive."""
    if not layout.charging_negative or "current" not in read.values:
        return read
    return replace(read, values={**read.values, "current": -read.values["current"]})


def _prove_sign(reads: Sequence[RawRead]) -> list[RawRead]:
    """Prove the sign of each file; if one fails, no cycling file of the cell is used."""
    judged = [(read, _evidence(read)) for read in reads]
    wrong = [read.file.relative for read, evidence in judged if evidence.contradicts]
    if not wrong:
        return [_with_sign(read, evidence) for read, evidence in judged]
    message = f"the sign of the current is wrong in '{wrong[0]}', so no file of the cell is used"
    return [
        _with_sign(read, evidence)
        if evidence.contradicts or not len(read.lines)
        else read.refuse(_SIGN, message)
        for read, evidence in judged
    ]


def _evidence(read: RawRead) -> SignEvidence:
    """Evidence of one file for the sign of its current."""
    if not len(read.lines):
        return SignEvidence(0.0, 0.0)
    return sign_evidence(
        read.time_s, current_mA=read.values["current"], voltage_V=read.values["cell voltage"]
    )


def _with_sign(read: RawRead, evidence: SignEvidence) -> RawRead:
    """Say of one file what its sign rests on; set it aside where the voltage contradicts."""
    if not len(read.lines):
        return read
    charge = f"{evidence.agreeing_mAh:.4g} mAh for it, {evidence.contradicting_mAh:.4g} mAh against"
    if evidence.contradicts:
        line = None if evidence.first_row is None else int(read.lines[evidence.first_row])
        message = f"the voltage contradicts the declared sign of the current: {charge}"
        return read.refuse(_SIGN, message, line=line)
    if evidence.found:
        return read.assume(f"sign of current as declared, proved by the voltage: {charge}")
    message = "no stretch of constant current is long enough to prove the sign"
    noted = read.note(_SIGN, "note", message, action="taken as declared")
    return noted.assume("sign of current as declared, not proved")


def _about_electrodes(reads: Sequence[RawRead], cell: str) -> list[Finding]:
    """Say once that a cell has no electrode potentials."""
    used = [read for read in reads if len(read.lines)]
    if not used or any("positive potential" in read.values for read in used):
        return []
    message = "the files have the cell voltage only, so nothing is known of each electrode"
    return [Finding(cell, "electrodes not measured", "note", message, "none")]


def _columns(reads: Sequence[RawRead], cell: str) -> dict[str, np.ndarray]:
    """Columns of the table, files in order."""
    used = [read for read in reads if len(read.lines)]
    names = {"current": "current_mA", **_VOLTAGES, "temperature": "temperature_degC"}
    columns: dict[str, np.ndarray] = {name: np.zeros(0) for name in SERIES.names}
    if not used:
        return columns
    lengths = [len(read.lines) for read in used]
    for quantity, name in names.items():
        columns[name] = np.concatenate([_values(read, quantity) for read in used])
    counters = np.concatenate([_values(read, "cycle") for read in used])
    columns["raw_cycle"] = np.where(counters == np.rint(counters), counters, np.nan)
    columns["time_s"] = np.concatenate([read.time_s for read in used])
    columns["line"] = np.concatenate([read.lines for read in used])
    columns["cell"] = np.full(sum(lengths), cell, dtype=object)
    paths = np.array([read.file.relative for read in used], dtype=object)
    columns["file"] = np.repeat(paths, lengths)
    return columns


def _values(read: RawRead, quantity: str) -> np.ndarray:
    """A quantity of a file, NaN where the file does not have it."""
    return read.values.get(quantity, np.full(len(read.lines), np.nan))
