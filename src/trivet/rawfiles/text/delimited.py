"""The body of a raw file as columns: fast where the text is clean, row by row where it is not.

Both ways give the same columns, line numbers and rows set aside; a block of lines takes the second
way when the first can't be proved to agree with it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from trivet.rawfiles.text.numbers import is_dated
from trivet.rawfiles.text.rows import Form, Rows, join_rows, no_rows
from trivet.rawfiles.text.text_file import count_lines, split_line
from trivet.store.arrow_arrays import numbers, text_array, text_scalar, truths

_SMALL_BLOCK_LINES = 64
"""A block that fails is halved down to this size before it is read row by row."""

RAGGED = "wrong number of columns"
UNREADABLE = "unreadable value"
TRUNCATED = "truncated last line"
DATED = "date in place of a number"
"""What a spreadsheet makes of a number that it takes for a date."""
REPEATED = "repeated header"


def read_rows(body: bytes, *, first_line: int, form: Form, fast: bool = True) -> Rows:
    """Read a block of the rows below a header.

    Parameters
    ----------
    body : bytes
        UTF-8 text with line feeds only.
    first_line : int
        Line of its first line in the file.
    form : Form
        How rows are written.
    fast : bool
        Whether clean blocks take the fast way; False reads every row by itself.

    Returns
    -------
    Rows
        Every line that is not blank is a row here or stands in `aside`. A last line without a line
        end may be cut anywhere, so it is always set aside.
    """
    whole_end = body.rfind(b"\n") + 1
    block, rest = body[:whole_end], body[whole_end:]
    rows = _read_block(block, first_line, form, fast=fast)
    if not rest.strip():
        return rows
    return join_rows([rows, no_rows(form, {TRUNCATED: [first_line + count_lines(block)]})], form)


def _read_block(block: bytes, first_line: int, form: Form, *, fast: bool) -> Rows:
    """One block, halved around what the fast way can't read."""
    unfit = not fast or b'"' in block or b"\0" in block
    rows = None if unfit else _read_fast(block, first_line, form)
    if rows is not None:
        return rows
    if unfit or count_lines(block) <= _SMALL_BLOCK_LINES:
        return _read_slowly(block, first_line, form)
    middle = len(block) // 2
    cut = block.find(b"\n", middle) + 1
    if cut in (0, len(block)):
        return _read_slowly(block, first_line, form)
    first, second = block[:cut], block[cut:]
    halves = [
        _read_block(first, first_line, form, fast=True),
        _read_block(second, first_line + count_lines(first), form, fast=True),
    ]
    return join_rows(halves, form)


def _read_fast(block: bytes, first_line: int, form: Form) -> Rows | None:
    """A clean block through pyarrow; None where any row is not as expected."""
    if form.delimiter == " ":
        block = re.sub(rb"(?m)^ | $", b"", re.sub(rb"[ \t]+", b" ", block))
    if block.isspace():
        return no_rows(form, {})
    stripped = block.lstrip(b"\n") if block.startswith(b"\n") else block
    width = stripped.count(form.delimiter.encode(), 0, stripped.find(b"\n")) + 1
    expected = len(form.header)
    if width not in (expected, expected + 1):
        return None
    blank = [expected] if width > expected else []
    table = _through_arrow(block, width, blank, form)
    lines = None if table is None else _filled_lines(block, first_line, table.num_rows)
    if table is None or lines is None:
        return None
    if (
        blank
        and pc.any(
            pc.not_equal(pc.utf8_trim_whitespace(table[f"{expected}"]), text_scalar(""))
        ).as_py()
    ):
        return None
    numbers = {}
    for place in form.numbers:
        values = _numbers(table[f"{place}"], form.reader.missing_numbers)
        if values is None:
            return None
        numbers[place] = values
    texts = {place: _clean_text(table[f"{place}"], form) for place in form.texts}
    return Rows(lines, numbers, texts, {})


def _filled_lines(block: bytes, first_line: int, rows: int) -> np.ndarray | None:
    """Lines of a block that are not blank; None where they are not so many."""
    count = count_lines(block)
    if count == rows:
        return np.arange(first_line, first_line + count)
    ends = np.flatnonzero(np.frombuffer(block, dtype=np.uint8) == ord("\n"))
    lines = first_line + np.flatnonzero(np.diff(ends, prepend=-1) > 1)
    return lines if len(lines) == rows else None


def _numbers(column: pa.ChunkedArray, missing: Sequence[float]) -> np.ndarray | None:
    """Numbers of a column, missing ones NaN; None where one is infinite or no number."""
    gaps = truths(column.is_null()) if column.null_count else None
    values = numbers(column)
    if gaps is not None:
        values = np.where(gaps, 0.0, values)
    lowest, highest = float(values.min()), float(values.max())
    # A number that is none carries through both, an infinite one is one of them.
    if not (np.isfinite(lowest) and np.isfinite(highest)):
        return None
    for number in missing:
        if lowest <= number <= highest:
            hit = values == number
            gaps = hit if gaps is None else gaps | hit
    return values if gaps is None else np.where(gaps, np.nan, values)


def _through_arrow(block: bytes, width: int, blank: list[int], form: Form) -> pa.Table | None:
    """The wanted columns of a block; None where a value or the number of columns is unexpected."""
    types = {f"{place}": pa.float64() for place in form.numbers}
    types |= {f"{place}": pa.string() for place in (*form.texts, *blank)}
    try:
        return pa_csv.read_csv(
            pa.BufferReader(block),
            read_options=pa_csv.ReadOptions(
                column_names=[f"{place}" for place in range(width)],
                use_threads=False,
                block_size=len(block) + 1,
            ),
            parse_options=pa_csv.ParseOptions(delimiter=form.delimiter, quote_char=False),
            convert_options=pa_csv.ConvertOptions(
                column_types=types,
                include_columns=list(types),
                null_values=sorted(form.reader.spellings),
                strings_can_be_null=False,
                decimal_point=form.reader.decimal,
            ),
        )
    except pa.ArrowInvalid:
        return None


def _read_slowly(block: bytes, first_line: int, form: Form) -> Rows:
    """A block row by row."""
    lines: list[int] = []
    fields: list[list[float | str]] = []
    aside: dict[str, list[int]] = {}
    for line, content in enumerate(block.decode("utf-8").split("\n"), start=first_line):
        if not content.strip():
            continue
        row = _read_row(content, form)
        if isinstance(row, str):
            aside.setdefault(row, []).append(line)
        else:
            lines.append(line)
            fields.append(row)
    wanted = (*form.numbers, *form.texts)
    columns = list(zip(*fields, strict=True)) if fields else [()] * len(wanted)
    split = len(form.numbers)
    texts = [_clean_text(text_array(column), form) for column in columns[split:]]
    return Rows(
        np.array(lines, dtype=np.int64),
        {
            place: np.array(column, dtype=float)
            for place, column in zip(form.numbers, columns[:split], strict=True)
        },
        dict(zip(form.texts, texts, strict=True)),
        {reason: np.array(where, dtype=np.int64) for reason, where in aside.items()},
    )


def _read_row(content: str, form: Form) -> list[float | str] | str:
    """Wanted fields of one line, or the reason why it can't be read."""
    if "\0" in content:
        return UNREADABLE
    cells = split_line(content, form.delimiter)
    if cells is None:
        return RAGGED
    expected = len(form.header)
    if len(cells) == expected + 1 and not cells[-1].strip():
        cells = cells[:-1]
    if len(cells) != expected:
        return RAGGED
    row: list[float | str] = []
    for place in form.numbers:
        value = form.reader.read(cells[place])
        if value is None:
            if tuple(cell.strip() for cell in cells) == form.header:
                return REPEATED
            return DATED if is_dated(cells[place]) else UNREADABLE
        row.append(value)
    return row + [cells[place] for place in form.texts]


def _clean_text(column: pa.Array | pa.ChunkedArray, form: Form) -> pa.Array:
    """Text without blanks around, words for no value as empty."""
    if isinstance(column, pa.ChunkedArray):
        column = column.combine_chunks()
    trimmed = pc.utf8_trim_whitespace(column)
    words = text_array(sorted(form.reader.words))
    missing = pc.is_in(pc.utf8_lower(trimmed), value_set=words)
    return pc.if_else(missing, text_scalar(""), trimmed)
