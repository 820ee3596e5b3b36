"""Files of one cell in order of time: exact duplicates dropped, contradictions stop the cell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead, plural

DUPLICATE = "exact duplicate"
OVERLAP = "overlapping files"
FOLLOWS = "parts closer than their clock"
_COARSE_S = 1.0
_MINUTE_S = 60.0
_COMPARED = ("current", "cell voltage", "positive potential", "negative potential")


def join_files(reads: Sequence[RawRead]) -> list[RawRead]:
    """Order files by their first row.

    Parameters
    ----------
    reads : sequence of RawRead
        Files of a cell, times placed.

    Returns
    -------
    list of RawRead
        Files without rows first. Rows that stand in an earlier file already, value by value, are
        set aside; where two files say different things of one stretch, all files are. A part that
        seems to overlap by less than its clock can show follows on.
    """
    filled = [read for read in reads if len(read.lines)]
    without = [read for read in reads if not len(read.lines)]
    out, used = list[RawRead](), list[RawRead]()
    end_s = -np.inf
    for read in sorted(filled, key=lambda one: (float(one.time_s[0]), one.file.order)):
        placed = read
        if read.time_s[0] < end_s:
            common = read.time_s <= end_s
            last = max(used, key=lambda one: float(one.time_s[-1]))
            if _stand_in(used, read, common):
                placed = read.keep(~common, reason=DUPLICATE)
                message = f"{plural(int(common.sum()), 'row')} stand in an earlier file already"
                placed = placed.note(DUPLICATE, "note", message, action="counted once")
            elif end_s - read.time_s[0] > _tolerance_s(last, read):
                return [*without, *_stopped(filled, read, last, end_s)]
            else:
                placed = _follows_on(read, last, end_s)
        out.append(placed)
        used.append(placed if len(placed.lines) == len(read.lines) else read)
        end_s = max(end_s, float(used[-1].time_s[-1]))
    return [*without, *out]


def _tolerance_s(before: RawRead, read: RawRead) -> float:
    """So far a part may seem to begin before the one before it ends [s].

    Starts that are written in whole seconds or coarser may seem earlier by one unit, and the last
    row of a part may be written one interval after the next part has begun.
    """
    step_s = max(before.clock_step_s, read.clock_step_s)
    if step_s < _COARSE_S:
        return 0.0
    intervals = [np.diff(before.time_s[-2:]), np.diff(read.time_s[:2])]
    return step_s + float(min((step[0] for step in intervals if len(step)), default=0.0))


def _follows_on(read: RawRead, before: RawRead, end_s: float) -> RawRead:
    """Move a part behind the one before it, and say so."""
    overlap_s = float(end_s - read.time_s[0])
    step_s = max(before.clock_step_s, read.clock_step_s)
    message = (
        f"the part seems to begin {overlap_s:.3g} s before '{before.file.relative}' ends; starts "
        f"are written in steps of {step_s:g} s, so this may be their rounding"
    )
    return replace(read, time_s=read.time_s + overlap_s).note(
        FOLLOWS,
        "note" if step_s <= _MINUTE_S else "caution",
        message,
        action="placed right behind it",
        line=int(read.lines[0]),
        value=overlap_s,
        limit=_tolerance_s(before, read),
        unit="s",
    )


def _stand_in(used: Sequence[RawRead], read: RawRead, common: np.ndarray) -> bool:
    """Whether every row of a mask stands in an earlier file with the same values."""
    names = [name for name in _COMPARED if name in read.values]
    if any(name not in other.values for other in used for name in names):
        return False
    mine = _rows(read, names)[common]
    return bool(np.all(np.isin(mine, np.concatenate([_rows(other, names) for other in used]))))


def _rows(read: RawRead, names: Sequence[str]) -> np.ndarray:
    """Rows as one value each, that compare as their bytes do."""
    table = np.column_stack([read.time_s, *(read.values[name] for name in names)]) + 0.0
    return np.ascontiguousarray(table).view(np.dtype((np.void, table.shape[1] * 8))).ravel()


def _stopped(
    reads: Sequence[RawRead], culprit: RawRead, before: RawRead, end_s: float
) -> list[RawRead]:
    """All files set aside because two of them contradict."""
    message = (
        f"'{culprit.file.relative}' begins {end_s - culprit.time_s[0]:.6g} s before "
        f"'{before.file.relative}' ends, and their rows differ; a cell can't be in two files at "
        "once, so no file of the cell is used"
    )
    return [read.refuse(OVERLAP, message, line=int(read.lines[0])) for read in reads]
