"""Files that have the same bytes as another: counted once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from trivet.io.raw_read import RawRead


def split_copies(
    reads: Sequence[RawRead],
) -> tuple[list[RawRead], list[tuple[RawRead, str]]]:
    """Part files from those that have the same bytes as an earlier file of the cell.

    Returns
    -------
    list of RawRead
        Files that are read.
    list of tuple of RawRead and str
        Copies, each with the path of the file it repeats.
    """
    first: dict[str, str] = {}
    unique, copies = [], []
    for read in reads:
        earlier = first.setdefault(read.sha256, read.file.relative)
        if read.bytes and earlier != read.file.relative:
            copies.append((read, earlier))
        else:
            unique.append(read)
    return unique, copies


def refuse_copies(
    unique: Sequence[RawRead], copies: Sequence[tuple[RawRead, str]]
) -> list[RawRead]:
    """Set copies aside; their rows count as those of the file they repeat, up to the data cut."""
    by_file = {read.file.relative: read for read in unique}
    out = []
    for copy, earlier in copies:
        counted = replace(copy, values={}, texts={}, uncounted=by_file[earlier].rows_seen)
        counted = replace(counted, lines=copy.lines[:0], aside={})
        message = f"the file has the same content as '{earlier}'"
        out.append(counted.refuse("same file twice", message))
    return out


def stop_twins(reads: Sequence[RawRead], twins: Mapping[str, str]) -> list[RawRead]:
    """Set all files of a cell aside where another cell has one of them too.

    Parameters
    ----------
    reads : sequence of RawRead
        Files of the cell.
    twins : mapping of str to str
        Path of a file, and the cell and path of its twin.
    """
    named = [read.file.relative for read in reads if read.file.relative in twins]
    if not named:
        return list(reads)
    message = (
        f"'{named[0]}' has the same content as the file of another cell ({twins[named[0]]}); one "
        "of them is wrong, so no such file of either cell is used"
    )
    return [read.refuse("same file for two cells", message) for read in reads]
