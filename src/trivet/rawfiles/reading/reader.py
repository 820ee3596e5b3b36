"""One raw file in our quantities and units; whatever is wrong with it becomes a finding."""

from __future__ import annotations

from dataclasses import replace

from trivet.rawfiles.layout.declared import FileLayout
from trivet.rawfiles.layout.header import Header, find_header
from trivet.rawfiles.layout.later_headers import Blocks
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.raw_read import RawRead, plural
from trivet.rawfiles.reading.segments import filled_lines, read_segments
from trivet.rawfiles.reading.spreadsheet import is_workbook, read_workbook
from trivet.rawfiles.text.preamble import declared_start
from trivet.rawfiles.text.text_file import RawFileError, RawText, read_text
from trivet.store.checksums import sha256

_PREAMBLE_SIGNS = 500


def read_file(file: RawFile, *, cell: str, layout: FileLayout) -> RawRead:
    """Read one raw file; whatever is wrong with it becomes a finding.

    Parameters
    ----------
    file : RawFile
        The file.
    cell : str
        Its cell.
    layout : FileLayout
        Its layout.

    Returns
    -------
    RawRead
        Times not placed yet.
    """
    read = RawRead(file, cell)
    if file.also:
        read = read.note(
            "overlapping patterns",
            "caution",
            f"pattern '{file.also}' matches the file too and would read it otherwise",
            action=f"read once, as {file.content} with layout '{file.layout}'",
        )
    try:
        text, layout, assumed = _open(file, layout)
    except OSError as error:
        return read.refuse("unreadable file", f"the file can't be opened: {error.strerror}")
    except LookupError:
        message = f"encoding '{layout.encoding}' of layout '{layout.name}' is not known"
        return read.refuse("unknown encoding", message)
    except RawFileError as fault:
        return _digested(read).refuse(fault.check, fault.message)
    read = replace(read, bytes=text.size, sha256=text.sha256, assumed=assumed)
    try:
        return _read_text(_about_text(read, text), text, layout)
    except OSError as error:
        return read.refuse("unreadable file", f"the file can't be read: {error.strerror}")
    except RawFileError as fault:
        return read.refuse(fault.check, fault.message, line=fault.line)


def _read_text(read: RawRead, text: RawText, layout: FileLayout) -> RawRead:
    """Rows of a text; only where it can't be read to its end an error is left to the caller."""
    if all(block.isspace() for _, block in text.blocks()):
        return read.refuse("empty file", "the file has no text")
    blocks = Blocks(text)
    _, head = blocks.with_next()
    try:
        header = find_header(head, layout=layout)
    except RawFileError as fault:
        below = fault.line or 0
        count = sum(1 for line in filled_lines(text.blocks()) if line > below)
        return replace(read.refuse(fault.check, fault.message, line=fault.line), uncounted=count)
    blocks.put_back(header.body_line, head[header.body_start :])
    read = _about_header(read, head, header)
    above = head[: header.body_start].decode("utf-8").split("\n")[: header.line - 1]
    read = read_segments(read, blocks, header=header, layout=layout)
    return _with_start(read, above, layout)


def _with_start(read: RawRead, above: list[str], layout: FileLayout) -> RawRead:
    """Start that the declared line above the header states; refused where it is not there."""
    if not layout.start_line:
        return read
    try:
        start = declared_start(
            above, words=layout.start_line, form=layout.start_format, zone=layout.time_zone
        )
    except RawFileError as fault:
        return read.refuse(fault.check, fault.message, line=fault.line)
    return replace(read, start_s=start.time_s, start_step_s=start.step_s)


def _open(file: RawFile, layout: FileLayout) -> tuple[RawText, FileLayout, tuple[str, ...]]:
    """Text of a file, the layout that reads it, and what was assumed."""
    if is_workbook(file.path):
        text, layout, taken = read_workbook(file.path, layout=layout)
        return text, layout, (taken,)
    return read_text(file.path, encoding=layout.encoding), layout, ()


def _digested(read: RawRead) -> RawRead:
    """The account of a file that can't be used, with its size and checksum where it has one."""
    try:
        digest = sha256(read.file.path)
        return replace(read, bytes=read.file.path.stat().st_size, sha256=digest)
    except OSError:
        # Gone meanwhile: the finding that is being written says that it can't be used.
        return read


def _about_text(read: RawRead, text: RawText) -> RawRead:
    """Encoding that was taken, and bytes that it does not have."""
    if text.from_mark:
        read = read.assume(f"encoding {text.encoding} from the byte order mark")
    if text.inferred:
        read = read.assume(f"encoding {text.encoding}, which the bytes prove")
    if text.zero_byte >= 0:
        read = read.note(
            "zero bytes",
            "caution",
            f"the file has zero bytes from byte {text.zero_byte} on, as after a power failure",
            action="rows with them set aside",
            value=float(text.zero_byte),
            unit="byte",
        )
    if text.undecodable:
        count = len(text.undecodable)
        read = read.note(
            "encoding",
            "caution",
            f"{plural(count, 'line')} not all {text.encoding}; values hit by that are set aside",
            line=text.undecodable[0],
            value=float(count),
            unit="1",
        )
    return read


def _about_header(read: RawRead, head: bytes, header: Header) -> RawRead:
    """What stands before the header, and which column was taken for what."""
    before = head[: header.body_start].decode("utf-8").split("\n")[: header.line - 1]
    kept = " | ".join(line.strip() for line in before if line.strip())
    named = [
        f"{quantity} from '{header.cells[place]}'" + (f" in {rule.unit}" if rule.unit else "")
        for quantity, (place, rule) in header.columns.items()
    ]
    read = replace(read, preamble=kept[:_PREAMBLE_SIGNS], taken=tuple(named))
    if header.unit_line is not None:
        read = read.read_as(f"line {header.unit_line} is a row of units")
    return read.read_as(", ".join(named))
