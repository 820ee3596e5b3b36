"""Compare two folders of tables, value by value."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from trivet.schema.tables.dictionary import TABLES
from trivet.store.differences import Difference

_SHOWN = 5
"""Differing values listed of one table; the rest are counted."""


def compare_tables(expected: Path, found: Path, prefix: str) -> tuple[int, list[Difference]]:
    """Compare every table of the results.

    Parameters
    ----------
    expected, found : Path
        Folders with the tables as Parquet.
    prefix : str
        Path of the first folder in the bag, for what is said.

    Returns
    -------
    compared : int
        Tables compared.
    differences : list of Difference
        At most five values a table; a last one counts the others.
    """
    names = [name for name, table in TABLES.items() if table.archived]
    differences = []
    for name in names:
        where = f"{prefix}/{name}.parquet"
        try:
            first = pq.read_table(expected / f"{name}.parquet", partitioning=None)
        except (OSError, pa.ArrowInvalid) as error:
            differences.append(Difference(where, "file", "a table", str(error)))
            continue
        second = pq.read_table(found / f"{name}.parquet", partitioning=None)
        values = list(_compare(name, where, first, second))
        differences += values[:_SHOWN]
        if len(values) > _SHOWN:
            more = f"{len(values) - _SHOWN} more differ"
            differences.append(Difference(where, "other values", "as rebuilt", more))
    return len(names), differences


def _compare(name: str, where: str, first: pa.Table, second: pa.Table) -> Iterator[Difference]:
    """Differences of one table."""
    if first.column_names != second.column_names:
        columns = [", ".join(data.column_names) for data in (first, second)]
        yield Difference(where, "columns", *columns)
        return
    if first.num_rows != second.num_rows:
        yield Difference(where, "rows", f"{first.num_rows}", f"{second.num_rows}")
        return
    for column in first.column_names:
        left, right = first[column], second[column]
        if left.type != right.type:
            yield Difference(where, f"type of {column}", f"{left.type}", f"{right.type}")
            continue
        same = pc.fill_null(pc.equal(left, right), False)
        both_missing = pc.and_(pc.is_null(left), pc.is_null(right))
        for row, equal in enumerate(pc.or_(same, both_missing).to_pylist()):
            if not equal:
                key = ", ".join(f"{part} {first[part][row]}" for part in TABLES[name].key)
                what = f"row {row + 1}{f' ({key})' if key else ''}, column {column}"
                yield Difference(where, what, f"{left[row]}", f"{right[row]}")
