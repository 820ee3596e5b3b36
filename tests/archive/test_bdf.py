"""The open format as we write it: other readers find its terms, and we read it back."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from jobs import run_job
from raw_files import UNIX, lines, read

from trivet.archive.bdf import write_bdf

HEADER = UNIX + ",Positive Electrode Potential / V,Negative Electrode Potential / V"
ROWS = [
    f"{1000 + 60 * (n // 2)},{1e-6 * n:.6f},{3.4 + n / 1000},{3.5 + n / 1000},0.1" for n in range(9)
]


def test_what_is_written_reads_back(tmp_path: Path) -> None:
    """Times, currents down to a microampere and all voltages survive, two rows at one time too."""
    first = read(tmp_path, {"A.csv": lines(HEADER, *ROWS)})
    folder = tmp_path / "again"
    folder.mkdir()
    write_bdf(first.tables.series, folder / "A.csv", absolute=True)
    assert "e-" not in (folder / "A.csv").read_text(encoding="utf-8")
    again = read(folder, {"A.csv": (folder / "A.csv").read_bytes()})
    for name in ("time_s", "current_mA", "cell_V", "positive_V", "negative_V"):
        np.testing.assert_allclose(again.series[name], first.series[name], rtol=1e-15, err_msg=name)


def test_columns_and_description_follow_the_standards(tmp_path: Path) -> None:
    """Required labels of Battery Data Format 1.3.0; CSVW names each column and its IRI.

    Battery Data Format 1.3.0: required Test Time / s, Voltage / V, Current / A, machine names as
    fragments of its IRI. W3C Metadata Vocabulary for Tabular Data (2015), sections 5.5 and 5.6.
    """
    got = read(tmp_path, {"A.csv": lines(HEADER, *ROWS)})
    write_bdf(got.tables.series, tmp_path / "out.csv", absolute=False)
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    described = json.loads((tmp_path / "out.csv-metadata.json").read_text(encoding="utf-8"))
    columns = described["tableSchema"]["columns"]
    assert [column["titles"] for column in columns] == list(rows[0])
    assert list(rows[0])[:3] == ["Test Time / s", "Voltage / V", "Current / A"]
    assert "Unix Time / s" not in rows[0]
    assert described["@context"] == "http://www.w3.org/ns/csvw"
    by_name = {column["name"]: column for column in columns}
    iri = "https://w3id.org/battery-data-alliance/ontology/battery-data-format#current_ampere"
    assert by_name["current_ampere"]["propertyUrl"] == iri
    assert "against the reference" in by_name["positive_electrode_potential_volt"]["dc:description"]
    key = [row["Record Index / 1"] for row in rows]
    assert len(set(key)) == len(rows)
    assert rows[0]["Test Time / s"] == "0"


@pytest.mark.parametrize("header", [UNIX, "Test Time / s,Current / A,Voltage / V"])
def test_the_command_writes_both_files(tmp_path: Path, header: str) -> None:
    """Unix time is written where the rows are on the calendar, and not where they are not."""
    got = read(tmp_path, {"A.csv": lines(header, "0,0,3.4", "60,0,3.4")})
    tables = {name: getattr(got.tables, name) for name in ("series", "ledger")}
    run_job(tmp_path / "out", "bdf", cell={"cell": "A", "batch": "1"}, tables=tables)
    written = tmp_path / "out" / "cells" / "A" / "series.bdf.csv"
    assert ("Unix Time / s" in written.read_text(encoding="utf-8")) == (header == UNIX)
    assert written.with_name("series.bdf.csv-metadata.json").is_file()
