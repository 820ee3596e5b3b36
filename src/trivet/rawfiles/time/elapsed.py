"""Files that have elapsed time only: placed one behind the other, and what that leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.time.time_axis import PAUSE
from trivet.schema.findings.finding import Finding

NO_DATE = "no absolute time"
_ENOUGH_ROWS = 3
"""So many equal rows at the start make a file a repeat of the one before."""


def place_elapsed(reads: list[RawRead], started_s: float | None) -> list[RawRead]:
    """Place files that have elapsed time only, one behind the other in the order of their names."""
    others = any(read.absolute for read in reads)
    known = started_s is not None
    offset_s: float | None = None
    last_elapsed_s = 0.0
    before: RawRead | None = None
    out = []
    for read in reads:
        if read.absolute or not len(read.lines):
            out.append(read)
        elif others and not known:
            message = "the file has elapsed time only, other files of the cell have the calendar"
            out.append(read.refuse("no absolute time", message))
        else:
            first_s, end_s = float(read.time_s[0]), float(read.time_s[-1])
            repeats = before is not None and _repeats(read, before)
            restarts = offset_s is not None and first_s < last_elapsed_s and not repeats
            if offset_s is None:
                offset_s = (started_s or 0.0) - first_s
            elif restarts:
                offset_s, known = offset_s + last_elapsed_s - first_s, False
            known = known and not any(found.check == PAUSE for found in read.findings)
            last_elapsed_s, before = max(end_s, last_elapsed_s if repeats else end_s), read
            out.append(_placed(read, offset_s, known=known, restarts=restarts))
    return out


def _repeats(read: RawRead, before: RawRead) -> bool:
    """Whether a file begins with the rows of the file before: an export of all so far."""
    count = min(len(read.lines), len(before.lines))
    names = [name for name in ("current", "cell voltage") if name in read.values]
    if count < _ENOUGH_ROWS or any(name not in before.values for name in names):
        return False
    pairs = [(read.time_s, before.time_s)]
    pairs += [(read.values[name], before.values[name]) for name in names]
    return all(np.array_equal(new[:count], old[:count], equal_nan=True) for new, old in pairs)


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
        PAUSE,
        "caution",
        "the file has elapsed time only and starts anew, so the pause before it is not known",
        action="placed right behind the file before",
        line=int(read.lines[0]),
    )


def about_calendar(reads: Sequence[RawRead], cell: str, data_cut_s: float | None) -> list[Finding]:
    """Say once that a cell's rows are not on the calendar."""
    if all(read.absolute for read in reads if len(read.lines)):
        return []
    cut = "" if data_cut_s is None else "; the data cut can't be applied to them"
    message = (
        "rows have elapsed time only and the build sheet states no start of cycling (its column "
        "'cycling_started_at'), so their hours count from the first row; where a line above the "
        f"header states it, 'start_line' of the layout reads it{cut}"
    )
    return [Finding(cell, NO_DATE, "caution", message, "counted from the first row")]
