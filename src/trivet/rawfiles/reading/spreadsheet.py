"""Workbooks as text: the sheets that bear the declared headers, joined row by row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

from trivet.rawfiles.layout.declared import FileLayout, joined_names, normal_header
from trivet.rawfiles.text.clock import SPREADSHEET_DAYS
from trivet.rawfiles.text.text_file import RawFileError, RawText, made_text
from trivet.store.regular_file import WORKBOOK_BYTES, read_regular

SUFFIX = ".xlsx"
_SEARCHED_ROWS = 200
MOST_CELLS = 20_000_000
"""Most cells that a sheet may span, empty ones among them: what a sheet may cost."""
MOST_ROWS = 1_048_576
"""Rows that a sheet can have (ECMA-376, limit of the trade's programs; common practice)."""


def is_workbook(path: Path) -> bool:
    """Whether a file is a workbook by its name."""
    return path.suffix.casefold() == SUFFIX


def read_workbook(path: Path, *, layout: FileLayout) -> tuple[RawText, FileLayout, str]:
    """Read the sheets of a workbook that bear the layout's headers, in their order.

    Parameters
    ----------
    path : Path
        The workbook.
    layout : FileLayout
        Its layout; delimiter and encoding do not apply.

    Returns
    -------
    RawText
        The sheets one behind the other, fields parted by tabs. The header stands again at the head
        of each further sheet. Lines count through all of them.
    FileLayout
        The layout that reads this text.
    str
        Which sheets were taken.

    Raises
    ------
    OSError
        The file can't be read.
    RawFileError
        It is no workbook, or no sheet has the declared headers.
    """
    form = next((rule.format for rule in layout.columns if rule.quantity == "absolute time"), "")
    raw, sheets = _sheets(path, form, layout.decimal)
    widths = {name: _width(rows, layout) for name, rows in sheets.items()}
    fitting = {name: _lines(sheets[name], width) for name, width in widths.items() if width}
    if not fitting:
        names = ", ".join(f"'{name}'" for name in sheets)
        raise RawFileError("no header", f"no sheet has the declared headers; sheets are {names}")
    data = "".join(f"{line}\n" for lines in fitting.values() for line in lines).encode()
    text = made_text(data, raw=raw)
    taken = f"sheets {', '.join(fitting)} of {len(sheets)}, lines counted through them"
    return text, replace(layout, delimiter="\t", encoding="utf-8"), taken


def workbook_text(path: Path) -> tuple[RawText, str]:
    """Text of the sheet with the most rows, fields parted by tabs, for a proposal.

    Returns
    -------
    RawText
        Dates in the extended format of ISO 8601, numbers with a decimal point.
    str
        Which sheet.

    Raises
    ------
    OSError
        The file can't be read.
    RawFileError
        It is no workbook, or an empty one.
    """
    raw, sheets = _sheets(path, "", ".")
    filled = {name: rows for name, rows in sheets.items() if rows}
    if not filled:
        raise RawFileError("empty file", "no sheet of the workbook has a row")
    name = max(filled, key=lambda one: len(filled[one]))
    data = "".join(f"{line}\n" for line in _lines(filled[name], 0)).encode()
    text = made_text(data, raw=raw)
    return text, f"sheet '{name}', the longest of {len(sheets)}"


def workbook_rows(path: Path) -> dict[str, list[list[str]]]:
    """Rows of each sheet of a workbook as text, by the title of the sheet.

    Dates stand in the extended format of ISO 8601, numbers have a decimal point. All rows are as
    wide as the widest of their sheet.

    Raises
    ------
    OSError
        The file can't be read.
    RawFileError
        It is no workbook.
    """
    _, sheets = _sheets(path, "", ".")
    for rows in sheets.values():
        width = max(map(len, rows), default=0)
        for row in rows:
            row.extend([""] * (width - len(row)))
    return sheets


def _sheets(path: Path, form: str, decimal: str) -> tuple[bytes, dict[str, list[list[str]]]]:
    """Bytes of a workbook, and the rows of its sheets as text."""
    # Imported here, so that cells without workbooks do not wait for it.
    import openpyxl  # noqa: PLC0415

    raw = read_regular(path, most=WORKBOOK_BYTES)
    try:
        book = openpyxl.load_workbook(BytesIO(raw), read_only=True, data_only=True)
        sheets = {sheet.title: _rows_of(sheet, form, decimal) for sheet in book.worksheets}
        book.close()
    except (OSError, RawFileError):
        raise
    except Exception as error:
        raise RawFileError("unreadable file", f"the file is no whole workbook: {error}") from error
    return raw, sheets


def _rows_of(sheet: Any, form: str, decimal: str) -> list[list[str]]:  # noqa: ANN401
    """Rows of a sheet as they stand, whatever extent it states of itself.

    A stray cell at the far corner would else be filled up to with empty cells, row by row.
    """
    sheet.reset_dimensions()
    rows: list[list[str]] = []
    cells = 0
    for row in sheet.iter_rows():
        values = _cells(row, form, decimal)
        while values and not values[-1]:
            values.pop()
        rows.append(values)
        cells += len(row)
        if cells > MOST_CELLS or len(rows) > MOST_ROWS:
            message = f"sheet '{sheet.title}' spans more than {MOST_CELLS} cells, the most read"
            raise RawFileError("unreadable file", message)
    return rows


def _width(rows: list[list[str]], layout: FileLayout) -> int:
    """Columns of a sheet up to the last filled one of its header; 0 where it has no such header."""
    wanted = tuple(rule for rule in layout.columns if rule.required) or layout.columns
    enough = len(wanted) if wanted[0].required else 2
    for at in range(min(_SEARCHED_ROWS, len(rows) - layout.header_rows + 1)):
        cells = joined_names(rows[at : at + layout.header_rows])
        names = {normal_header(cell, any_case=layout.any_case) for cell in cells}
        if sum(any(name in names for name in rule.names) for rule in wanted) >= enough:
            return max(place for place, cell in enumerate(cells) if cell) + 1
    return 0


def _lines(rows: list[list[str]], width: int) -> list[str]:
    """Rows as text, as wide as the header; what stands beyond it keeps its place."""
    out = []
    for row in rows:
        cells = row + [""] * (width - len(row))
        while len(cells) > width and not cells[-1]:
            cells.pop()
        out.append("\t".join(cells) if any(cells) else "")
    return out


def _cells(row: Any, form: str, decimal: str) -> list[str]:  # noqa: ANN401
    """One row as text."""
    return [_text(cell.value, form, decimal) for cell in row]


def _text(value: object, form: str, decimal: str) -> str:  # noqa: PLR0911 (one a type)
    """One cell as the layout expects it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return repr(value).replace(".", decimal)
    if isinstance(value, timedelta):
        return _clock(value.total_seconds())
    if isinstance(value, time):
        return _clock(
            value.hour * 3600 + value.minute * 60 + value.second + value.microsecond / 1e6
        )
    if isinstance(value, date):
        moment = value if isinstance(value, datetime) else datetime.combine(value, time())
        return _moment(moment, form)
    return " ".join(str(value).split())


def _moment(moment: datetime, form: str) -> str:
    """A date as the layout writes it."""
    if form in SPREADSHEET_DAYS:
        start = datetime.combine(SPREADSHEET_DAYS[form], time())
        return repr((moment - start).total_seconds() / 86400.0)
    return moment.strftime(form) if form else moment.isoformat(sep=" ")


def _clock(seconds: float) -> str:
    """Seconds as hours, minutes and seconds."""
    minutes, rest = divmod(seconds, 60.0)
    hours, minutes = divmod(int(minutes), 60)
    return f"{hours}:{minutes:02d}:{rest:06.3f}"
