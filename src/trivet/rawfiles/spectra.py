"""Impedance spectra of a cell: points in our units and signs, numbered by measurement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from trivet.rawfiles.capacity_records import capacity_columns, of_cell
from trivet.rawfiles.layout.declared import FileLayout, layout_named
from trivet.rawfiles.layout.pair_words import meant_pair
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.reading.reader import read_file
from trivet.rawfiles.reading.sweeps import Sweep, find_sweeps, number_sweeps
from trivet.rawfiles.reading.wide import spread, stack_pairs
from trivet.rawfiles.spectrum_signs import right_signs
from trivet.rawfiles.suspicion.copies import stop_copies, stop_twins
from trivet.rawfiles.text.preamble import start_of
from trivet.rawfiles.time.far_dates import without_far_dates
from trivet.rawfiles.time.time_axis import calendar_times
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.raw import Raw
from trivet.schema.tables.impedance import PAIRS
from trivet.schema.tables.raw import SPECTRUM_POINTS

UNKNOWN_PAIR = "unknown pair"
_NAMED_WORDS = 6


@dataclass(frozen=True)
class SpectraRead:
    """Impedance files of a cell.

    Attributes
    ----------
    columns : dict of str to numpy.ndarray, shape (n_points,)
        Columns of the table `spectrum_points`.
    reads : tuple of RawRead
        Every file with the account of its rows.
    findings : tuple of Finding
        What concerns the cell, not one file.
    records : dict of str to numpy.ndarray, shape (n_records,)
        Columns of the table `capacity_records`.
    """

    columns: dict[str, np.ndarray]
    reads: tuple[RawRead, ...]
    findings: tuple[Finding, ...] = ()
    records: dict[str, np.ndarray] = field(default_factory=dict)


def read_spectra(
    files: Sequence[RawFile],
    *,
    cell: str,
    raw: Raw,
    time_zone: str,
    data_cut_s: float | None = None,
    twins: Mapping[str, str] | None = None,
    known_s: Sequence[float | None] = (),
) -> SpectraRead:
    """Read the impedance files of a cell.

    Parameters
    ----------
    files : sequence of RawFile
        Its impedance files, in the order of their names.
    cell : str
        Its id.
    raw : Raw
        Patterns and layouts.
    time_zone : str
        IANA zone of the campaign.
    data_cut_s : float or None
        Unix time after which spectra do not count [s].
    twins : mapping of str to str or None
        Its files that another cell has too.
    known_s : sequence of float or None
        Unix times at which the cell was at work [s], by which a wrong date is known.

    Returns
    -------
    SpectraRead
        Points spectrum by spectrum in the order of the file; imaginary part negative for
        capacitive [Ohm], frequency [Hz], time of the first point of the sweep [s].
    """
    layouts = {
        file.layout: layout_named(raw, name=file.layout, time_zone=time_zone) for file in files
    }
    reads = stop_copies([read_file(file, cell=cell, layout=layouts[file.layout]) for file in files])
    reads = [of_cell(read) for read in stop_twins(reads, twins or {})]
    records = capacity_columns(reads, cell)
    reads = [stack_pairs(_spread(read, layouts[read.file.layout])) for read in reads]
    reads = [_impedance(read, layouts[read.file.layout]) for read in reads]
    reads, findings = _cut(reads, cell, data_cut_s)
    reads = without_far_dates(reads, known_s=known_s, longest_pause_d=raw.longest_pause_d)
    reads = [right_signs(read) for read in reads]
    sweeps = [sweep for read in reads for sweep in find_sweeps(read)]
    return SpectraRead(_columns(sweeps, cell), tuple(reads), tuple(findings), records)


def _spread(read: RawRead, layout: FileLayout) -> RawRead:
    """Give the points of a wide table an entry each."""
    if layout.wide is None or not len(read.lines):
        return read
    if "real" not in read.values:
        message = "no headers fit 'wide_real' and 'wide_imaginary' with the same frequencies"
        return read.refuse("missing column", message)
    exact = read.file.folder / layout.wide.frequencies if layout.wide.frequencies else None
    return spread(read, frequencies=exact)


def _impedance(read: RawRead, layout: FileLayout) -> RawRead:
    """Complex impedance, pair and time of every point that has them."""
    if not len(read.lines):
        return read
    values = read.values
    if "frequency" not in values:
        return read.refuse("missing column", "the file has no column of frequency")
    if "real" in values and "imaginary" in values:
        real, imaginary = values["real"], values["imaginary"]
    elif "modulus" in values and "phase" in values:
        angle = np.radians(values["phase"])
        real, imaginary = values["modulus"] * np.cos(angle), values["modulus"] * np.sin(angle)
    else:
        message = "the file has neither real and imaginary part nor modulus and phase"
        return read.refuse("missing column", message)
    imaginary = -imaginary if layout.capacitive_positive else imaginary
    read = replace(read, values={**values, "real": real, "imaginary": imaginary})
    read = _with_pair(read, layout)
    if not len(read.lines):
        return read
    frequency = read.values["frequency"]
    read = read.keep(np.isfinite(frequency) & (frequency > 0), reason="no frequency")
    complete = np.isfinite(read.values["real"]) & np.isfinite(read.values["imaginary"])
    return _with_time(read.keep(complete, reason="missing impedance"), layout)


def _with_pair(read: RawRead, layout: FileLayout) -> RawRead:
    """Pair of every point, as its place in (cell, positive, negative), in `values`."""
    if "pair" in read.values:
        return read
    words = read.texts.get("pair")
    if words is None and not read.file.pair:
        message = (
            "neither the file's name, nor a column, nor the settings say what was measured: "
            f"{', '.join(PAIRS)}"
        )
        return read.refuse("pair not stated", message)
    if words is None:
        given = np.full(len(read.lines), float(PAIRS.index(read.file.pair)))
        return replace(read, values={**read.values, "pair": given})
    meant = {word: meant_pair(word, layout.pair_words) for word in set(words.to_pylist())}
    places = {pair: float(place) for place, pair in enumerate(PAIRS)}
    given = np.array([places.get(meant[word], np.nan) for word in words.to_pylist()])
    read = replace(read, values={**read.values, "pair": given})
    unknown = sorted(word for word, pair in meant.items() if not pair)
    if not unknown:
        return read
    listed = ", ".join(f"'{word}'" for word in unknown[:_NAMED_WORDS])
    where = f"; list them in 'pair_words' of layout '{layout.name}'"
    if len(unknown) == len(meant):
        message = f"its column of pairs has {listed}, none of which is {', '.join(PAIRS)}{where}"
        return read.refuse(UNKNOWN_PAIR, message)
    known = np.isfinite(given)
    message = f"its column of pairs has {listed}, which may mean several things{where}"
    return read.keep(known, reason=UNKNOWN_PAIR).note(
        UNKNOWN_PAIR,
        "fault",
        message,
        action="rows set aside",
        line=int(read.lines[int(np.argmin(known))]),
        value=float(np.sum(~known)),
        unit="1",
    )


def _with_time(read: RawRead, layout: FileLayout) -> RawRead:
    """Unix time of every point; missing where the file has no time."""
    read, time_s = calendar_times(read, layout)
    if time_s is None:
        return _with_preamble(replace(read, time_s=np.full(len(read.lines), np.nan)), layout)
    known = bool(len(time_s)) and bool(np.all(np.isfinite(time_s)))
    return replace(read, time_s=time_s, absolute=known)


def _with_preamble(read: RawRead, layout: FileLayout) -> RawRead:
    """Start time of the preamble, for a file with one sweep a pair and no column of time."""
    start_s = read.start_s
    if start_s is None:
        start_s = start_of(read.preamble.replace(" | ", "\n"), zone=layout.time_zone)
    again = any(sweep.ordinal for sweep in find_sweeps(read))
    if read.start_s is not None and again:
        message = "the file has several sweeps of a pair, and one start above its header"
        return read.note("one start for several sweeps", "caution", message, action="left undated")
    if start_s is None or again:
        return read
    placed = replace(read, time_s=np.full(len(read.lines), start_s), absolute=True)
    return placed.assume("the sweep began at the time that stands before the header")


def _cut(
    reads: Sequence[RawRead], cell: str, data_cut_s: float | None
) -> tuple[list[RawRead], list[Finding]]:
    """Spectra up to the data cut; one finding where some have no time to cut by."""
    if data_cut_s is None:
        return list(reads), []
    out, timeless = [], 0
    for read in reads:
        after = np.zeros(len(read.lines), dtype=bool)
        for sweep in find_sweeps(read):
            timeless += not np.isfinite(sweep.time_s)
            after[sweep.rows] = bool(sweep.time_s > data_cut_s)
        out.append(read.forget(after))
    if not timeless:
        return out, []
    message = f"{timeless} spectra have no time, so the data cut can't be applied to them"
    finding = Finding(
        cell,
        "no absolute time",
        "caution",
        message,
        "counted whatever the cut",
        value=float(timeless),
        unit="1",
    )
    return out, [finding]


def _columns(sweeps: Sequence[Sweep], cell: str) -> dict[str, np.ndarray]:
    """Columns of the table, spectrum by spectrum."""
    columns: dict[str, np.ndarray] = {name: np.zeros(0) for name in SPECTRUM_POINTS.names}
    numbered = number_sweeps(sweeps)
    if not numbered:
        return columns
    for quantity, name in (
        ("frequency", "frequency_Hz"),
        ("real", "real_ohm"),
        ("imaginary", "imaginary_ohm"),
    ):
        columns[name] = np.concatenate(
            [sweep.read.values[quantity][sweep.rows] for _, sweep in numbered]
        )
    lengths = [len(sweep.rows) for _, sweep in numbered]

    def spread(values: list[object], kind: type) -> np.ndarray:
        return np.repeat(np.array(values, dtype=kind), lengths)

    columns["line"] = np.concatenate([sweep.read.lines[sweep.rows] for _, sweep in numbered])
    columns["spectrum"] = spread([number for number, _ in numbered], int)
    columns["time_s"] = spread([sweep.time_s for _, sweep in numbered], float)
    columns["raw_cycle"] = spread([sweep.cycle for _, sweep in numbered], float)
    columns["pair"] = spread([sweep.pair for _, sweep in numbered], object)
    columns["file"] = spread([sweep.read.file.relative for _, sweep in numbered], object)
    columns["cell"] = spread([cell] * len(numbered), object)
    return columns
