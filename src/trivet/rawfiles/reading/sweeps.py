"""Sweeps in an impedance file, and which of them belong to one measurement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead
from trivet.schema.tables.impedance import PAIRS

_TOGETHER_S = 3600.0
"""Pairs swept one after the other within this are one measurement; common practice, no source."""


@dataclass(frozen=True)
class Sweep:
    """One pass through the frequencies.

    Attributes
    ----------
    read : RawRead
        Its file.
    pair : str
        `cell`, `positive` or `negative`.
    rows : numpy.ndarray of int, shape (n_points,)
        Its rows in the file.
    time_s : float
        Unix time of its first point that has one [s]; NaN without.
    ordinal : int
        Which sweep of that pair in the file, from 0.
    """

    read: RawRead
    pair: str
    rows: np.ndarray
    time_s: float
    ordinal: int

    @property
    def cycle(self) -> float:
        """Cycle that a column or the name of its file states; NaN without."""
        named = float("nan") if self.read.file.cycle is None else float(self.read.file.cycle)
        column = self.read.values.get("cycle")
        stated = float(column[self.rows[0]]) if column is not None else named
        return stated if stated == np.rint(stated) else named


def find_sweeps(read: RawRead) -> list[Sweep]:
    """Sweeps of a file, in the order of their first rows.

    A pair's points form a new sweep where the frequency turns or the label of the cycle changes;
    equal frequencies do not turn it.
    """
    if not len(read.lines):
        return []
    out = []
    for place, pair in enumerate(PAIRS):
        rows = np.flatnonzero(read.values["pair"] == place)
        for ordinal, part in enumerate(_sweeps_of(read, rows)):
            times = read.time_s[part]
            known = times[np.isfinite(times)]
            time_s = float(known[0]) if len(known) else float("nan")
            out.append(Sweep(read, pair, part, time_s, ordinal))
    return sorted(out, key=lambda sweep: int(sweep.rows[0]))


def _sweeps_of(read: RawRead, rows: np.ndarray) -> list[np.ndarray]:
    """Rows of a pair in sweeps."""
    labels = read.values.get("cycle")
    if labels is None or not len(rows):
        return _split_at_turns(rows, read.values["frequency"][rows])
    changes = np.flatnonzero(np.diff(labels[rows]) != 0) + 1
    return [
        part
        for block in np.split(rows, changes)
        for part in _split_at_turns(block, read.values["frequency"][block])
    ]


def _split_at_turns(rows: np.ndarray, frequency_Hz: np.ndarray) -> list[np.ndarray]:
    """Rows in pieces of one direction each."""
    cuts, direction = [], 0.0
    steps = np.sign(np.diff(frequency_Hz))
    for row, step in enumerate(steps, start=1):
        if step and direction and step != direction:
            # A frequency that stands twice at the turn belongs once to either sweep.
            cuts.append(row if steps[row - 2] else row - 1)
            direction = 0.0
        elif step and not direction:
            direction = step
    return np.split(rows, cuts) if len(rows) else []


def number_sweeps(sweeps: Sequence[Sweep]) -> list[tuple[int, Sweep]]:
    """Number measurements from 1 in order of time, and list sweeps by number and pair.

    Sweeps are one measurement where their file names have the same cycle and they are the same
    repeat in it; or, without a cycle in the names, where each pair occurs once and all begin
    within an hour; or, without times, where they are the same repeat of files with the same part.
    """
    timed = [
        sweep for sweep in sweeps if np.isfinite(sweep.time_s) and sweep.read.file.cycle is None
    ]
    groups = _by_time(timed)
    named: dict[tuple[object, ...], list[Sweep]] = {}
    for sweep in sweeps:
        file = sweep.read.file
        if file.cycle is None and np.isfinite(sweep.time_s):
            continue
        token = file.part if file.cycle is None else f"{file.cycle}"
        named.setdefault((file.cycle is None, token, sweep.ordinal), []).append(sweep)
    groups += list(named.values())
    groups.sort(key=_group_order)
    return [
        (number, sweep)
        for number, group in enumerate(groups, start=1)
        for sweep in sorted(group, key=lambda one: (PAIRS.index(one.pair), one.read.file.order))
    ]


def _by_time(sweeps: Sequence[Sweep]) -> list[list[Sweep]]:
    """Group sweeps that begin within an hour, each pair once."""
    groups: list[list[Sweep]] = []
    for sweep in sorted(sweeps, key=lambda one: (one.time_s, PAIRS.index(one.pair))):
        last = groups[-1] if groups else []
        near = bool(last) and sweep.time_s - last[0].time_s <= _TOGETHER_S
        if near and sweep.pair not in {other.pair for other in last}:
            last.append(sweep)
        else:
            groups.append([sweep])
    return groups


def _group_order(group: Sequence[Sweep]) -> tuple[object, ...]:
    """Order of measurements: by time where known, those without behind, by the names of files."""
    times = [sweep.time_s for sweep in group if np.isfinite(sweep.time_s)]
    first = min(group, key=lambda one: one.read.file.order)
    start = min(times) if times else float("inf")
    return (start, first.read.file.order[:2], first.ordinal, first.read.file.order)
