"""Rows of each cell: all of them, in their order, with the types of the whole table."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from trivet.store.group_by_cell import split_by_cell


def test_rows_of_a_cell_keep_their_order_and_the_types_of_the_table() -> None:
    """Cells by turns; a whole number missing in one cell makes floats of it in all."""
    data = pa.table({
        "cell": ["b", "a", "b", "a"], "cycle": [1, 2, 3, 4],
        "step": pa.array([1, None, 2, 3], pa.int64()), "value": [0.1, 0.2, 0.3, None],
    })  # fmt: skip
    split = split_by_cell(data)
    own = split.of("b")
    assert own["cycle"].tolist() == [1, 3]
    assert own["cell"].tolist() == ["b", "b"]
    assert (own["cycle"].dtype, own["step"].dtype) == (np.int64, np.float64)
    assert np.isnan(split.of("a")["value"][1])
    assert all(values.size == 0 for values in split.of("nobody").values())
    assert set(split.of("nobody")) == set(data.column_names)


def test_a_table_without_rows_has_none_of_any_cell() -> None:
    """Nothing to split."""
    empty = pa.table({"cell": pa.array([], pa.string()), "cycle": pa.array([], pa.int64())})
    assert split_by_cell(empty).of("a")["cycle"].size == 0
