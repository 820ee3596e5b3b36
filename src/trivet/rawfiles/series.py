"""The series of a cell: its cycling files joined on one axis of time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from trivet.rawfiles.layout.declared import layout_named
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.raw_read import RawRead, about_missing
from trivet.rawfiles.reading.reader import read_file
from trivet.rawfiles.suspicion.channels import about_channels
from trivet.rawfiles.suspicion.copies import stop_copies, stop_twins
from trivet.rawfiles.suspicion.counters import about_counters
from trivet.rawfiles.suspicion.current_sign_words import with_states
from trivet.rawfiles.suspicion.fit_to_cell import Expected, stop_misfits
from trivet.rawfiles.suspicion.overlaps import join_files
from trivet.rawfiles.suspicion.sign_proof import prove_sign
from trivet.rawfiles.time.elapsed import about_calendar, place_elapsed
from trivet.rawfiles.time.far_dates import without_far_dates
from trivet.rawfiles.time.part_starts import with_running_parts
from trivet.rawfiles.time.time_axis import place_rows
from trivet.rawfiles.two_currents import with_one_current
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.raw import Raw
from trivet.schema.tables.raw import SERIES
from trivet.store.tables import repeated

_VOLTAGES = {
    "cell voltage": "cell_V",
    "positive potential": "positive_V",
    "negative potential": "negative_V",
}


@dataclass(frozen=True)
class SeriesRead:
    """Cycling files of a cell.

    Attributes
    ----------
    columns : dict of str to numpy.ndarray or pyarrow.Array, shape (n_rows,)
        Columns of the table `series`.
    reads : tuple of RawRead
        Every file with the account of its rows.
    findings : tuple of Finding
        What concerns the cell, not one file.
    """

    columns: dict[str, Any]
    reads: tuple[RawRead, ...]
    findings: tuple[Finding, ...] = ()


def read_series(
    files: Sequence[RawFile],
    *,
    facts: CellFacts,
    raw: Raw,
    time_zone: str,
    data_cut_s: float | None = None,
    expected: Expected | None = None,
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
    expected : Expected or None
        What the settings say of every cell; files that can't be of such a cell stop it.

    Returns
    -------
    SeriesRead
        Rows in order of time; current positive in charge [mA], voltages [V], times [s].
    """
    layouts = {
        file.layout: layout_named(raw, name=file.layout, time_zone=time_zone) for file in files
    }
    reads = stop_copies(
        [read_file(file, cell=facts.cell, layout=layouts[file.layout]) for file in files]
    )
    reads = [with_one_current(read) for read in stop_twins(reads, facts.twins)]
    reads = [place_rows(read, layout=layouts[read.file.layout]) for read in reads]
    reads = with_running_parts(reads)
    reads = place_elapsed(reads, facts.cycling_started_s)
    findings = about_calendar(reads, facts.cell, data_cut_s)
    reads = without_far_dates(
        [read.until(data_cut_s) for read in reads],
        known_s=(facts.clock_start_s, facts.cycling_started_s),
        longest_pause_d=raw.longest_pause_d,
    )
    reads = [about_channels(about_missing(read)) for read in reads]
    reads = join_files([_with_voltages(read) for read in reads])
    reads = [with_states(read, layouts[read.file.layout]) for read in reads]
    reads = stop_misfits(reads, facts=facts, expected=expected)
    reads = [about_counters(read) for read in prove_sign(reads)]
    findings += _about_electrodes(reads, facts.cell)
    return SeriesRead(_columns(reads, facts.cell), tuple(reads), tuple(findings))


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


def _about_electrodes(reads: Sequence[RawRead], cell: str) -> list[Finding]:
    """Say once that a cell has no electrode potentials."""
    used = [read for read in reads if len(read.lines)]
    if not used or any("positive potential" in read.values for read in used):
        return []
    message = "the files have the cell voltage only, so nothing is known of each electrode"
    return [Finding(cell, "electrodes not measured", "note", message, "none")]


def _columns(reads: Sequence[RawRead], cell: str) -> dict[str, Any]:
    """Columns of the table, files in order."""
    used = [read for read in reads if len(read.lines)]
    names = {"current": "current_mA", **_VOLTAGES, "temperature": "temperature_degC"}
    names["elapsed time"] = "elapsed_s"
    columns: dict[str, Any] = {name: np.zeros(0) for name in SERIES.names}
    if not used:
        return columns
    lengths = [len(read.lines) for read in used]
    for quantity, name in names.items():
        columns[name] = _joined([_taken(read, quantity) for read in used])
    counters = _joined([_taken(read, "cycle") for read in used])
    columns["raw_cycle"] = np.where(counters == np.rint(counters), counters, np.nan)
    columns["time_s"] = _joined([read.time_s for read in used])
    columns["line"] = _joined([read.lines for read in used])
    columns["cell"] = repeated([cell], [sum(lengths)])
    columns["file"] = repeated([read.file.relative for read in used], lengths)
    return columns


def _joined(parts: Sequence[np.ndarray]) -> np.ndarray:
    """Parts one behind the other; one part as it is, since a copy costs time."""
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def _taken(read: RawRead, quantity: str) -> np.ndarray:
    """A quantity of a file, which lets go of it; NaN where the file does not have it."""
    column = read.values.pop(quantity, None)
    return np.full(len(read.lines), np.nan) if column is None else column
