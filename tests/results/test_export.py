"""`trivet export`: a workbook that other programs read right, figures for slides."""

from __future__ import annotations

import csv
import datetime
import hashlib
import io
import zipfile
from itertools import islice
from pathlib import Path
from xml.etree import ElementTree as Tree

import numpy as np
import openpyxl
import pandas as pd
import pyarrow as pa
import pytest
from matplotlib import image
from report_campaign import make
from results_folders import write_archive, write_results

import trivet
from trivet.cli.main import main
from trivet.report.slides import slides
from trivet.results.workbook import MAIN_TABLES
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import make_table

SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
EVIL = ("=1+1", "+1+1", "-1+1", "@SUM(1)", '=HYPERLINK("x")')


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Results whose findings say what a spreadsheet would take for formulas."""
    rows = [
        {"cell": f"A{n}", "file": text, "check": "x", "severity": "note", "message": f"{text}\x07"}
        for n, text in enumerate(EVIL)
    ]
    findings = make_table(
        TABLES["findings"],
        {name: [row.get(name) for row in rows] for name in TABLES["findings"].names},
    )
    place = tmp_path_factory.mktemp("results") / "seal-trial"
    zone = {"time_zone": "Europe/Berlin"}
    return write_results(place, campaign=zone, tables={"findings": findings})


@pytest.fixture(scope="module")
def exported(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the command wrote of them."""
    target = tmp_path_factory.mktemp("out") / "given on"
    assert main(["export", str(folder), "--to", str(target)]) == 0
    return target


@pytest.fixture
def no_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command draws none, where a test looks at the workbook alone."""
    monkeypatch.setattr("trivet.results.export.slides", lambda _data: ())


def digests(folder: Path) -> dict[str, str]:
    """Checksums of all files below a folder."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_every_sheet_has_names_units_and_the_numbers(folder: Path, exported: Path) -> None:
    """Another reader of workbooks finds names, then units, then the values of the frames."""
    results = trivet.open(folder)
    book = openpyxl.load_workbook(exported / "seal-trial.xlsx")
    assert book.sheetnames == ["about", "columns", *MAIN_TABLES]
    for name in MAIN_TABLES:
        frame = results[name]
        names, units, *rows = book[name].iter_rows(values_only=True)
        assert list(names) == list(frame.columns)
        expected = [frame.attrs["columns"][column]["unit"] for column in frame.columns]
        assert [unit or "" for unit in units] == expected
        assert len(rows) == len(frame)
        for place, column in enumerate(frame.columns):
            found = [row[place] for row in rows]
            values = frame[column]
            if pd.api.types.is_bool_dtype(values):
                assert all(isinstance(value, bool) for value in found if value is not None)
            elif pd.api.types.is_numeric_dtype(values):
                numbers = values.astype("float64").to_numpy(na_value=np.nan)
                # the library writes 16 digits of a number, of which a spreadsheet keeps 15
                np.testing.assert_allclose(np.array(found, dtype=float), numbers, rtol=1e-15)


@pytest.mark.usefixtures("no_figures")
def test_times_are_dates_of_the_campaigns_zone(tmp_path: Path) -> None:
    """A spreadsheet shows the hour that the laboratory's clock showed."""
    rows = make()["lifetimes"].to_pylist()
    moment = datetime.datetime(2026, 7, 1, 12, tzinfo=datetime.UTC)
    columns = {name: [row[name] for row in rows] for name in TABLES["lifetimes"].names}
    columns["start_s"] = [moment.timestamp()] * len(rows)
    lives = make_table(TABLES["lifetimes"], columns)
    zone = {"time_zone": "Europe/Berlin"}
    place = write_results(tmp_path / "r", campaign=zone, tables={"lifetimes": lives})
    assert main(["export", str(place), "--to", str(tmp_path / "out")]) == 0
    book = openpyxl.load_workbook(tmp_path / "out" / "seal-trial.xlsx")
    names = [cell.value for cell in book["lifetimes"][1]]
    cell = book["lifetimes"].cell(3, 1 + names.index("start_s_local"))
    assert cell.value == datetime.datetime(2026, 7, 1, 14)
    assert cell.is_date


def test_the_first_sheet_says_what_it_is(
    folder: Path, exported: Path, request: pytest.FixtureRequest
) -> None:
    """Who is handed the workbook alone learns campaign, cut, versions, and that it is invented."""
    book = openpyxl.load_workbook(exported / "seal-trial.xlsx")
    texts = [[cell.value for cell in row] for row in book["about"]]
    assert texts[0][0] == "All data are invented."
    said = {row[0]: row[1] for row in texts}
    results = trivet.open(folder)
    assert said["campaign"] == "seal-trial"
    assert said["data cut"] == results.summary["data_cut"]
    assert trivet.__version__ in said["made by"]
    assert said["settings (SHA-256)"] == results.summary["settings_sha256"]
    assert "potential_curves" in said["not in here"]
    request.getfixturevalue("no_figures")  # the first export stands, with its figures
    real = write_results(exported.parent / "real", campaign={"invented": False, "id": "real"})
    assert main(["export", str(real), "--to", str(exported.parent / "real-out")]) == 0
    about = openpyxl.load_workbook(exported.parent / "real-out" / "real.xlsx")["about"]
    assert "invented" not in str([[cell.value for cell in row] for row in about])


def test_no_text_is_a_formula(exported: Path) -> None:
    """No sheet holds a formula, and text that begins like one is marked as text."""
    # ECMA-376, part 1: a formula is an element f (18.3.1.40); quotePrefix (18.8.45) keeps text
    # text where a cell is edited.
    with zipfile.ZipFile(exported / "seal-trial.xlsx") as parts:
        sheets = [name for name in parts.namelist() if name.startswith("xl/worksheets/")]
        assert len(sheets) == 2 + len(MAIN_TABLES)
        for name in sheets:
            assert Tree.fromstring(parts.read(name)).find(f".//{SHEET}f") is None
    sheet = openpyxl.load_workbook(exported / "seal-trial.xlsx")["findings"]
    names = [cell.value for cell in sheet[1]]
    cells = [row[names.index("file")] for row in sheet.iter_rows(min_row=3)]
    assert {cell.value for cell in cells} == set(EVIL)
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in cells)
    messages = [row[names.index("message")].value for row in sheet.iter_rows(min_row=3)]
    assert all("\x07" not in text for text in messages)


def test_the_same_data_give_the_same_bytes(
    folder: Path, exported: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the folder and from its archive, today and later: the same workbook and figures."""
    before = digests(folder)
    bag = write_archive(folder, tmp_path / "archive")
    monkeypatch.setattr("trivet.results.export.slides", lambda data: islice(slides(data), 4))
    assert main(["export", str(bag), "--to", str(tmp_path / "again")]) == 0
    again, first = digests(tmp_path / "again"), digests(exported)
    assert sum(name.endswith(".png") for name in again) == 4
    # the list of figures names all of them
    assert {name: again[name] for name in again if name != "figures.csv"}.items() <= first.items()
    assert digests(folder) == before
    with zipfile.ZipFile(exported / "seal-trial.xlsx") as parts:
        assert {part.date_time for part in parts.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = parts.read("docProps/core.xml").decode()
    assert str(datetime.datetime.now(datetime.UTC).date()) not in core


def test_figures_need_no_font_of_the_reader(exported: Path) -> None:
    """Letters of a figure are outlines, and its picture is wide enough for a slide and opaque."""
    with (exported / "figures.csv").open(encoding="utf-8", newline="") as file:
        listed = {row["figure"]: row["shows"] for row in csv.DictReader(file)}
    assert {"capacity", "life-lines", "survival-cell"} <= set(listed)
    assert all(listed.values())
    assert {path.stem for path in exported.glob("*.svg")} == set(listed)
    for name in listed:
        root = Tree.fromstring((exported / f"{name}.svg").read_bytes())
        assert root.find(".//{http://www.w3.org/2000/svg}text") is None
        pixels = image.imread(io.BytesIO((exported / f"{name}.png").read_bytes()), format="png")
        assert pixels.shape[1] > 1280
        assert pixels[0, 0].min() == 1.0


def test_an_export_refuses_what_it_can_not_do(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No results, a target within a bag, tables of another version: status 2 and what to do."""
    assert main(["export", str(tmp_path)]) == 2
    assert "holds no table" in capsys.readouterr().err
    bag = write_archive(folder, tmp_path / "archive")
    before = digests(bag)
    assert main(["export", str(bag), "--to", str(bag / "data" / "out")]) == 2
    assert "lies within the archive" in capsys.readouterr().err
    assert digests(bag) == before
    older = write_results(tmp_path / "older")
    path = older / "tables" / "causes.parquet"
    pa.parquet.write_table(pa.parquet.read_table(path).drop_columns(["upper"]), path)
    assert main(["export", str(older), "--to", str(tmp_path / "out")]) == 2
    assert "can't draw" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.usefixtures("no_figures")
def test_a_table_longer_than_a_sheet_is_cut_and_says_so(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a table with more rows than a sheet holds the first stand there, which it says."""
    monkeypatch.setattr("trivet.results.workbook.MOST_ROWS", 12)
    assert main(["export", str(folder), "--to", str(tmp_path)]) == 0
    book = openpyxl.load_workbook(tmp_path / "seal-trial.xlsx")
    whole = len(trivet.open(folder).cycles)
    assert whole > 10
    assert book["cycles"].max_row == 12
    said = {row[0].value: [cell.value for cell in row[1:]] for row in book["about"].iter_rows()}
    assert said["cycles"] == [f"a cycle, of {whole} the first", 10]
