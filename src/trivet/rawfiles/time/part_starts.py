"""Files whose start stands above their header: where their rows lie on the calendar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trivet.rawfiles.reading.raw_read import RawRead

_SAID = "elapsed time counts from the start that stands above the header"
_GOES_ON = "elapsed time goes on over the parts, so each part begins at the start above its header"


def with_start(read: RawRead) -> RawRead:
    """Place rows that have an elapsed time only by the start above their header.

    Parameters
    ----------
    read : RawRead
        A file; `time_s` holds its elapsed times [s].
    """
    if read.start_s is None:
        return read
    placed = replace(read, time_s=read.time_s + read.start_s, absolute=True)
    return replace(placed, clock_step_s=read.start_step_s).assume(_SAID)


def with_running_parts(reads: Sequence[RawRead]) -> list[RawRead]:
    """Take the elapsed time at which a part begins off, where it runs on over the parts.

    Parameters
    ----------
    reads : sequence of RawRead
        Files of a cell, times placed.

    Returns
    -------
    list of RawRead
        In the same order. A part counts as running on where its start is later than that of the
        part before and its elapsed time begins where that of the part before ended, or later.
    """
    out = list(reads)
    own = [place for place, read in enumerate(out) if _by_start(read)]
    shifts: dict[float, float] = {}
    before: tuple[float, float] | None = None
    for place in sorted(own, key=lambda at: (out[at].start_s or 0.0, out[at].time_s[0])):
        read = out[place]
        start_s = read.start_s or 0.0
        first_s, last_s = (float(read.time_s[row]) - start_s for row in (0, -1))
        if start_s not in shifts:
            runs_on = before is not None and start_s > before[0] and first_s >= before[1] > 0
            shifts[start_s] = first_s if runs_on else 0.0
        before = (start_s, last_s)
        if shifts[start_s]:
            moved = replace(read, time_s=read.time_s - shifts[start_s])
            out[place] = moved.assume(_GOES_ON)
    return out


def _by_start(read: RawRead) -> bool:
    """Whether rows of a file are placed by the start above its header."""
    return read.start_s is not None and bool(len(read.time_s)) and _SAID in read.assumed
