"""Split a table of the campaign into the rows of each cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.store.tables import arrays

Columns = dict[str, np.ndarray]


@dataclass(frozen=True)
class ByCell:
    """Columns of a table by cell.

    Attributes
    ----------
    cells : dict of str to dict of str to numpy.ndarray
        Columns of each cell that has rows.
    empty : dict of str to numpy.ndarray
        The same columns without rows.
    """

    cells: dict[str, Columns]
    empty: Columns

    def of(self, cell: str, /) -> Columns:
        """Give the columns of a cell; without rows where the table has none of it."""
        return self.cells.get(cell, self.empty)


def split_by_cell(data: pa.Table) -> ByCell:
    """Split a table into the rows of each cell, their order kept.

    Parameters
    ----------
    data : pyarrow.Table
        A table with a column `cell`.
    """
    columns = arrays(data)
    names, inverse = np.unique(columns["cell"].astype(str), return_inverse=True)
    order = np.argsort(inverse, kind="stable")
    bounds = np.searchsorted(inverse[order], np.arange(names.size + 1))
    cells = {
        str(name): {
            key: values[order[bounds[i] : bounds[i + 1]]] for key, values in columns.items()
        }
        for i, name in enumerate(names)
    }
    return ByCell(cells, {key: values[:0] for key, values in columns.items()})
