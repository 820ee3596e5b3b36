"""Rows of tables, made when they are asked for: those of a thousand cells would fill the memory."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

Rows = list[dict[str, Any]]


class TableRows(Mapping[str, Rows]):
    """Tables by name as rows; some of a table can be asked for without the others.

    Parameters
    ----------
    tables : mapping of str to pyarrow.Table
        Tables by name.
    """

    def __init__(self, tables: Mapping[str, pa.Table]) -> None:
        self._tables = tables
        self._whole: dict[str, Rows] = {}
        self._places: dict[str, dict[str, np.ndarray]] = {}

    def __getitem__(self, name: str) -> Rows:
        if name not in self._whole:
            self._whole[name] = self._tables[name].to_pylist()
        return self._whole[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._tables)

    def __len__(self) -> int:
        return len(self._tables)

    def some(
        self,
        name: str,
        columns: Sequence[str],
        cells: Collection[str] | None,
        equal: Mapping[str, Any],
    ) -> Rows:
        """Rows of a table by cell and by values of columns; no columns: all of them."""
        asked = dict(equal) | ({} if cells is None else {"cell": cells})
        rows: Rows = self._chosen(name, columns, asked).to_pylist()
        return rows

    def counted(self, name: str, columns: Sequence[str], equal: Mapping[str, Any]) -> Rows:
        """Every combination of values that these columns hold, with `rows` that hold it."""
        found = self._chosen(name, columns, equal)
        counts = found.group_by(list(columns), use_threads=False).aggregate([([], "count_all")])
        rows: Rows = counts.rename_columns([*columns, "rows"]).to_pylist()
        return rows

    def cells_in(self, name: str, known: str, equal: Mapping[str, Any]) -> list[str]:
        """Cells that have rows in a table, with a number in a column where one is named."""
        found = self._chosen(name, ("cell", known) if known else ("cell",), equal)
        if known:
            found = found.filter(pc.is_finite(found[known]))
        return sorted(found["cell"].unique().to_pylist())

    def _chosen(self, name: str, columns: Sequence[str], asked: Mapping[str, Any]) -> pa.Table:
        """Columns of a table, none: all, where others hold what is asked for."""
        found = self._tables[name]
        columns = list(columns) or found.column_names
        # no more is copied than is needed: long tables have many columns
        found = found.select(list(dict.fromkeys([*columns, *asked])))
        for column, value in asked.items():
            found = found.filter(_holds(found[column], value))
        return found.select(columns)

    def of_cell(self, name: str, cell: str) -> Rows:
        """Rows of a table that belong to a cell."""
        if name not in self._places:
            self._places[name] = self._places_of(name)
        own = self._places[name].get(cell)
        rows: Rows = [] if own is None else self._tables[name].take(own).to_pylist()
        return rows

    def _places_of(self, name: str) -> dict[str, np.ndarray]:
        """Places of the rows of each cell."""
        coded = self._tables[name]["cell"].combine_chunks().dictionary_encode()
        codes = coded.indices.to_numpy(zero_copy_only=False)
        order = np.argsort(codes, kind="stable")
        bounds = np.searchsorted(codes[order], np.arange(len(coded.dictionary) + 1))
        return {
            cell: order[bounds[place] : bounds[place + 1]]
            for place, cell in enumerate(coded.dictionary.to_pylist())
        }


def _holds(column: pa.ChunkedArray, value: Any) -> pa.ChunkedArray:  # noqa: ANN401
    """Whether each value is the one asked for, or one of several."""
    if isinstance(value, (str, int, float)):
        return pc.equal(column, value)
    return pc.is_in(column, value_set=pa.array(sorted(value), column.type))
