"""Split a table of the campaign into the rows of each cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.store.tables import arrays

Columns = dict[str, np.ndarray]


@dataclass(frozen=True)
class ByCell:
    """Rows of a table by cell; they become arrays when they are asked for.

    Attributes
    ----------
    rows : pyarrow.Table
        The rows, those of a cell together, in their order.
    bounds : dict of str to (int, int)
        First row of each cell that has rows, and how many it has [1].
    """

    rows: pa.Table
    bounds: dict[str, tuple[int, int]]

    def of(self, cell: str, /) -> Columns:
        """Give the columns of a cell; without rows where the table has none of it."""
        first, count = self.bounds.get(cell, (0, 0))
        return arrays(self.rows.slice(first, count))


def split_by_cell(data: pa.Table) -> ByCell:
    """Split a table into the rows of each cell, their order kept.

    Parameters
    ----------
    data : pyarrow.Table
        A table with a column `cell`. Whole numbers of which any is missing are floats for every
        cell.
    """
    names, inverse = np.unique(data["cell"].to_numpy().astype(str), return_inverse=True)
    if np.any(np.diff(inverse) < 0):
        data = data.take(np.argsort(inverse, kind="stable"))
    columns = {
        name: column.cast(pa.float64())
        if pa.types.is_integer(column.type) and column.null_count
        else column
        for name, column in zip(data.schema.names, data.columns, strict=True)
    }
    counts = np.bincount(inverse, minlength=names.size)
    firsts = np.cumsum(counts) - counts
    bounds = {
        str(name): (int(first), int(count))
        for name, first, count in zip(names, firsts, counts, strict=True)
    }
    return ByCell(pa.table(columns), bounds)
