"""Files that have the same bytes as another: they stop the cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trivet.rawfiles.reading.raw_read import RawRead

COPIES = "same file twice"


def stop_copies(reads: Sequence[RawRead]) -> list[RawRead]:
    """Set all files of a cell aside where two of them have the same bytes.

    Which of the two is meant, and whether the other should have been another file, only a person
    can tell. Files without rows say nothing twice.

    Parameters
    ----------
    reads : sequence of RawRead
        Files of the cell, of one kind.
    """
    first: dict[str, str] = {}
    for read in reads:
        earlier = first.setdefault(read.sha256, read.file.relative) if len(read.lines) else ""
        if earlier not in ("", read.file.relative):
            message = (
                f"'{read.file.relative}' has the same content as '{earlier}': remove one of them, "
                f"or put the file there that belongs there; until then no {read.file.content} "
                "file of the cell is used"
            )
            return [one.refuse(COPIES, message) for one in reads]
    return list(reads)


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
