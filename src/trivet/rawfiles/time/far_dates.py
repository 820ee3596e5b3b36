"""Rows dated far behind all others of their cell: a clock set wrong would move the data cut."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead, plural
from trivet.schema.limits import FIRST_YEAR, LAST_YEAR

CHECK = "dated far ahead"
_DAY_S = 86400.0
_FIRST_S = datetime(FIRST_YEAR, 1, 1, tzinfo=UTC).timestamp()
_LAST_S = datetime(LAST_YEAR + 1, 1, 1, tzinfo=UTC).timestamp()
"""Clocks that count from 1970 as if it were now are left: only the unit of time can lead beyond the
last."""


def without_far_dates(
    reads: Sequence[RawRead], *, known_s: Sequence[float | None], longest_pause_d: float
) -> list[RawRead]:
    """Set aside rows that follow all before them by more than the longest pause.

    Parameters
    ----------
    reads : sequence of RawRead
        Files of a cell, times placed; those that are not on the calendar stay as they are.
    known_s : sequence of float or None
        Times at which the cell was known to be at work, as Unix times [s]: its build, the ends of
        its other files.
    longest_pause_d : float
        Longest time in which nothing is measured [d].

    Returns
    -------
    list of RawRead
        In the same order. A file is kept up to the first such step of its clock.
    """
    out = [_without_odd_years(read) for read in reads]
    starts_s = [float(np.nanmin(read.time_s)) if _is_placed(read) else np.inf for read in out]
    marks = [time_s for time_s in known_s if time_s is not None]
    reached_s, last = max(marks, default=None), "the times that are known of the cell"
    for place in sorted(range(len(out)), key=starts_s.__getitem__):
        if not np.isfinite(starts_s[place]):
            break
        start_s = starts_s[place] if reached_s is None else reached_s
        out[place] = _up_to_a_far_step(out[place], start_s, last, longest_pause_d)
        if len(out[place].lines):
            reached_s = max(start_s, float(np.nanmax(out[place].time_s)))
            last = f"the last row of '{out[place].file.relative}'"
    return out


def _is_placed(read: RawRead) -> bool:
    """Whether a file has rows with times of the calendar."""
    return read.absolute and bool(np.any(np.isfinite(read.time_s)))


def _without_odd_years(read: RawRead) -> RawRead:
    """Refuse a file with rows in years that no campaign has, most often by a wrong unit."""
    if not _is_placed(read):
        return read
    odd = read.time_s >= _LAST_S
    if not np.any(odd):
        return read
    row = int(np.argmax(odd))
    time_s = float(read.time_s[row])
    hint = ""
    if _FIRST_S <= time_s / 1000.0 < _LAST_S:
        hint = "; it would be of this age in milliseconds: correct the unit in the layout"
    message = (
        f"{plural(int(odd.sum()), 'row')} of {len(odd)} lie beyond the year {LAST_YEAR}: "
        f"{time_s:.10g} s since 1970{hint}"
    )
    return read.refuse(CHECK, message, line=int(read.lines[row]))


def _up_to_a_far_step(
    read: RawRead, reached_s: float, last: str, longest_pause_d: float
) -> RawRead:
    """Keep the rows before the first step that is too long, and say so."""
    if float(np.nanmax(read.time_s)) - reached_s <= longest_pause_d * _DAY_S:
        return read
    known = np.flatnonzero(np.isfinite(read.time_s))
    order = known[np.argsort(read.time_s[known], kind="stable")]
    steps_s = np.diff(np.maximum(read.time_s[order], reached_s), prepend=reached_s)
    far = np.flatnonzero(steps_s > longest_pause_d * _DAY_S)
    if not len(far):
        return read
    at = int(far[0])
    row, gone = int(order[at]), order[at:]
    mask = np.ones(len(read.lines), dtype=bool)
    mask[gone] = False
    days = float(steps_s[at]) / _DAY_S
    before = last if at == 0 else f"the row before, on line {int(read.lines[order[at - 1]])}"
    when = datetime.fromtimestamp(float(read.time_s[row]), UTC).strftime("%Y-%m-%d")
    message = (
        f"{plural(len(gone), 'row')} are dated {when} or later, {days:.0f} d after {before}; "
        "correct the clock of the file, or raise raw.longest_pause_d if nothing was measured "
        "for so long"
    )
    return read.keep(mask, reason=CHECK).note(
        CHECK,
        "fault",
        message,
        action="rows set aside",
        line=int(read.lines[row]),
        value=days,
        limit=longest_pause_d,
        unit="d",
    )
