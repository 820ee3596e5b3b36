"""One raw file in our quantities and units; whatever is wrong with it becomes a finding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pyarrow as pa

from trivet.io.delimited import Form, Rows, read_rows
from trivet.io.layouts import FileLayout
from trivet.io.numbers import NumberReader
from trivet.io.patterns import RawFile
from trivet.io.raw_read import RawRead, plural
from trivet.io.text_file import Header, RawFileError, RawText, find_header, read_text
from trivet.io.units import CLOCK, UnitError, normal_unit, unit_of

_TEXTS = ("absolute time", "pair")


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
        text = read_text(file.path, encoding=layout.encoding)
    except OSError as error:
        return read.refuse("unreadable file", f"the file can't be opened: {error.strerror}")
    except LookupError:
        message = f"encoding '{layout.encoding}' of layout '{layout.name}' is not known"
        return read.refuse("unknown encoding", message)
    read = _about_text(replace(read, bytes=text.bytes, sha256=text.sha256), text)
    if not text.data.strip():
        return read.refuse("empty file", "the file has no text")
    try:
        header = find_header(text, layout=layout)
    except RawFileError as fault:
        below = text.data.split(b"\n")[fault.line or 0 :]
        count = sum(1 for content in below if content.strip())
        return replace(read.refuse(fault.check, fault.message, line=fault.line), uncounted=count)
    return _read_body(read, text, header, layout)


def _about_text(read: RawRead, text: RawText) -> RawRead:
    """Encoding that was taken, and bytes that it does not have."""
    if text.from_mark:
        read = read.assume(f"encoding {text.encoding} from the byte order mark")
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


def _read_body(read: RawRead, text: RawText, header: Header, layout: FileLayout) -> RawRead:
    """Rows below the header, converted to our units."""
    is_text = {
        quantity: quantity in _TEXTS or normal_unit(rule.unit) == CLOCK
        for quantity, (_, rule) in header.columns.items()
    }
    form = Form(
        delimiter=layout.delimiter,
        header=header.cells,
        numbers=tuple(place for name, (place, _) in header.columns.items() if not is_text[name]),
        texts=tuple(place for name, (place, _) in header.columns.items() if is_text[name]),
        reader=NumberReader(decimal=layout.decimal, missing=layout.missing),
    )
    rows = read_rows(text.data[header.body_start :], first_line=header.body_line, form=form)
    read = replace(read, lines=rows.lines, aside=rows.aside)
    try:
        values, texts = _converted(rows, header, is_text)
    except UnitError as error:
        return read.refuse("unknown unit", f"{error}; layout '{layout.name}'", line=header.line)
    read = replace(read, values=values, texts=texts)
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
