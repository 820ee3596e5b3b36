"""How the text of an unknown file is written: encoding, delimiter, header, decimal sign."""

from __future__ import annotations

import re
from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from trivet.rawfiles.layout.declared import joined_names
from trivet.rawfiles.layout.units import known_unit
from trivet.rawfiles.proposal.words import quantity_of
from trivet.rawfiles.reading.spreadsheet import is_workbook, workbook_text
from trivet.rawfiles.text.text_file import RawFileError, RawText, read_text, split_line

_DELIMITERS = ("\t", ";", "|", ",", " ")
_HEAD_LINES, _TAIL_LINES = 4000, 400
_NUMBER = re.compile(r"[+-]?[0-9][0-9.,'\u2019\u00a0\u202f ]*(?:[eE][+-]?[0-9]+)?|[+-]?[.,][0-9]+")
_EMPTY = ("", "-", "1", "none")


@dataclass(frozen=True)
class TextGuess:
    """How a file is written.

    Attributes
    ----------
    text : RawText
        The file.
    encoding, delimiter, decimal : str
        As in a layout.
    header_rows : int
        Lines that the headers stand on.
    unit_row : bool
        Whether a row of units follows the header.
    header : tuple of str
        Headers.
    header_line : int
        Line of the header.
    units : tuple of str
        Units of the row of units; empty without one.
    rows : tuple of tuple of str
        Rows from the head and the tail of the file.
    evidence : dict of str to str
        Why, by setting.
    questions : tuple of str
        What can't be told.
    """

    text: RawText
    encoding: str
    delimiter: str
    decimal: str
    header_rows: int
    unit_row: bool
    header: tuple[str, ...]
    header_line: int
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    evidence: dict[str, str]
    questions: tuple[str, ...]

    def column(self, place: int) -> list[str]:
        """Filled fields of a column."""
        return [row[place].strip() for row in self.rows if row[place].strip()]


def guess_text(path: Path) -> TextGuess:
    """Find out how a file is written.

    Raises
    ------
    RawFileError
        It has no rows, or no header above them.
    OSError
        It can't be read.
    """
    sheet = ""
    if is_workbook(path):
        text, sheet = workbook_text(path)
    else:
        text = read_text(path, encoding="cp1252")
    encoding, why = ("utf-8", sheet) if sheet else _encoding(text)
    sample = _sample(text)
    if not sample:
        raise RawFileError("empty file", "the file has no text")
    delimiter, width, why_delimiter = _delimiter([line for _, line in sample])
    split = [(at, tuple(_fields(line, delimiter, width))) for at, line in sample]
    fitting = [(at, cells) for at, cells in split if len(cells) == width]
    first = _first_data(fitting)
    above = [(at, cells) for at, cells in fitting if at < first]
    unit_row = len(above) > 1 and _bears_units(above[-1][1])
    if not above or (len(above) == 1 and _bears_units(above[-1][1])):
        raise RawFileError("no header", "no line of names stands above the first row of numbers")
    header_line, header, header_rows = _header(above[:-1] if unit_row else above)
    rows = tuple(cells for at, cells in fitting if at >= first)
    decimal, why_decimal, questions = _decimal(rows, delimiter)
    return TextGuess(
        text=text,
        encoding=encoding,
        delimiter=delimiter,
        decimal=decimal,
        header_rows=header_rows,
        unit_row=unit_row,
        header=tuple(cell.strip() for cell in header),
        header_line=header_line,
        units=above[-1][1] if unit_row else (),
        rows=rows,
        evidence={
            "encoding": why,
            "delimiter": why_delimiter,
            "decimal": why_decimal,
            "header_rows": "one line names the columns"
            if header_rows == 1
            else f"only lines {header_line} and {header_line + 1} together tell the columns apart",
            "unit_row": f"line {above[-1][0]} has units only" if unit_row else "no row of units",
            "header": f"line {header_line}, above the first row of numbers on line {first}",
        },
        questions=tuple(questions),
    )


def _sample(text: RawText) -> list[tuple[int, str]]:
    """Lines that are not blank, from the head and the tail of a file, with their numbers."""
    head, tail = list[tuple[int, str]](), deque[tuple[int, str]](maxlen=_TAIL_LINES)
    for first, block in text.blocks():
        for at, line in enumerate(block.split(b"\n"), start=first):
            if line.strip():
                kept = head if len(head) < _HEAD_LINES else tail
                kept.append((at, line.decode("utf-8")))
    return [*head, *tail]


def _encoding(text: RawText) -> tuple[str, str]:
    """Encoding as a layout names it, and why."""
    if text.from_mark:
        return text.encoding, "byte order mark"
    if text.encoding == "cp1252" and not text.as_it_is:
        return "cp1252", "bytes that UTF-8 does not have, and Windows-1252 has"
    if text.encoding == "cp1252":
        return "utf-8", "plain ASCII, the same in UTF-8"
    return text.encoding, "the bytes prove it"


def _fields(line: str, delimiter: str, width: int) -> list[str]:
    """Fields of a line, a blank last one left out."""
    cells = split_line(line, delimiter) or []
    return cells[:-1] if len(cells) == width + 1 and not cells[-1].strip() else cells


def _delimiter(lines: list[str]) -> tuple[str, int, str]:
    """Delimiter, number of columns and evidence: the first that most lines agree on."""
    lower = lines[len(lines) // 3 :]
    best = (0.0, ",", 1)
    for delimiter in _DELIMITERS:
        widths = Counter(len(split_line(line, delimiter) or []) for line in lower)
        width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
        share = count / len(lower)
        if width > 1 and share > best[0] + 0.05:
            best = (share, delimiter, width)
    share, delimiter, width = best
    if width == 1:
        raise RawFileError("no delimiter", "no sign parts the lines into columns")
    if all(not line.strip().split(delimiter)[-1].strip() for line in lower):
        width -= 1
    return delimiter, width, f"{share:.0%} of {len(lower)} lines have {width} columns by it"


def is_number(text: str) -> bool:
    """Whether a field is a number by any decimal sign."""
    return _NUMBER.fullmatch(text.strip()) is not None


def _first_data(rows: list[tuple[int, tuple[str, ...]]]) -> int:
    """Line of the first row with at least one number, and no fewer than the row behind it."""
    counts = [sum(map(is_number, cells)) for _, cells in rows]
    usual = sorted(counts)[len(counts) // 2]
    for (at, _), count in zip(rows, counts, strict=True):
        if count and count >= usual * 0.6:
            return at
    raise RawFileError("no rows", "no line holds numbers")


def _header(above: Sequence[tuple[int, tuple[str, ...]]]) -> tuple[int, Sequence[str], int]:
    """First line of the header, its names, and on how many lines they stand.

    Two lines are one header where, read together, they name more quantities than the lower alone.
    """
    at, names = above[-1]
    if len(above) > 1 and above[-2][0] == at - 1:
        both = joined_names([above[-2][1], names])
        if _named(both) > _named(names):
            return at - 1, both, 2
    return at, names, 1


def _named(names: Sequence[str]) -> int:
    """How many quantities names tell apart."""
    return len({quantity_of(name) for name in names} - {""})


def _bears_units(cells: tuple[str, ...]) -> bool:
    """Whether a row holds units: no number, and most filled fields are known units."""
    filled = [cell.strip() for cell in cells if cell.strip() not in _EMPTY]
    known = sum(known_unit(cell) is not None for cell in filled)
    bracketed = sum(cell[0] in "([" and cell[-1] in ")]" for cell in filled)
    return bool(filled) and max(known, bracketed) * 2 > len(filled)


def _decimal(rows: tuple[tuple[str, ...], ...], delimiter: str) -> tuple[str, str, list[str]]:
    """Decimal sign, evidence, and a question where every number could be read both ways."""
    fields = [cell.strip() for row in rows for cell in row if is_number(cell)]
    proofs = {".": 0, ",": 0}
    doubtful: dict[str, list[str]] = {".": [], ",": []}
    for field in fields:
        signs = [sign for sign in field if sign in ".,"]
        if not signs:
            continue
        last = signs[-1]
        head, _, tail = field.partition(last)
        grouped = len(signs) == 1 and re.fullmatch(r"[+-]?[1-9][0-9]{0,2}", head) is not None
        if len(signs) > 1 and signs.count(last) > 1:
            proofs["," if last == "." else "."] += 1
        elif grouped and re.fullmatch(r"[0-9]{3}", tail):
            doubtful[last].append(field)
        else:
            proofs[last] += 1
    other = "." if proofs["."] >= proofs[","] else ","
    if proofs[other]:
        against = proofs["," if other == "." else "."]
        words = f"{proofs[other]} numbers prove it, {against} speak against it"
        return other, words, ([f"decimal sign: {words}; which is right?"] if against else [])
    if delimiter == "," and doubtful["."]:
        return ".", "the comma parts the columns", []
    for sign, examples in doubtful.items():
        if examples:
            value = examples[0].replace(sign, "")
            question = (
                f"decimal sign: is '{examples[0]}' {examples[0].replace(',', '.')} or {value}? "
                f"Every number with a '{sign}' has three digits behind it. Declare 'decimal', or "
                "'thousands'."
            )
            return ".", "not known", [question]
    return ".", "no number has a decimal sign", []
