"""The main tables as one workbook: a sheet a table, names and units above the numbers."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any
from xml.etree import ElementTree as Tree

import openpyxl
import pandas as pd
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from trivet.errors import printable
from trivet.results.frames import LOCAL
from trivet.results.opened import Results
from trivet.schema.tables.dictionary import TABLES

MAIN_TABLES = (
    "cells",
    "lifetimes",
    "life_summary",
    "comparisons",
    "looks",
    "pooled",
    "survival",
    "causes",
    "measures",
    "cell_measures",
    "forecasts",
    "planning",
    "cycles",
    "electrode_cycles",
    "fading",
    "attribution",
    "plating",
    "fitness",
    "spectra",
    "resistance_trends",
    "timeline",
    "findings",
    "ledger",
    "changes",
    "data_cuts",
)
"""Tables that people compute with; curves, spectra point by point and single checks stay out."""
MOST_ROWS = 1_048_576
"""Rows of a sheet (ECMA-376, part 1, 18.3.1.73, as every spreadsheet program keeps it)."""
LONGEST_TEXT = 32_767
"""Signs of a cell, likewise."""
FORMULA_SIGNS = ("=", "+", "-", "@")
HEADER_ROWS = 2
_DATE = "yyyy-mm-dd hh:mm:ss"
_BOLD, _SOFT = Font(bold=True), Font(italic=True, color="6B737C")
_MODIFIED = "{http://purl.org/dc/terms/}modified"
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
"""The earliest date that a zip file can hold: the clock is not read."""


def workbook(results: Results, moment: datetime) -> bytes:
    """Put the main tables into one workbook, the same bytes for the same data.

    Parameters
    ----------
    results : Results
        The results.
    moment : datetime.datetime
        The data cut, which dates the file.

    Returns
    -------
    bytes
        The content of an `.xlsx` file. Text never is a formula in it.
    """
    book = openpyxl.Workbook(write_only=True)
    book.properties.creator = "Trivet"
    book.properties.title = printable(str(results.summary["title"]))
    book.properties.created = moment.replace(tzinfo=None)
    frames = {name: results[name] for name in MAIN_TABLES if name in results}
    left = [name for name in results if name not in frames]
    about = book.create_sheet("about")
    about.column_dimensions["A"].width, about.column_dimensions["B"].width = 24, 100
    for row in _about(results, frames, left):
        about.append([_cell(about, value, font) for value, font in row])
    columns = book.create_sheet("columns")
    _fill_columns(columns, frames)
    for name, frame in frames.items():
        _fill(book.create_sheet(name), frame)
    target = io.BytesIO()
    book.save(target)
    return _undated(target.getvalue(), moment)


def _about(
    results: Results, frames: dict[str, pd.DataFrame], left: Sequence[str]
) -> Iterator[list[tuple[Any, Font | None]]]:
    """Rows of the first sheet: whose data these are, and what each sheet holds."""
    found, campaign = results.summary, results.settings["campaign"]
    if campaign.get("invented", False):
        yield [("All data are invented.", _BOLD)]
    said = {
        "campaign": found["campaign"],
        "title": found["title"],
        "question": found["question"],
        "data cut": found["data_cut"],
        "verdicts": "interim: before the planned end" if found["interim"] else "final",
        "people": ", ".join(campaign["people"]),
        "organisation": campaign["organisation"],
        "licence": campaign["licence"] or "not stated",
        "times": f"columns that end with {LOCAL} are in the zone {results.time_zone}",
        "made by": f"Trivet {found['version']}, tables {found['schema']}",
        "settings (SHA-256)": found["settings_sha256"],
    }
    for name, value in said.items():
        yield [(name, _BOLD), (value, None)]
    yield []
    yield [("sheet", _BOLD), ("one row is", _BOLD), ("rows", _BOLD)]
    for name, frame in frames.items():
        cut = f", of {len(frame)} the first" if len(frame) > MOST_ROWS - HEADER_ROWS else ""
        yield [(name, None), (TABLES[name].row + cut, None), (_fitting(frame), None)]
    yield []
    yield [("not in here", _BOLD), (", ".join(left), None)]


def _fitting(frame: pd.DataFrame) -> int:
    """How many rows of a table a sheet can hold."""
    return min(len(frame), MOST_ROWS - HEADER_ROWS)


def _fill_columns(sheet: Any, frames: dict[str, pd.DataFrame]) -> None:  # noqa: ANN401
    """Say of every column what it means."""
    heads = ("table", "column", "unit", "meaning", "what was done")
    for place, width in enumerate((22, 36, 12, 100, 40)):
        sheet.column_dimensions[get_column_letter(place + 1)].width = width
    sheet.freeze_panes = "A2"
    sheet.append([_cell(sheet, head, _BOLD) for head in heads])
    for name, frame in frames.items():
        for column, said in frame.attrs["columns"].items():
            row = (name, column, said["unit"], said["meaning"], said["done"])
            sheet.append([_cell(sheet, value) for value in row])


def _fill(sheet: Any, frame: pd.DataFrame) -> None:  # noqa: ANN401
    """Write a table: names, units, then its rows."""
    about = frame.attrs["columns"]
    sheet.freeze_panes = f"B{HEADER_ROWS + 1}"
    for place, name in enumerate(frame.columns):
        wide = 20 if pd.api.types.is_datetime64_any_dtype(frame[name]) else len(name) + 2
        sheet.column_dimensions[get_column_letter(place + 1)].width = min(max(wide, 10), 40)
    sheet.append([_cell(sheet, name, _BOLD) for name in frame.columns])
    sheet.append([_cell(sheet, about[name]["unit"], _SOFT) for name in frame.columns])
    held = frame.head(_fitting(frame))
    columns = [_plain(held[name]) for name in held.columns]
    for row in zip(*columns, strict=True):
        sheet.append([_cell(sheet, value) for value in row])


def _plain(values: pd.Series) -> list[Any]:
    """Values as Python has them: None for missing, moments without the zone that a sheet lacks."""
    if pd.api.types.is_datetime64_any_dtype(values):
        values = values.dt.tz_localize(None).dt.round("ms")
        return [None if pd.isna(value) else value.to_pydatetime() for value in values]
    return [None if pd.isna(value) or value == "" else value for value in values.tolist()]


def _cell(sheet: Any, value: Any, font: Font | None = None) -> Any:  # noqa: ANN401
    """Make a cell whose text stays text, whatever it begins with."""
    if font is None and not isinstance(value, str | datetime):
        return value
    text = isinstance(value, str)
    cell = WriteOnlyCell(sheet, value=printable(value)[:LONGEST_TEXT] if text else value)
    if text:
        cell.data_type = "s"
        if value.startswith(FORMULA_SIGNS):
            cell.quotePrefix = True  # stays text also where somebody edits it
    if isinstance(value, datetime):
        cell.number_format = _DATE
    if font is not None:
        cell.font = font
        cell.alignment = Alignment(vertical="top")
    return cell


def _undated(content: bytes, moment: datetime) -> bytes:
    """Pack the parts again without the time of day at which they were packed."""
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as made,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed,
    ):
        for part in made.infolist():
            data = made.read(part)
            if part.filename == "docProps/core.xml":
                data = _dated(data, moment)
            packed.writestr(zipfile.ZipInfo(part.filename, _ZIP_DATE), data, zipfile.ZIP_DEFLATED)
    return target.getvalue()


def _dated(core: bytes, moment: datetime) -> bytes:
    """Put the data cut in place of the time of day."""
    root = Tree.fromstring(core)
    for node in root.iter(_MODIFIED):
        node.text = f"{moment:%Y-%m-%dT%H:%M:%SZ}"
    dated: bytes = Tree.tostring(root, encoding="utf-8", xml_declaration=True)
    return dated
