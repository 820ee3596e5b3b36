"""Channels that say nothing, counters that fall, times too coarse: told, never repaired."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead, plural

_ROWS = 20
"""Fewer equal values may be chance; common practice, no source."""
_MOVES_V = 0.005
_RUN = 3
"""Two rows at one time are a step change; three are a clock that is too coarse."""
_CLOSURE_V = 0.05
_CLOSED_V = 0.01
_POTENTIALS = ("positive potential", "negative potential")


def about_channels(read: RawRead) -> RawRead:
    """Tell of dead channels, wrong polarity, counters that fall and coarse times.

    Parameters
    ----------
    read : RawRead
        A file with its times placed.

    Returns
    -------
    RawRead
        Without the channels that are constant while the cell voltage moves: they were not
        connected, and their value is not a measurement.
    """
    if not len(read.lines):
        return read
    return _coarse_times(_counter_falls(_polarity(_dead_channels(read))))


def _dead_channels(read: RawRead) -> RawRead:
    """Leave out channels that are constant while the cell lives."""
    voltage = read.values.get("cell voltage")
    if voltage is None or len(voltage) < _ROWS or _span(voltage) < _MOVES_V:
        return read
    for quantity in (*_POTENTIALS, "temperature"):
        column = read.values.get(quantity)
        if column is None or _span(column) > 0 or not np.any(np.isfinite(column)):
            continue
        level = float(column[np.isfinite(column)][0])
        if quantity == "temperature" and level != 0:
            continue
        values = {name: other for name, other in read.values.items() if name != quantity}
        read = replace(read, values=values).note(
            "constant channel",
            "caution",
            f"{quantity} is {level:g} in every row, so its channel was not connected",
            action="taken as not measured",
            line=int(read.lines[0]),
            value=level,
            unit="Cel" if quantity == "temperature" else "V",
        )
    return read


def _span(column: np.ndarray) -> float:
    """Largest less smallest value; 0 without any."""
    known = column[np.isfinite(column)]
    return float(known.max() - known.min()) if len(known) else 0.0


def _polarity(read: RawRead) -> RawRead:
    """Propose, and do not apply, the turn of a potential that would close the three voltages.

    Both turned is both exchanged, which the review of the reference finds.
    """
    if not all(name in read.values for name in ("cell voltage", *_POTENTIALS)):
        return read
    cell, positive, negative = (read.values[name] for name in ("cell voltage", *_POTENTIALS))
    open_V = _closure(cell, positive, negative)
    if not open_V > _CLOSURE_V:
        return read
    turns = {
        "the positive potential": _closure(cell, -positive, negative),
        "the negative potential": _closure(cell, positive, -negative),
    }
    best = min(turns, key=lambda name: turns[name])
    if not turns[best] < _CLOSED_V:
        return read
    return read.note(
        "polarity",
        "caution",
        f"cell, positive and negative do not close by {open_V:.3g} V; with {best} turned in sign "
        f"they do, to {turns[best]:.2g} V: were the leads of the reference exchanged?",
        action="proposed, not applied",
        value=open_V,
        limit=_CLOSURE_V,
        unit="V",
    )


def _closure(cell: np.ndarray, positive: np.ndarray, negative: np.ndarray) -> float:
    """Median distance of the three voltages from closing [V]; infinite without any row."""
    distance = np.abs(cell - (positive - negative))
    known = distance[np.isfinite(distance)]
    return float(np.median(known)) if len(known) else float("inf")


def _counter_falls(read: RawRead) -> RawRead:
    """Say that the counter of cycles fell; the own count does not use it."""
    counter = read.values.get("cycle")
    if counter is None or len(counter) < 2:
        return read
    falls = np.flatnonzero(np.diff(counter) < 0)
    if not len(falls):
        return read
    row = int(falls[0]) + 1
    return read.note(
        "cycle counter",
        "note",
        f"the instrument's counter falls {plural(len(falls), 'time')}, first from "
        f"{counter[row - 1]:g} to {counter[row]:g}",
        action="kept as evidence; cycles are counted by the sign of the current",
        line=int(read.lines[row]),
        value=float(len(falls)),
        unit="1",
    )


def _coarse_times(read: RawRead) -> RawRead:
    """Say that rows merge because times have too few digits."""
    steps = np.diff(read.time_s)
    zero = np.concatenate([[False], steps == 0, [False]]).astype(int)
    starts, stops = np.flatnonzero(np.diff(zero) == 1), np.flatnonzero(np.diff(zero) == -1)
    long = (stops - starts + 1) >= _RUN
    merged = int((stops - starts)[long].sum())
    if not merged or not np.any(steps > 0):
        return read
    finest = float(steps[steps > 0].min())
    return read.note(
        "coarse times",
        "caution",
        f"{plural(merged, 'row')} share the time of the row before in runs of {_RUN} and more: "
        f"times are written to {finest:.3g} s only",
        action="kept in the order of the file",
        line=int(read.lines[int(starts[long][0])]),
        value=finest,
        unit="s",
    )
