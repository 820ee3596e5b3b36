"""Headers between the rows: one that repeats the first, and one that begins a new segment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from trivet.rawfiles.layout.declared import FileLayout, joined_names
from trivet.rawfiles.layout.header import Header, is_header
from trivet.rawfiles.text.delimited import RAGGED, REPEATED, UNREADABLE, read_rows
from trivet.rawfiles.text.rows import Form, Rows
from trivet.rawfiles.text.text_file import RawText, split_line


class Blocks:
    """Text of a file in blocks of whole lines, of which some can be put back.

    Parameters
    ----------
    text : RawText
        The file.
    """

    def __init__(self, text: RawText) -> None:
        self.size = text.size
        self._rest = text.blocks()
        self._back: list[tuple[int, bytes]] = []

    def __iter__(self) -> Iterator[tuple[int, bytes]]:
        """Give itself, which is used up by going through it."""
        return self

    def __next__(self) -> tuple[int, bytes]:
        """Give the next block with the number of its first line."""
        return self._back.pop() if self._back else next(self._rest)

    def with_next(self) -> tuple[int, bytes]:
        """Give the next two blocks as one, so that what belongs to a header stands in it."""
        line, block = next(self)
        return line, block + next(self, (0, b""))[1]

    def put_back(self, line: int, block: bytes) -> None:
        """Give a block again next time."""
        if block:
            self._back.append((line, block))


def next_header(rows: Rows, block: bytes, first: int, layout: FileLayout) -> int | None:
    """Line of the first header among the rows of a block that could not be read."""
    unread = [rows.aside[reason] for reason in (UNREADABLE, RAGGED) if reason in rows.aside]
    if not unread:
        return None
    lines = block.split(b"\n")
    for line in np.sort(np.concatenate(unread)).tolist():
        if is_header(layout, _names_at(lines, line - first, layout)):
            return int(line)
    return None


def _names_at(lines: Sequence[bytes], at: int, layout: FileLayout) -> list[str]:
    """Names of a header that would begin on a line."""
    rows = [
        split_line(line.decode("utf-8"), layout.delimiter) or []
        for line in lines[at : at + layout.header_rows]
    ]
    return joined_names(rows)


def without_repeats(
    rows: Rows, block: bytes, first: int, header: Header, layout: FileLayout
) -> Rows:
    """Rows in which all lines of a header that stands again count as repeated.

    A header of one line was known as such when its row was read.
    """
    unread = {reason: rows.aside[reason] for reason in (UNREADABLE, RAGGED) if reason in rows.aside}
    if layout.header_rows == 1 or not unread:
        return rows
    lines = block.split(b"\n")
    repeated = [
        line + more
        for line in np.sort(np.concatenate(list(unread.values()))).tolist()
        if tuple(_names_at(lines, line - first, layout)) == header.cells
        for more in range(layout.header_rows)
    ]
    aside = {reason: np.setdiff1d(where, repeated) for reason, where in unread.items()}
    aside = {**rows.aside, **aside, REPEATED: np.array(repeated, dtype=np.int64)}
    return replace(rows, aside={reason: where for reason, where in aside.items() if len(where)})


def with_whole_headers(
    blocks: Blocks, form: Form, layout: FileLayout
) -> Iterator[tuple[int, bytes]]:
    """Blocks that do not end within a header of several lines."""
    for first, block in blocks:
        whole = block
        while layout.header_rows > 1 and _ends_unread(whole, form, layout.header_rows - 1):
            more = next(blocks, None)
            if more is None:
                break
            whole += more[1]
        yield first, whole


def _ends_unread(block: bytes, form: Form, lines: int) -> bool:
    """Whether any of the last lines of a block can't be read as a row."""
    tail = b"\n".join(block.rsplit(b"\n", lines + 1)[-lines - 1 :])
    return bool(read_rows(tail, first_line=1, form=form).aside)
