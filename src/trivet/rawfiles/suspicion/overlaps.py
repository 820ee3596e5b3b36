"""Files of one cell in order of time: exact duplicates dropped, contradictions stop the cell."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead, plural

DUPLICATE = "exact duplicate"
OVERLAP = "overlapping files"
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
        set aside; where two files say different things of one stretch, all files are.
    """
    filled = [read for read in reads if len(read.lines)]
    without = [read for read in reads if not len(read.lines)]
    out, used = list[RawRead](), list[RawRead]()
    end_s = -np.inf
    for read in sorted(filled, key=lambda one: (float(one.time_s[0]), one.file.order)):
        if read.time_s[0] < end_s:
            common = read.time_s <= end_s
            if not _stand_in(used, read, common):
                return [*without, *_stopped(filled, read, used[-1], end_s)]
            kept = read.keep(~common, reason=DUPLICATE)
            message = f"{plural(int(common.sum()), 'row')} stand in an earlier file already"
            out.append(kept.note(DUPLICATE, "note", message, action="counted once"))
        else:
            out.append(read)
        used.append(read)
        end_s = max(end_s, float(read.time_s[-1]))
    return [*without, *out]


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
