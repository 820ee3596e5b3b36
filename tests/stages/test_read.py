"""The stage that reads the raw files of a cell."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from jobs import run_job

from trivet.rawfiles.layout.patterns import find_files
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Raw, RawFiles
from trivet.stages.read import run
from trivet.store.tables import arrays

NAMES = ("series", "spectrum_points", "ledger", "findings")
RAW = Raw(
    cycling=[RawFiles(files="raw/{cell}.csv")],
    impedance=[RawFiles(files="z/{cell}_{pair}_{cycle}.csv")],
)
CYCLING = "Unix Time / s,Current / A,Voltage / V\n0,0.001,3.0\n60,0.001,3.1\n120,0.0"
SPECTRUM = (
    "Frequency / Hz,Real Impedance / ohm,Imaginary Impedance / ohm\n1000,2,-0.1\n1,5,-2\n0.1,7,-1\n"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A campaign folder with a growing cycling file and a spectrum of cell `Ä 1`."""
    (tmp_path / "raw").mkdir()
    (tmp_path / "z").mkdir()
    (tmp_path / "raw" / "Ä 1.csv").write_text(CYCLING, encoding="utf-8")
    (tmp_path / "z" / "Ä 1_cell_3.csv").write_text(SPECTRUM, encoding="utf-8")
    return tmp_path


def test_rows_spectra_ledger_and_findings(folder: Path) -> None:
    """One run gives all four tables; the cut last line is counted and told."""
    files = find_files(folder, RAW, "Ä 1")
    tables = run(facts=CellFacts("Ä 1", "1"), files=files, raw=RAW, time_zone="UTC")
    assert arrays(tables.series)["current_mA"].tolist() == [1.0, 1.0]
    assert arrays(tables.spectrum_points)["imaginary_ohm"].tolist() == [-0.1, -2.0, -1.0]
    ledger = arrays(tables.ledger)
    assert ledger["file"].tolist() == ["raw/Ä 1.csv", "z/Ä 1_cell_3.csv"]
    assert ledger["rows_seen"].tolist() == [3, 3]
    assert ledger["rows_used"].tolist() == [2, 3]
    assert "truncated last line" in arrays(tables.findings)["check"]


def test_cell_without_files_stays_and_is_explained() -> None:
    """No file at all gives empty tables and the finding `no data`."""
    tables = run(facts=CellFacts("B", "1"), files=[], raw=RAW, time_zone="UTC")
    assert [tables.series.num_rows, tables.spectrum_points.num_rows, tables.ledger.num_rows] == [
        0
    ] * 3
    findings = arrays(tables.findings)
    assert findings["check"].tolist() == ["no data"]
    assert findings["severity"].tolist() == ["fault"]


def test_cut_gives_the_tables_of_that_day(folder: Path) -> None:
    """The data cut of a grown file gives the series of the file as it was."""
    files = find_files(folder, RAW, "Ä 1")
    early = run(facts=CellFacts("Ä 1", "1"), files=files, raw=RAW, time_zone="UTC")
    path = folder / "raw" / "Ä 1.csv"
    path.write_text(CYCLING + "01,3.2\n86400,0.001,3.3\n", encoding="utf-8")
    cut = "1970-01-01T00:01:00"
    late = run(facts=CellFacts("Ä 1", "1"), files=files, raw=RAW, time_zone="UTC", data_cut=cut)
    assert late.series.equals(early.series)


def test_command_line_writes_what_run_gives(folder: Path) -> None:
    """The printed command of the stage can be pasted: it writes the same tables."""
    files = find_files(folder, RAW, "Ä 1")
    campaign = {"time_zone": "UTC", "data_cut": None}
    cycling = {"lower_voltage_V": 2.5, "upper_voltage_V": 3.65, "capacity_basis_mAh": 2.0}
    written = run_job(
        folder / "out",
        "read",
        settings={"raw": RAW.model_dump(), "campaign": campaign, "cycling": cycling},
        cell={"cell": "Ä 1", "batch": "1"},
        campaign=folder,
        raw_files=[file.path.relative_to(folder).as_posix() for file in files],
    )
    tables = run(facts=CellFacts("Ä 1", "1"), files=files, raw=RAW, time_zone="UTC")
    for name in NAMES:
        assert written[name].equals(getattr(tables, name))


def test_raw_files_are_not_changed(folder: Path) -> None:
    """Reading leaves every byte of the raw files as it was."""
    before = {path: path.read_bytes() for path in sorted(folder.rglob("*.csv"))}
    files = find_files(folder, RAW, "Ä 1")
    run(facts=CellFacts("Ä 1", "1"), files=files, raw=RAW, time_zone="UTC")
    assert {path: path.read_bytes() for path in sorted(folder.rglob("*.csv"))} == before


def test_times_are_in_order(folder: Path) -> None:
    """Times of the series never go back."""
    files = find_files(folder, RAW, "Ä 1")
    tables = run(facts=CellFacts("Ä 1", "1"), files=files, raw=RAW, time_zone="UTC")
    assert np.all(np.diff(arrays(tables.series)["time_s"]) >= 0)


def test_plating_files_are_read_and_accounted_for(folder: Path) -> None:
    """Rows of the plating stand in their own table, and the ledger says what the file holds."""
    (folder / "p").mkdir()
    text = "Unix Time / s,Current / A\n0,-0.0001\n1800,-0.0001\n1801,x\n"
    (folder / "p" / "Ä 1.csv").write_text(text, encoding="utf-8")
    raw = RAW.model_copy(update={"plating": [RawFiles(files="p/{cell}.csv")]})
    files = find_files(folder, raw, "Ä 1")
    tables = run(facts=CellFacts("Ä 1", "1"), files=files, raw=raw, time_zone="UTC")
    assert arrays(tables.plating_series)["current_mA"][:2].tolist() == [-0.1, -0.1]
    (row,) = [row for row in tables.ledger.to_pylist() if row["content"] == "plating"]
    assert row["rows_seen"] == 3
    assert row["rows_seen"] == row["rows_used"] + row["rows_set_aside"]


def test_a_plating_file_alone_is_no_data_of_the_cell(folder: Path) -> None:
    """A cell of which only the plating was recorded has no data, and that is said."""
    (folder / "p").mkdir()
    (folder / "p" / "B.csv").write_text("Unix Time / s,Current / A\n0,1\n9,1\n", encoding="utf-8")
    raw = RAW.model_copy(update={"plating": [RawFiles(files="p/{cell}.csv")]})
    files = find_files(folder, raw, "B")
    tables = run(facts=CellFacts("B", "1"), files=files, raw=raw, time_zone="UTC")
    assert tables.plating_series.num_rows == 2
    assert "no data" in arrays(tables.findings)["check"]
