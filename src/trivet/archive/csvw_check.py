"""Check tables against the description that stands beside them, and text against Parquet.

References
----------
W3C, Model for Tabular Data and Metadata on the Web, 2015, sections 6.4 (parsing cells) and 4.6.1
(primary keys).
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from trivet.archive.csvw import DESCRIPTION_FILE
from trivet.store.differences import Difference
from trivet.store.regular_file import read_file_bytes
from trivet.store.tables import harmless

_INTEGER = re.compile(r"[+-]?[0-9]+")
_DOUBLE = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?|NaN|-?INF")
_SHOWN = 5
"""Differences listed of one table; the rest are counted."""


def check_tables(folder: Path, prefix: str) -> tuple[int, list[Difference]]:
    """Check every table of a folder.

    Parameters
    ----------
    folder : Path
        Folder with the tables and their description.
    prefix : str
        Path of the folder in the bag, for what is said.

    Returns
    -------
    checked : int
        Tables checked.
    differences : list of Difference
        At most five a table; a last one counts the others.
    """
    place = f"{prefix}/{DESCRIPTION_FILE}"
    try:
        group = json.loads(read_file_bytes(folder / DESCRIPTION_FILE, most=50_000_000))
        tables = {str(table["url"]): table["tableSchema"] for table in group["tables"]}
        columns = {name: _columns(schema) for name, schema in tables.items()}
        keys = {name: list(schema.get("primaryKey", [])) for name, schema in tables.items()}
    except FileNotFoundError:
        return 0, [Difference(place, "file", "a description of the tables", "none")]
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        return 0, [Difference(place, "content", "a description of tables", repr(error))]
    differences = []
    present = {path.name for path in folder.glob("*.csv")}
    for name in sorted(present - set(tables)):
        differences.append(Difference(f"{prefix}/{name}", "description", "one", "none"))
    for name in sorted(tables):
        where = f"{prefix}/{name}"
        if name not in present:
            differences.append(Difference(where, "file", "as described", "none"))
            continue
        found = list(_check_table(folder / name, where, columns[name], keys[name]))
        differences += found[:_SHOWN]
        if len(found) > _SHOWN:
            more = f"{len(found) - _SHOWN} more"
            differences.append(Difference(where, "other values", "as described", more))
    return len(tables), differences


def _columns(schema: dict[str, Any]) -> list[tuple[str, str, str, bool]]:
    """Name, title, type and whether a value is required, of each column."""
    return [
        (
            str(column["name"]),
            str(column["titles"]),
            str(column.get("datatype", "string")),
            bool(column.get("required", False)),
        )
        for column in schema["columns"]
    ]


def _check_table(
    path: Path, where: str, columns: list[tuple[str, str, str, bool]], key: list[str]
) -> Iterator[Difference]:
    """Differences of one table from its description and from its Parquet file."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file, strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        yield Difference(where, "text", "comma-separated UTF-8", str(error))
        return
    titles = [title for _, title, _, _ in columns]
    if not rows or rows[0] != titles:
        header = ", ".join(rows[0]) if rows else "nothing"
        yield Difference(where, "header", ", ".join(titles), header)
        return
    keyed: dict[tuple[str, ...], int] = {}
    positions = [position for position, column in enumerate(columns) if column[0] in key]
    for number, row in enumerate(rows[1:], start=1):
        if len(row) != len(columns):
            yield Difference(where, f"row {number}", f"{len(columns)} values", f"{len(row)}")
            continue
        for text, (_, title, datatype, required) in zip(row, columns, strict=True):
            if not _fits(text, datatype, required=required):
                expected = f"{datatype}{' (required)' if required else ''}"
                yield Difference(where, f"row {number}, column {title}", expected, repr(text))
        values = tuple(row[position] for position in positions)
        if positions and keyed.setdefault(values, number) != number:
            what = f"row {number}, key {', '.join(key)}"
            yield Difference(where, what, "unlike every other row", f"as row {keyed[values]}")
    yield from _check_parquet(path.with_suffix(".parquet"), where, rows)


def _fits(text: str, datatype: str, *, required: bool) -> bool:
    """Whether a value is of its type; an empty one is missing."""
    if not text:
        return not required
    if datatype == "integer":
        return _INTEGER.fullmatch(text) is not None
    return datatype != "double" or _DOUBLE.fullmatch(text) is not None


def _check_parquet(path: Path, where: str, rows: list[list[str]]) -> Iterator[Difference]:
    """Differences between a table as text and the same table as Parquet."""
    if not path.is_file():
        yield Difference(where, "the same as Parquet", path.name, "none")
        return
    try:
        data = pq.read_table(path, partitioning=None)
    except (OSError, pa.ArrowInvalid) as error:
        yield Difference(where, "the same as Parquet", "a readable file", str(error))
        return
    shape = (data.num_rows, [harmless(name) for name in data.column_names])
    if shape != (len(rows) - 1, rows[0]):
        size = f"{len(rows) - 1} rows, {len(rows[0])} columns"
        found = f"{shape[0]} rows, {len(shape[1])} columns"
        yield Difference(where, "the same as Parquet", size, found)
        return
    for position, name in enumerate(data.column_names):
        values = data.column(position).to_pylist()
        for number, (row, value) in enumerate(zip(rows[1:], values, strict=True), start=1):
            if position < len(row) and not _same(row[position], value):
                what = f"row {number}, column {name}, in Parquet"
                yield Difference(where, what, repr(row[position]), repr(value))


def _same(text: str, value: Any) -> bool:  # noqa: ANN401
    """Whether a value as text is the value."""
    if value is None or isinstance(value, str):
        return text == harmless(value)
    try:
        return float(text) == float(value)
    except ValueError:
        return False
