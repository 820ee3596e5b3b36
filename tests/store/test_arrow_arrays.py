"""Arrow arrays made by hand are those that arrow itself makes, and come back alike."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trivet.store.arrow_arrays import (
    is_text,
    number_array,
    numbers,
    text_array,
    truth_array,
    truths,
)


@given(st.lists(st.one_of(st.none(), st.floats(allow_nan=False))))
def test_numbers_are_those_of_arrow(values: list[float | None]) -> None:
    """Arrow's own conversion, a general-purpose library, gives the same array, slices too."""
    missing = np.array([value is None for value in values], dtype=bool)
    filled = np.array([0.0 if value is None else value for value in values])
    made, expected = number_array(filled, missing=missing), pa.array(values, pa.float64())
    made.validate(full=True)
    assert made.equals(expected)
    sliced = pa.chunked_array([made.slice(1), made])
    back = np.array([np.nan if value is None else value for value in values])
    np.testing.assert_array_equal(numbers(sliced), np.concatenate([back[1:], back]))


@given(st.lists(st.text()))
def test_texts_are_those_of_arrow(texts: list[str]) -> None:
    """Arrow's own conversion gives the same array."""
    encodable = [text.encode("utf-8", "replace").decode() for text in texts]
    made = text_array(encodable)
    made.validate(full=True)
    assert made.equals(pa.array(encodable, pa.string()))


@given(st.lists(st.one_of(st.none(), st.booleans())))
def test_truths_come_back(values: list[bool | None]) -> None:
    """Missing truth values count as false; a slice begins where it says."""
    column = pa.array(values, pa.bool_())
    expected = [bool(value) for value in values]
    assert truths(column.slice(min(3, len(values)))).tolist() == expected[3:]
    assert truth_array(np.array(expected, dtype=bool)).to_pylist() == expected


def test_a_text_is_found_and_an_absent_one_is_not() -> None:
    """Comparing with a missing text gives no answer, which counts as no."""
    column = pa.array(["a", None, "b"], pa.string())
    assert truths(is_text(column, "a")).tolist() == [True, False, False]


def test_missing_whole_numbers_are_refused() -> None:
    """Whole numbers have no NaN: who asks must say what stands instead."""
    with pytest.raises(ValueError, match="1 whole numbers are missing"):
        numbers(pa.array([1, None], pa.int64()))


def test_a_job_of_a_cell_imports_no_pandas() -> None:
    """Reading and writing tables, and choosing rows, leave pandas alone; no hook hides it."""
    code = (
        "import sys, numpy as np\n"
        "from trivet.store.arrow_arrays import is_text\n"
        "from trivet.store.tables import arrays, make_table\n"
        "from trivet.schema.tables.dictionary import TABLES\n"
        "table = TABLES['capacity_records']\n"
        "columns = {c.name: ['x'] if c.type == 'text' else [1] for c in table.columns}\n"
        "made = make_table(table, columns)\n"
        "arrays(made.filter(is_text(made['file'], 'x')))\n"
        "sys.exit('pandas' in sys.modules)\n"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
