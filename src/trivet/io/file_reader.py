"""One raw file in our quantities and units; whatever is wrong with it becomes a finding."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
import pyarrow as pa

from trivet.io.delimited import DATED, RAGGED, REPEATED, UNREADABLE, read_rows
from trivet.io.header import Header, find_header, is_header
from trivet.io.layouts import FileLayout
from trivet.io.numbers import NumberReader
from trivet.io.patterns import RawFile
from trivet.io.raw_read import RawRead, plural
from trivet.io.rows import Form, Rows
from trivet.io.spreadsheet import is_workbook, read_workbook
from trivet.io.text_file import RawFileError, RawText, read_text, split_line
from trivet.io.units import CLOCK, UnitError, normal_unit, unit_of
from trivet.io.wide import find_wide

OTHER_HEADER = "other header between the rows"
_TEXTS = ("absolute time", "pair", "cell", "state")
_PREAMBLE_SIGNS = 500
_MOST_SEGMENTS = 20
"""Files with more headers than this are damaged, and each costs a pass over the rest."""
_MANY_DATED, _DATED_SHARE = 3, 0.01
"""So many dates among numbers are a rewritten file; fewer may be a damaged one."""


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
        raw = file.path.read_bytes()
        read = replace(read, bytes=len(raw), sha256=hashlib.sha256(raw).hexdigest())
        return read.refuse(fault.check, fault.message)
    read = replace(read, bytes=text.bytes, sha256=text.sha256, assumed=assumed)
    read = _about_text(read, text)
    if not text.data or text.data.isspace():
        return read.refuse("empty file", "the file has no text")
    try:
        header = find_header(text, layout=layout)
    except RawFileError as fault:
        below = text.data.split(b"\n")[fault.line or 0 :]
        count = sum(1 for content in below if content.strip())
        return replace(read.refuse(fault.check, fault.message, line=fault.line), uncounted=count)
    return _read_below(_about_header(read, text, header), text, header, layout)


def _open(file: RawFile, layout: FileLayout) -> tuple[RawText, FileLayout, tuple[str, ...]]:
    """Text of a file, the layout that reads it, and what was assumed."""
    if is_workbook(file.path):
        text, layout, taken = read_workbook(file.path, layout=layout)
        return text, layout, (taken,)
    return read_text(file.path, encoding=layout.encoding), layout, ()


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


def _about_header(read: RawRead, text: RawText, header: Header) -> RawRead:
    """What stands before the header, and which column was taken for what."""
    before = text.data[: header.body_start].decode("utf-8").split("\n")[: header.line - 1]
    kept = " | ".join(line.strip() for line in before if line.strip())
    named = [
        f"{quantity} from '{header.cells[place]}'" + (f" in {rule.unit}" if rule.unit else "")
        for quantity, (place, rule) in header.columns.items()
    ]
    read = replace(read, preamble=kept[:_PREAMBLE_SIGNS])
    if header.unit_line is not None:
        read = read.assume(f"line {header.unit_line} is a row of units")
    return read.assume(", ".join(named))


def _read_below(read: RawRead, text: RawText, header: Header, layout: FileLayout) -> RawRead:
    """Rows below the header; where another header stands between them, a new segment begins."""
    segments = [_read_body(read, text, header, layout)]
    while (other := _next_header(segments[-1], text, layout)) is not None:
        line, start = other
        segments[-1] = _up_to(segments[-1], line)
        try:
            if len(segments) >= _MOST_SEGMENTS:
                raise RawFileError(OTHER_HEADER, f"more than {_MOST_SEGMENTS} in one file", line)
            header = find_header(text, layout=layout, start=start, line=line)
        except RawFileError as fault:
            lines = np.arange(line + 1, line + 1 + text.data[start:].count(b"\n"))
            filled = [
                at
                for at, content in zip(lines, text.data[start:].split(b"\n")[1:], strict=False)
                if content.strip()
            ]
            message = f"another header stands between the rows: {fault.message}"
            segments[-1] = replace(
                segments[-1],
                aside={**segments[-1].aside, OTHER_HEADER: np.array(filled, dtype=np.int64)},
            ).note(OTHER_HEADER, "fault", message, action="rows below set aside", line=line)
            break
        again = f"from line {line} on another header: {_names(header)}"
        segments.append(_read_body(RawRead(read.file, read.cell), text, header, layout))
        segments[0] = segments[0].assume(again)
    return _joined(segments)


def _names(header: Header) -> str:
    """Quantities and the headers they stand under."""
    return ", ".join(f"{name} in '{header.cells[at]}'" for name, (at, _) in header.columns.items())


def _next_header(read: RawRead, text: RawText, layout: FileLayout) -> tuple[int, int] | None:
    """Line and position of the first header among the rows that could not be read."""
    unread = [read.aside[reason] for reason in (UNREADABLE, RAGGED) if reason in read.aside]
    if not unread:
        return None
    ends = np.flatnonzero(np.frombuffer(text.data, dtype=np.uint8) == ord("\n"))
    for line in np.sort(np.concatenate(unread)).tolist():
        start = int(ends[line - 2]) + 1 if line > 1 else 0
        stop = int(ends[line - 1]) if line <= len(ends) else len(text.data)
        shown = text.data[start:stop].decode("utf-8")
        if is_header(layout, split_line(shown, layout.delimiter) or []):
            return line, start
    return None


def _up_to(read: RawRead, line: int) -> RawRead:
    """Rows above a line; the line itself counts as a header."""
    mask = read.lines < line
    aside = {reason: lines[lines < line] for reason, lines in read.aside.items()}
    aside[REPEATED] = np.append(aside.get(REPEATED, np.zeros(0, np.int64)), line)
    kept = read.keep(mask)
    return replace(kept, aside={reason: lines for reason, lines in aside.items() if len(lines)})


def _joined(segments: list[RawRead]) -> RawRead:
    """Segments one behind the other; a quantity that one lacks is missing there."""
    first = segments[0]
    if len(segments) == 1:
        return first
    sizes = [len(segment.lines) for segment in segments]
    names = dict.fromkeys(name for segment in segments for name in segment.values)
    texts = dict.fromkeys(name for segment in segments for name in segment.texts)
    pairs = list(zip(segments, sizes, strict=True))
    reasons = sorted({reason for segment in segments for reason in segment.aside})
    none = np.zeros(0, dtype=np.int64)
    return replace(
        first,
        lines=np.concatenate([segment.lines for segment in segments]),
        values={
            name: np.concatenate([s.values.get(name, np.full(size, np.nan)) for s, size in pairs])
            for name in names
        },
        texts={
            name: pa.concat_arrays([s.texts.get(name, pa.array([""] * size)) for s, size in pairs])
            for name in texts
        },
        aside={
            reason: np.concatenate([segment.aside.get(reason, none) for segment in segments])
            for reason in reasons
        },
        findings=tuple(finding for segment in segments for finding in segment.findings),
        assumed=tuple(dict.fromkeys(text for segment in segments for text in segment.assumed)),
    )


def _read_body(read: RawRead, text: RawText, header: Header, layout: FileLayout) -> RawRead:
    """Rows below the header, converted to our units."""
    is_text = {
        quantity: quantity in _TEXTS or normal_unit(rule.unit) == CLOCK
        for quantity, (_, rule) in header.columns.items()
    }
    wide = find_wide(header.cells, layout.wide) if layout.wide is not None else None
    numbers = [place for name, (place, _) in header.columns.items() if not is_text[name]]
    form = Form(
        delimiter=layout.delimiter,
        header=header.cells,
        numbers=tuple(numbers) + (wide.places if wide else ()),
        texts=tuple(place for name, (place, _) in header.columns.items() if is_text[name]),
        reader=NumberReader(
            decimal=layout.decimal, missing=layout.missing, thousands=layout.thousands
        ),
    )
    rows = read_rows(text.data, first_line=header.body_line, form=form, start=header.body_start)
    read = replace(read, lines=rows.lines, aside=rows.aside)
    try:
        values, texts = _converted(rows, header, is_text)
        if wide is not None and layout.wide is not None:
            values |= wide.parts(rows.numbers, unit=layout.wide.unit)
    except UnitError as error:
        return read.refuse("unknown unit", f"{error}; layout '{layout.name}'", line=header.line)
    read = replace(read, values=values, texts=texts)
    dated = len(read.aside.get(DATED, ()))
    if dated >= _MANY_DATED or dated > _DATED_SHARE * read.rows_seen:
        message = "dates stand where numbers should, as when a spreadsheet rewrote the file"
        return read.refuse(DATED, message, line=int(read.aside[DATED].min()))
    if read.rows_seen:
        return read
    return read.note("no rows", "caution", "the file has a header and no rows", line=header.line)


def _converted(
    rows: Rows, header: Header, is_text: dict[str, bool]
) -> tuple[dict[str, np.ndarray], dict[str, pa.Array]]:
    """Columns by quantity, numbers in our units."""
    values, texts = {}, {}
    for quantity, (place, rule) in header.columns.items():
        unit = unit_of(quantity, rule.unit)
        if is_text[quantity]:
            texts[quantity] = rows.texts[place]
        else:
            values[quantity] = unit.convert(rows.numbers[place])
    return values, texts
