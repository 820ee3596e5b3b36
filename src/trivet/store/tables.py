"""Every table is written and read here, exactly as the dictionary of columns says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from trivet.schema.tables.columns import Column, Table
from trivet.schema.tables.dictionary import SCHEMA_VERSION
from trivet.store.arrow_arrays import number_array, numbers, text_array, text_scalar, truths
from trivet.store.room import writing
from trivet.store.whole_file import write_whole

_ARROW = {"text": pa.string(), "int": pa.int64(), "float": pa.float64()}
_ENCODINGS = {pa.float64(): "BYTE_STREAM_SPLIT", pa.int64(): "DELTA_BINARY_PACKED"}
"""Of the large tables of a cell, which only the stages read: a third of the size and the time."""
VERSION_KEY = "trivet tables"
"""Under which the version of the tables stands in a Parquet file."""
_CHUNK_ROWS = 131_072
"""Tables are written in groups of so many rows, so that no column is packed as a whole."""
_FORMULA_START = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


class TableError(Exception):
    """A table does not match its entry in the dictionary of columns: a fault of the program."""


def schema_of(table: Table, sheet_columns: Sequence[str] = ()) -> pa.Schema:
    """Arrow schema of a table, units and meanings in the metadata of its fields.

    Parameters
    ----------
    table : Table
        Entry of the dictionary.
    sheet_columns : sequence of str
        Text columns that follow in an open-ended table.
    """
    if sheet_columns and not table.open_ended:
        raise TableError(f"table '{table.name}' takes no further columns: {sheet_columns}")
    fields = [
        pa.field(
            column.name,
            _ARROW[column.type],
            nullable=not column.required,
            metadata={"unit": column.unit, "meaning": column.meaning},
        )
        for column in table.columns
    ]
    fields += [
        pa.field(name, pa.string(), metadata={"unit": "", "meaning": "as in the build sheet"})
        for name in sheet_columns
    ]
    return pa.schema(fields)


def make_table(
    table: Table,
    columns: Mapping[str, Sequence[Any] | np.ndarray | pa.Array | pa.ChunkedArray],
    sheet_columns: Sequence[str] = (),
) -> pa.Table:
    """Build a table from columns; refuse what the dictionary does not say.

    Parameters
    ----------
    table : Table
        Entry of the dictionary.
    columns : mapping of str to sequence
        Exactly the columns; missing numbers are None or NaN, missing text is None or ''.
    sheet_columns : sequence of str
        Text columns that follow in an open-ended table.

    Returns
    -------
    pyarrow.Table
        Rows in the order of the table's key.

    Raises
    ------
    TableError
        Wrong set of columns, wrong type, missing required value, repeated key.
    """
    schema = schema_of(table, sheet_columns)
    expected, given = set(schema.names), set(columns)
    if expected != given:
        raise TableError(
            f"table '{table.name}': missing columns {sorted(expected - given)}, "
            f"unknown columns {sorted(given - expected)}"
        )
    types = {column.name: column for column in table.columns}
    arrays = [
        _array(table, types.get(name), name, columns[name], schema.field(name))
        for name in schema.names
    ]
    return _ordered(table, pa.Table.from_arrays(arrays, schema=schema))


def rows_table(
    table: Table, rows: Sequence[Mapping[str, Any]], *, sparse: bool = False
) -> pa.Table:
    """Build a table from rows; what a row holds beyond the columns is passed over.

    Parameters
    ----------
    table : Table
        Entry of the dictionary.
    rows : sequence of mapping
        Values by column.
    sparse : bool
        Whether a row may leave out a column, which is then missing.

    Returns
    -------
    pyarrow.Table
        Rows in the order of the table's key.

    Raises
    ------
    KeyError
        A row leaves out a column, and may not.
    TableError
        As `make_table`.
    """
    if sparse:
        return make_table(table, {name: [row.get(name) for row in rows] for name in table.names})
    return make_table(table, {name: [row[name] for row in rows] for name in table.names})


def _array(
    table: Table,
    column: Column | None,
    name: str,
    values: Sequence[Any] | np.ndarray | pa.Array | pa.ChunkedArray,
    field: pa.Field,
) -> pa.Array | pa.ChunkedArray:
    """One column as an arrow array of its type."""
    place = f"table '{table.name}', column '{name}'"
    kind = column.type if column is not None else "text"
    try:
        if isinstance(values, pa.Array | pa.ChunkedArray):
            array = values
            if array.type != field.type:
                raise TableError(f"{place}: {array.type} in place of {field.type}")
        elif kind == "text":
            array = text_array(["" if v is None else v for v in values])
        elif isinstance(values, np.ndarray) and values.dtype.kind in "fiu":
            array = _numeric(values, np.isnan(values), kind)
        else:
            array = _numeric(*_plain_numbers(list(values), kind), kind)
    except (pa.ArrowInvalid, pa.ArrowTypeError, pa.ArrowNotImplementedError, ValueError) as error:
        raise TableError(f"{place}: {error}") from error
    if not field.nullable and array.null_count:
        raise TableError(f"{place}: {array.null_count} values are missing but required")
    if kind == "float" and pc.any(pc.is_inf(array)).as_py():
        raise TableError(f"{place}: a value is infinite; a missing value is null")
    return array


def repeated(texts: Sequence[str], counts: Sequence[int]) -> pa.ChunkedArray:
    """Texts, each as many times as said, in chunks that share their memory.

    Parameters
    ----------
    texts : sequence of str
        The texts.
    counts : sequence of int
        How many rows each fills.
    """
    chunks = list[pa.Array]()
    for text, count in zip(texts, counts, strict=True):
        chunk = pa.repeat(text_scalar(text), min(count, _CHUNK_ROWS))
        chunks += [chunk] * (count // _CHUNK_ROWS if len(chunk) else 0)
        rest = count % _CHUNK_ROWS
        chunks += [chunk.slice(0, rest)] if rest else []
    return pa.chunked_array(chunks, pa.string())


def _plain_numbers(values: Sequence[Any], kind: str) -> tuple[np.ndarray, np.ndarray]:
    """Numbers of a list and where there are none; true/false is refused, as is text."""
    for value in values:
        if isinstance(value, bool | np.bool_):
            raise ValueError("true/false is not a number")
        if value is not None and not isinstance(value, int | float | np.number):
            raise ValueError(f"{value!r} is not a number")
    missing = np.array([v is None or v != v for v in values], dtype=bool)  # noqa: PLR0124 (NaN)
    filled = [0 if absent else v for v, absent in zip(values, missing, strict=True)]
    # whole numbers beyond the exact range of floats stay whole
    whole = kind == "int" and all(isinstance(v, int | np.integer) for v in filled)
    return np.array(filled, dtype=np.int64 if whole else np.float64), missing


def _numeric(values: np.ndarray, missing: np.ndarray, kind: str) -> pa.Array:
    """Numbers as arrow, missing ones as null; a fraction among whole numbers is refused."""
    if kind == "float":
        return number_array(values.astype(np.float64, copy=False), missing=missing)
    if values.dtype.kind == "f":
        values = np.where(missing, 0, values)
        fractions = values[values != np.rint(values)]
        if len(fractions):
            raise ValueError(f"{fractions[0]} among whole numbers")
    return number_array(values.astype(np.int64, copy=False), missing=missing)


def _ordered(table: Table, data: pa.Table) -> pa.Table:
    """Rows in the order of the key; a repeated key is refused where keys are unique."""
    if not table.key:
        return data
    order = pc.sort_indices(data, sort_keys=[(name, "ascending") for name in table.key])
    data = data.take(order)
    if table.unique and data.num_rows > 1:
        alike = [_like_the_row_before(data[name]) for name in table.key]
        if bool(np.any(np.logical_and.reduce(alike))):
            raise TableError(f"table '{table.name}': rows share a key {table.key}")
    return data


def _like_the_row_before(column: pa.ChunkedArray) -> np.ndarray:
    """Whether a row has the value, or the absence, of the row before it, shape (n - 1,)."""
    values = column.combine_chunks()
    before, after = values.slice(0, len(values) - 1), values.slice(1)
    both = pc.and_(pc.is_null(before), pc.is_null(after))
    alike: np.ndarray = truths(pc.equal(before, after)) | truths(both)
    return alike


def empty(table: Table) -> pa.Table:
    """Give a table without rows."""
    return make_table(table, {name: [] for name in table.names})


def write_table(table: Table, data: pa.Table, path: Path) -> None:
    """Write Parquet, after checking that the data are what the dictionary says.

    It is written beside its place and put there when it is whole.

    Raises
    ------
    TableError
        The schema differs.
    CannotWriteError
        There is no room or no right to write.
    """
    _check(table, data, str(path))
    beside = path.with_name(f".{path.name}.new")
    with writing(path, at_most_bytes=data.nbytes):
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _write(table, data, beside)
            beside.replace(path)
        except OSError:
            beside.unlink(missing_ok=True)
            raise


def _write(table: Table, data: pa.Table, path: Path) -> None:
    """Write Parquet."""
    # Numbers of a measurement hardly repeat, so a dictionary of them costs time and saves nothing.
    texts = [field.name for field in data.schema if pa.types.is_string(field.type)]
    numbers = {
        field.name: _ENCODINGS[field.type]
        for field in data.schema
        if field.type in _ENCODINGS and not table.archived
    }
    pq.write_table(
        data.replace_schema_metadata({VERSION_KEY: SCHEMA_VERSION}),
        path,
        compression="zstd",
        use_dictionary=texts,
        row_group_size=_CHUNK_ROWS,
        column_encoding=numbers or None,
    )


def read_table(table: Table, path: Path) -> pa.Table:
    """Read Parquet, after checking that it is what the dictionary says.

    Raises
    ------
    TableError
        The schema differs.
    """
    # arrow's reader of whole data sets would import pandas; a missing file is said alike
    with pq.ParquetFile(path) as file:
        data = file.read()
    _check(table, data, str(path))
    return data


def read_as_stored(path: Path) -> tuple[pa.Table, str]:
    """Read Parquet as it stands, of whatever version its tables are.

    Returns
    -------
    table : pyarrow.Table
        Its columns, units and meanings in the metadata of its fields.
    version : str
        Version of the tables that it was written by; empty where it does not say.
    """
    with pq.ParquetFile(path) as file:
        data = file.read()
    version = (data.schema.metadata or {}).get(VERSION_KEY.encode(), b"")
    return data, version.decode()


def _check(table: Table, data: pa.Table, place: str) -> None:
    """Compare names, types and order with the dictionary."""
    names = tuple(data.schema.names)
    sheet_columns = names[len(table.columns) :] if table.open_ended else ()
    expected = schema_of(table, sheet_columns)
    if data.schema.equals(expected, check_metadata=False):
        return
    kept = (data.schema.metadata or {}).get(VERSION_KEY, b"no version").decode()
    missing = [name for name in expected.names if name not in names]
    odd = [name for name in names if name not in expected.names]
    said = [f"{what} {', '.join(few)}" for what, few in (("lacks", missing), ("has", odd)) if few]
    raise TableError(
        f"{place}: not the table '{table.name}' of tables {SCHEMA_VERSION} ({kept} written): "
        f"{'; '.join(said) or 'columns are in another order or of other types'}. Run the campaign "
        "again, or use the version of the program that wrote it"
    )


def arrays(data: pa.Table) -> dict[str, np.ndarray]:
    """Columns as numpy arrays.

    Returns
    -------
    dict of str to numpy.ndarray
        Float columns as float64 with NaN for missing; whole numbers as int64, or float64 with
        NaN when any is missing; text as object arrays of str.
    """
    out: dict[str, np.ndarray] = {}
    for name, column in zip(data.schema.names, data.columns, strict=True):
        if pa.types.is_string(column.type):
            out[name] = np.array(column.to_pylist(), dtype=object)
        elif pa.types.is_integer(column.type) and not column.null_count:
            out[name] = numbers(column)
        else:
            # what is missing becomes NaN on the way
            out[name] = numbers(pc.cast(column, pa.float64()))
    return out


def join_tables(table: Table, paths: Sequence[Path]) -> pa.Table:
    """Read the same table of several cells and join it in the order of its key."""
    parts = [read_table(table, path) for path in paths]
    if not parts:
        return empty(table)
    return _ordered(table, pa.concat_tables(parts))


def csv_bytes(data: pa.Table) -> bytes:
    """Give a table as text for people and papers: UTF-8, comma, one header row.

    Text that a spreadsheet would take for a formula gets a leading apostrophe.
    """
    safe = [
        text_array([harmless(text) for text in column.to_pylist()])
        if pa.types.is_string(column.type)
        else column
        for column in data.columns
    ]
    sink = pa.BufferOutputStream()
    names = [harmless(name) for name in data.schema.names]
    pa_csv.write_csv(pa.Table.from_arrays(safe, names=names), sink)
    return bytes(sink.getvalue())


def write_csv(data: pa.Table, path: Path) -> None:
    """Write a table as text, see `csv_bytes`."""
    write_whole(path, csv_bytes(data))


def harmless(text: str | None) -> str:
    """Text that no spreadsheet runs as a formula; names of columns come from people too."""
    if text is None:
        return ""
    return "'" + text if text.startswith(_FORMULA_START) else text
