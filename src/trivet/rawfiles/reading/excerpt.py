"""Head and tail of a large file as files of their own, for a look that need not read all of it."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from itertools import islice
from pathlib import Path

from trivet.rawfiles.layout.declared import FileLayout
from trivet.rawfiles.layout.header import find_header
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.spreadsheet import is_workbook
from trivet.rawfiles.text.text_file import RawFileError, read_text
from trivet.store.regular_file import open_regular

WHOLE_BYTES = 4_000_000
"""A file up to this size is read whole; of a larger one, half of this from either end [bytes]."""
_LINES = re.compile(rb"[^\r\n]*(?:\r\n|\r|\n)")


def head_and_tail(
    file: RawFile, *, layout: FileLayout, folder: Path, whole_bytes: int = WHOLE_BYTES
) -> list[RawFile]:
    """Cut head and tail out of a large file, the tail with the header of the file before it.

    Two files in place of one, since a gap in the midst of one would look like a step.

    Parameters
    ----------
    file : RawFile
        The file.
    layout : FileLayout
        Its layout.
    folder : Path
        Existing folder for the excerpts.
    whole_bytes : int
        Size up to which a file is left whole [bytes].

    Returns
    -------
    list of RawFile
        The file itself where it is small, a workbook, or can't be cut; else its excerpts, which
        keep its name. Just the head where no header is found there.
    """
    if is_workbook(file.path):
        return [file]
    try:
        with open_regular(file.path) as stream:
            size = os.fstat(stream.fileno()).st_size
            if size <= whole_bytes:
                return [file]
            head = stream.read(whole_bytes // 2)
            stream.seek(size - whole_bytes // 2)
            tail = stream.read()
    except OSError:
        # The reader meets the same, and says why.
        return [file]
    end = b"\n" if b"\n" in head else b"\r"
    if b"\0" in head or end not in head or end not in tail:
        return [file]
    head = head[: head.rfind(end) + 1]
    first = _excerpt(file, folder, "head", head)
    names = _names(first.path, head, layout)
    if not names:
        return [first]
    return [first, _excerpt(file, folder, "tail", names + tail[tail.find(end) + 1 :])]


def _names(path: Path, head: bytes, layout: FileLayout) -> bytes:
    """The lines down to the first row of data; empty where no header is found."""
    try:
        header = find_header(read_text(path, encoding=layout.encoding).head(), layout=layout)
    except RawFileError:
        # The head is read as a file too, which ends in a finding that says the same.
        return b""
    lines = islice(_LINES.finditer(head), header.body_line - 1)
    return b"".join(match.group() for match in lines)


def _excerpt(file: RawFile, folder: Path, name: str, content: bytes) -> RawFile:
    """A part of a file, written to a folder of its own."""
    path = folder / name / file.relative
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return replace(file, path=path)
