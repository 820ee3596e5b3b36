"""The rows below a header, block by block; another header between them begins a new segment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pyarrow as pa

from trivet.rawfiles.layout.declared import FileLayout
from trivet.rawfiles.layout.header import Header, find_header
from trivet.rawfiles.layout.later_headers import (
    Blocks,
    next_header,
    with_whole_headers,
    without_repeats,
)
from trivet.rawfiles.layout.units import CLOCK, UnitError, normal_unit, unit_of
from trivet.rawfiles.reading.growing import GrowingRows
from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.reading.wide import WideColumns, find_wide
from trivet.rawfiles.text.delimited import DATED, REPEATED, read_rows
from trivet.rawfiles.text.numbers import NumberReader
from trivet.rawfiles.text.rows import Form, Rows
from trivet.rawfiles.text.text_file import RawFileError
from trivet.store.arrow_arrays import text_array

OTHER_HEADER = "other header between the rows"
_TEXTS = ("absolute time", "pair", "cell", "state")
_MOST_SEGMENTS = 20
"""Files with more headers than this are damaged."""
_MANY_DATED, _DATED_SHARE = 3, 0.01
"""So many dates among numbers are a rewritten file; fewer may be a damaged one."""


def read_segments(read: RawRead, blocks: Blocks, *, header: Header, layout: FileLayout) -> RawRead:
    """Read the rows below a header, in our units.

    Parameters
    ----------
    read : RawRead
        The file so far.
    blocks : Blocks
        Its text from the first line of the data on.
    header : Header
        Its header.
    layout : FileLayout
        Its layout.
    """
    segment, at = _segment(read, blocks, header, layout)
    segments = [segment]
    while at is not None:
        line, block = blocks.with_next()
        try:
            if len(segments) >= _MOST_SEGMENTS:
                raise RawFileError(OTHER_HEADER, f"more than {_MOST_SEGMENTS} in one file", line)
            header = find_header(block, layout=layout, line=line)
        except RawFileError as fault:
            blocks.put_back(line, block)
            segments[-1] = _unread(segments[-1], blocks, line, fault)
            break
        blocks.put_back(header.body_line, block[header.body_start :])
        names = ", ".join(f"{n} in '{header.cells[p]}'" for n, (p, _) in header.columns.items())
        segments[0] = segments[0].assume(f"from line {line} on another header: {names}")
        segment, at = _segment(RawRead(read.file, read.cell), blocks, header, layout)
        segments.append(segment)
    return _joined(segments)


def _unread(read: RawRead, blocks: Blocks, line: int, fault: RawFileError) -> RawRead:
    """Set aside all rows below a header that can't be read."""
    filled = [at for at in filled_lines(blocks) if at > line]
    message = f"another header stands between the rows: {fault.message}"
    return replace(read, aside={**read.aside, OTHER_HEADER: np.array(filled, dtype=np.int64)}).note(
        OTHER_HEADER, "fault", message, action="rows below set aside", line=line
    )


def filled_lines(blocks: Iterator[tuple[int, bytes]]) -> Iterator[int]:
    """Lines that are not blank, one after the other."""
    for first, block in blocks:
        for line, content in enumerate(block.split(b"\n"), start=first):
            if content.strip():
                yield line


def _segment(
    read: RawRead, blocks: Blocks, header: Header, layout: FileLayout
) -> tuple[RawRead, int | None]:
    """Rows down to the next header, and its line."""
    wide = find_wide(header.cells, layout.wide) if layout.wide is not None else None
    form = _form(header, layout, wide)
    fault, at = _unit_fault(header, layout, wide), None
    gathered = GrowingRows()
    for first, block in with_whole_headers(blocks, form, layout):
        rows = read_rows(block, first_line=first, form=form)
        rows = without_repeats(rows, block, first, header, layout)
        at = next_header(rows, block, first, layout)
        if at is not None:
            start = _position(block, at - first)
            blocks.put_back(at, block[start:])
            rows = read_rows(block[:start], first_line=first, form=form)
            rows = without_repeats(rows, block[:start], first, header, layout)
            gathered.set_aside({REPEATED: np.arange(at, at + layout.header_rows)})
        values, texts = ({}, {}) if fault else _converted(rows, header, layout, wide)
        gathered.add(rows, values, texts, share=len(block) / blocks.size)
        if at is not None:
            break
    read = gathered.in_one(read)
    if fault:
        return read.refuse("unknown unit", fault, line=header.line), at
    return _about_rows(read, header), at


def _form(header: Header, layout: FileLayout, wide: WideColumns | None) -> Form:
    """How the rows are written."""
    places = [(place, _is_text(name, header)) for name, (place, _) in header.columns.items()]
    numbers = tuple(place for place, is_text in places if not is_text)
    return Form(
        delimiter=layout.delimiter,
        header=header.cells,
        numbers=numbers + (wide.places if wide else ()),
        texts=tuple(place for place, is_text in places if is_text),
        reader=NumberReader(
            decimal=layout.decimal, missing=layout.missing, thousands=layout.thousands
        ),
    )


def _is_text(quantity: str, header: Header) -> bool:
    """Whether a column is read as text."""
    return quantity in _TEXTS or normal_unit(header.columns[quantity][1].unit) == CLOCK


def _unit_fault(header: Header, layout: FileLayout, wide: WideColumns | None) -> str:
    """What is wrong with the units of a layout; empty where nothing is."""
    try:
        for quantity, (_, rule) in header.columns.items():
            unit_of(quantity, rule.unit)
        if wide is not None and layout.wide is not None:
            unit_of("real", layout.wide.unit)
    except UnitError as error:
        return f"{error}; layout '{layout.name}'"
    return ""


def _converted(
    rows: Rows, header: Header, layout: FileLayout, wide: WideColumns | None
) -> tuple[dict[str, np.ndarray], dict[str, pa.Array]]:
    """Columns of a block by quantity, numbers in our units."""
    values, texts = {}, {}
    for quantity, (place, rule) in header.columns.items():
        if _is_text(quantity, header):
            texts[quantity] = rows.texts[place]
        else:
            values[quantity] = unit_of(quantity, rule.unit).convert(rows.numbers[place])
    if wide is not None and layout.wide is not None:
        values |= wide.parts(rows.numbers, unit=layout.wide.unit)
    return values, texts


def _position(block: bytes, lines: int) -> int:
    """Position in a block behind so many lines."""
    at = 0
    for _ in range(lines):
        at = block.find(b"\n", at) + 1
    return at


def _about_rows(read: RawRead, header: Header) -> RawRead:
    """Refuse a file that a spreadsheet rewrote; say where there are no rows."""
    dated = len(read.aside.get(DATED, ()))
    if dated >= _MANY_DATED or dated > _DATED_SHARE * read.rows_seen:
        message = "dates stand where numbers should, as when a spreadsheet rewrote the file"
        return read.refuse(DATED, message, line=int(read.aside[DATED].min()))
    if read.rows_seen:
        return read
    return read.note("no rows", "caution", "the file has a header and no rows", line=header.line)


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
            name: pa.concat_arrays(
                [s.texts.get(name, text_array([""] * size)) for s, size in pairs]
            )
            for name in texts
        },
        aside={
            reason: np.concatenate([segment.aside.get(reason, none) for segment in segments])
            for reason in reasons
        },
        findings=tuple(finding for segment in segments for finding in segment.findings),
        assumed=tuple(dict.fromkeys(text for segment in segments for text in segment.assumed)),
    )
