"""Tables that go with the printed report, so that it can be computed with by itself."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from trivet.report.frame.data import ReportData
from trivet.report.page_library import Attachment
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import csv_bytes

MOST_VALUES = 1_500_000
"""Values in all attached tables together [1]: a file that can't be sent serves nobody."""
DIGITS = 12
"""Significant digits of attached numbers; the tables themselves have all."""


def going_along(tables: Mapping[str, pa.Table]) -> tuple[str, ...]:
    """Names of the tables that are attached: no points of curves, the small ones first.

    Parameters
    ----------
    tables : mapping of str to pyarrow.Table
        All archived tables by name.

    Returns
    -------
    tuple of str
        In order of name.
    """
    sizes = sorted(
        (table.num_rows * table.num_columns, name)
        for name, table in tables.items()
        if not TABLES[name].points
    )
    taken, room = [], MOST_VALUES
    for size, name in sizes:
        if size > room:
            break
        taken.append(name)
        room -= size
    return tuple(sorted(taken))


def attachments(data: ReportData) -> list[Attachment]:
    """Give tables as CSV, dated with the data cut.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    """
    return [
        Attachment(
            string=csv_bytes(_shortened(data.tables[name])),
            name=f"{name}.csv",
            description=f"Table {name}: one row is {TABLES[name].row}.",
            created=data.cut.moment,
            modified=data.cut.moment,
            relationship="Data",
        )
        for name in going_along(data.tables)
    ]


def _shortened(table: pa.Table) -> pa.Table:
    """Round numbers to the digits of an attachment."""
    columns = [
        _rounded(column) if pa.types.is_floating(column.type) else column
        for column in table.columns
    ]
    return pa.Table.from_arrays(columns, names=table.schema.names)


def _rounded(column: pa.ChunkedArray) -> pa.Array:
    """Round a column of numbers; what is missing stays missing."""
    values = column.to_numpy()
    size = np.abs(values)
    known = np.isfinite(size) & (size > 0)
    places = DIGITS - 1 - np.floor(np.log10(np.where(known, size, 1.0)))
    up, down = 10.0 ** np.maximum(places, 0.0), 10.0 ** np.maximum(-places, 0.0)
    rounded = np.where(known & (places < 300), np.round(values * up / down) / up * down, values)
    return pa.array(rounded, mask=pc.is_null(column).to_numpy(zero_copy_only=False))
