"""The description of the tables, against an outside library for CSV on the Web (csvw)."""

from __future__ import annotations

import json
from pathlib import Path

import pyarrow as pa
import pytest
from csvw import CSVW, TableGroup

from trivet.archive.csvw import DESCRIPTION_FILE, described
from trivet.archive.csvw_check import check_tables
from trivet.schema.tables.columns import Table, count, number, text
from trivet.schema.tables.dictionary import TABLES
from trivet.schema.tables.vocabulary import TERMS
from trivet.store.tables import csv_bytes, make_table, write_csv, write_table

_BY = "trivet.store.tables:make_table"
TRIAL = Table(
    "trial",
    "a trial",
    (
        text("cell", "cell id", _BY, required=True),
        count("cycle", "number", _BY, required=True),
        number("charge_mAh", "mA.h", "charge", _BY),
    ),
    key=("cell", "cycle"),
    open_ended=True,
)
SHEET = ("=cmd()", "my column, µL", "_hidden")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A table with missing values, tiny numbers, and text that people typed."""
    data = make_table(
        TRIAL,
        {
            "cell": ["c1", "c1", "#1"],
            "cycle": [1, 2, 1],
            "charge_mAh": [1e-7, None, -2.5],
            "=cmd()": ["@x", 'a "quoted", line\nbroken', ""],
            "my column, µL": ["", "<b>", "+1"],
            "_hidden": ["", "", "{{ 7*7 }}"],
        },
        SHEET,
    )
    write_table(TRIAL, data, tmp_path / "trial.parquet")
    write_csv(data, tmp_path / "trial.csv")
    (tmp_path / DESCRIPTION_FILE).write_bytes(described({"trial.csv": (TRIAL, data.schema)}))
    return tmp_path


def test_a_described_table_is_valid_by_an_outside_library(folder: Path) -> None:
    """W3C tabular metadata: every value has its type, missing is missing, keys are unique."""
    group = TableGroup.from_file(folder / DESCRIPTION_FILE)
    rows = list(group.tables[0].iterdicts(strict=True))
    assert [row["charge_mAh"] for row in rows] == [-2.5, 1e-7, None]
    assert [row["cycle"] for row in rows] == [1, 1, 2]
    assert group.tables[0].check_primary_key()
    assert CSVW(str(folder / DESCRIPTION_FILE), validate=True).is_valid
    assert check_tables(folder, "tables") == (1, [])


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('"c1",1,', '"c1",one,', "row 2, column cycle"),
        ('"c1",1,', '"c1",,', "row 2, column cycle"),
        ('"c1",2,', '"c1",1,', "row 3, key cell, cycle"),
        ("1e-7", "1,2", "row 2"),
        ("1e-7", "2e-7", "row 2, column charge_mAh, in Parquet"),
        ('"charge_mAh"', '"charge"', "header"),
    ],
)
def test_a_table_that_does_not_fit_is_named(folder: Path, old: str, new: str, what: str) -> None:
    """Type, required value, key, number of values, header, and the same table as Parquet."""
    path = folder / "trial.csv"
    content = path.read_text(encoding="utf-8")
    assert old in content
    path.write_text(content.replace(old, new, 1), encoding="utf-8")
    differences = check_tables(folder, "tables")[1]
    assert what in {one.what for one in differences}
    assert all(one.file == "tables/trial.csv" for one in differences)


def test_a_table_without_description_is_named(folder: Path) -> None:
    """A table more or less than described differs; so does a description that is none."""
    (folder / "other.csv").write_text("a\n", encoding="utf-8")
    (folder / "trial.csv").unlink()
    found = {(one.file, one.what) for one in check_tables(folder, "t")[1]}
    assert found == {("t/other.csv", "description"), ("t/trial.csv", "file")}
    (folder / DESCRIPTION_FILE).write_text("{", encoding="utf-8")
    assert [one.what for one in check_tables(folder, "t")[1]] == ["content"]


def test_columns_of_people_are_harmless_too() -> None:
    """A column of the build sheet whose name starts like a formula gets an apostrophe."""
    header = csv_bytes(pa.table({"=1+1": ["x"], "-2": ["y"]})).split(b"\n")[0]
    assert header == b'"\'=1+1","\'-2"'


def test_every_column_has_type_meaning_and_unit() -> None:
    """Units are UCUM codes under the property of QUDT, for every table of the results."""
    archived = {f"{name}.csv": table for name, table in TABLES.items() if table.archived}
    group = json.loads(
        described({name: (table, pa.schema([(n, pa.string()) for n in table.names]))
                   for name, table in archived.items()})
    )  # fmt: skip
    for entry in group["tables"]:
        table = archived[entry["url"]]
        for column, listed in zip(entry["tableSchema"]["columns"], table.columns, strict=True):
            assert column["dc:description"]
            assert column.get("http://qudt.org/schema/qudt/ucumCode", "") == listed.unit
            assert column.get("propertyUrl") == TERMS.get((table.name, listed.name))


def test_terms_stand_for_columns_that_exist() -> None:
    """No term is left over for a column renamed; each is of EMMO domain electrochemistry."""
    for (table, column), term in TERMS.items():
        assert column in TABLES[table].names
        prefix, _, mark = term.partition("#electrochemistry_")
        assert prefix == "https://w3id.org/emmo/domain/electrochemistry"
        assert [len(part) for part in mark.split("_")] == [8, 4, 4, 4, 12]
