"""The one function through which tables are written and read is strict."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import (
    TableError,
    arrays,
    csv_bytes,
    join_tables,
    make_table,
    read_table,
    write_table,
)

AT_RISK = TABLES["at_risk"]
ROWS = {
    "endpoint": ["cell", "cell"],
    "clock": ["hours", "hours"],
    "factor": ["seal", "seal"],
    "group": ["b", "a"],
    "time": [1.0, 2],
    "at_risk": [3, 4],
}


def test_a_table_comes_back_as_written(tmp_path: Path) -> None:
    """Values, types and units survive; rows are in the order of the key."""
    data = make_table(AT_RISK, ROWS)
    write_table(AT_RISK, data, tmp_path / "x.parquet")
    back = read_table(AT_RISK, tmp_path / "x.parquet")
    assert back.equals(data)
    assert back["group"].to_pylist() == ["a", "b"]
    assert arrays(back)["at_risk"].dtype == np.int64


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"extra": [1, 2]}, "unknown columns"),
        ({"time": ["x", "y"]}, "column 'time'"),
        ({"at_risk": [True, False]}, "true/false is not a number"),
        ({"at_risk": [1.5, 2.0]}, "1.5 among whole numbers"),
        ({"at_risk": np.array([1.5, 2.0])}, "whole numbers"),
        ({"time": [None, 1.0]}, "missing but required"),
        ({"time": [float("inf"), 1.0]}, "infinite"),
        ({"group": ["a", "a"], "time": [1.0, 1.0]}, "share a key"),
    ],
)
def test_a_wrong_table_is_refused(change: dict[str, object], message: str) -> None:
    """Extra columns, wrong types, missing required values, repeated keys never reach a file."""
    with pytest.raises(TableError, match=message):
        make_table(AT_RISK, {**ROWS, **change})


def test_a_missing_column_is_refused() -> None:
    """A table without one of its columns is a fault of the program."""
    with pytest.raises(TableError, match="missing columns"):
        make_table(AT_RISK, {name: ROWS[name] for name in ROWS if name != "time"})


def test_another_table_is_not_read(tmp_path: Path) -> None:
    """A file that holds another table is refused on reading."""
    write_table(AT_RISK, make_table(AT_RISK, ROWS), tmp_path / "x.parquet")
    with pytest.raises(TableError, match="not the table 'timeline'"):
        read_table(TABLES["timeline"], tmp_path / "x.parquet")


def test_nan_is_missing_not_a_number(tmp_path: Path) -> None:
    """NaN is written as a missing value and comes back as NaN in arrays."""
    curves = TABLES["survival"]
    row = {name: ["x"] for name in curves.names}
    row |= {"time": [1.0], "at_risk": [1], "events": [0], "censored": [1], "survival": [1.0]}
    row |= {"standard_error": np.array([np.nan]), "lower": [None], "upper": [float("nan")]}
    row |= {"plotting_position": [None], "beta_lower": [None], "beta_upper": [None]}
    data = make_table(curves, row)
    assert [data[name].null_count for name in ("standard_error", "lower", "upper")] == [1, 1, 1]
    assert np.isnan(arrays(data)["lower"]).all()


def test_text_is_harmless_in_a_spreadsheet() -> None:
    """Text that starts like a formula gets an apostrophe; numbers keep their sign."""
    findings = TABLES["findings"]
    row: dict[str, list[object]] = {name: [""] for name in findings.names}
    row |= {"line": [1], "value": [-1.5], "limit": [None], "message": ["=1+1"], "cell": ["@x"]}
    text = csv_bytes(make_table(findings, row)).decode()
    assert "'=1+1" in text
    assert "'@x" in text
    assert ",-1.5," in text


def test_tables_of_cells_join_in_the_order_of_the_key(tmp_path: Path) -> None:
    """Joining does not depend on the order of the files."""
    paths = []
    for group in ("b", "a"):
        row = {name: [ROWS[name][0]] for name in ROWS} | {"group": [group]}
        paths.append(tmp_path / f"{group}.parquet")
        write_table(AT_RISK, make_table(AT_RISK, row), paths[-1])
    assert join_tables(AT_RISK, paths).equals(join_tables(AT_RISK, paths[::-1]))
    assert join_tables(AT_RISK, []).num_rows == 0
