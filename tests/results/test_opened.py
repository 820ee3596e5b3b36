"""`trivet.open`: results as frames whose types, units and order are right."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pytest
from report_campaign import make
from results_folders import write_archive, write_results

import trivet
from trivet.errors import InputError
from trivet.results.folder import NoSuchTable, ResultsError
from trivet.results.frames import Surroundings, frame_of
from trivet.schema.tables.columns import Sense
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import empty, make_table, read_table

AROUND = Surroundings("Europe/Berlin", {"seal": ("tape", "bead")}, ("tape", "bead"))
SHEET = {
    "positive_active_mass_mg": ["12.5", "13", ""],
    "lead_wire_um": ["50", "50", "80"],
    "electrolyte_lot": ["007", "012", "013"],
    "note": ["12", "fell down", ""],
    "crimped_at": ["2026-03-29T01:30", "2026-03-29T03:30+02:00", ""],
    "glued_at": ["in the morning", "2026-03-02", ""],
    "seal": ["tape", "tape", "bead"],
}


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The results of nine invented cells."""
    place = tmp_path_factory.mktemp("reports") / "seal-trial"
    return write_results(place, campaign={"time_zone": "Europe/Berlin"})


def sheet_frame() -> pd.DataFrame:
    """Three cells with columns of the build sheet that are not in the dictionary."""
    listed = {
        "cell": ["A1", "A2", "A3"],
        "batch": ["A", "A", "A"],
        "group": ["tape", "tape", "bead"],
        "included": [1, 0, 1],
        "exclusion_reason": ["", "torn", ""],
        "mass_lost_mg_per_d": [None, None, None],
        "status": ["running", "excluded", "running"],
    }
    data = make_table(TABLES["cells"], {**listed, **SHEET}, tuple(SHEET))
    return frame_of(data, TABLES["cells"], AROUND)


def test_import_of_the_package_is_light() -> None:
    """`import trivet` imports neither pandas nor arrow nor the report: every job imports it."""
    code = "import trivet, sys; print(sorted({'pandas', 'pyarrow', 'matplotlib'} & {*sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_no_stage_depends_on_this_room() -> None:
    """An edit of this room must not make one stage run anew."""
    from trivet.workflow.source_digest import SourceFiles  # noqa: PLC0415

    closure = SourceFiles().closure("trivet.stages.report")
    assert not [name for name in closure if "results" in name.split(".")]


def test_every_table_has_the_values_that_are_stored(folder: Path) -> None:
    """Each table opens, by attribute as by item, with the rows and the numbers of its file."""
    results = trivet.open(folder)
    assert set(results) == {name for name, table in TABLES.items() if table.archived}
    for name in results:
        frame, stored = results[name], read_table(TABLES[name], folder / f"tables/{name}.parquet")
        assert frame.equals(getattr(results, name))
        assert len(frame) == stored.num_rows
        for column in TABLES[name].columns:
            kept = stored[column.name].to_pylist()
            about = frame.attrs["columns"][column.name]
            assert about["unit"] == column.unit
            assert about["meaning"] == column.meaning
            if column.type == "text" and column.sense is not Sense.YES_OR_NO:
                found = frame[column.name].astype("object")
                texts = [None if pd.isna(v) or v == "" else v for v in found]
                assert texts == [value or None for value in kept], (name, column.name)
            elif column.sense is Sense.PLAIN:
                assert pd.api.types.is_numeric_dtype(frame[column.name])
                pd.testing.assert_series_equal(
                    frame[column.name].astype("Float64"),
                    pd.Series(kept, name=column.name, dtype="Float64"),
                )


def test_truths_are_booleans(folder: Path) -> None:
    """A column of 1 and 0, or of yes and no, selects rows as it is; missing stays missing."""
    results = trivet.open(folder)
    cells = results.cells
    assert cells["included"].dtype == bool
    assert (~cells["included"]).sum() == 1  # the invented campaign leaves one cell out
    for name, table in TABLES.items():
        for column in (c for c in table.columns if table.archived):
            if column.sense in (Sense.TRUTH, Sense.YES_OR_NO):
                assert str(results[name][column.name].dtype) in ("bool", "boolean")
    known = make_table(
        TABLES["spectra_second_pass"], {name: [] for name in TABLES["spectra_second_pass"].names}
    )
    assert frame_of(known, TABLES["spectra_second_pass"], AROUND)["alike"].dtype == bool


def test_columns_that_say_1_where_are_truths() -> None:
    """No column whose meaning begins with '1 where' is left a number."""
    for table in TABLES.values():
        for column in table.columns:
            words = column.meaning.split()[:2]
            assert (words == ["1", "where"]) == (column.sense is Sense.TRUTH), column.name


def test_groups_stand_in_the_campaigns_order(folder: Path) -> None:
    """The control comes first, then the others by name; so do tables made from a frame."""
    cells = trivet.open(folder).cells
    assert cells["group"].cat.ordered
    assert list(cells["group"].cat.categories) == ["tape", "bead", "sleeve"]
    assert list(cells.groupby("group").size().index) == ["tape", "bead", "sleeve"]
    severity = trivet.open(folder).findings["severity"]
    assert (severity >= "caution").sum() == severity.isin(["caution", "fault"]).sum()


def test_a_word_outside_the_order_is_kept() -> None:
    """A word that the order does not name follows behind, and is not lost."""
    rows = {"cell": "A1", "file": "", "check": "x", "severity": "alarm", "message": "m"}
    data = make_table(TABLES["findings"], {n: [rows.get(n)] for n in TABLES["findings"].names})
    severity = frame_of(data, TABLES["findings"], AROUND)["severity"]
    assert list(severity) == ["alarm"]
    assert list(severity.cat.categories) == ["note", "caution", "fault", "alarm"]


def test_free_columns_are_numbers_where_every_value_is_one() -> None:
    """A mass of the build sheet is a number, a lot with a leading zero and a remark are text."""
    frame = sheet_frame()
    about = frame.attrs["columns"]
    assert frame["positive_active_mass_mg"].dtype == "float64"
    assert frame["positive_active_mass_mg"].sum() == 25.5
    assert frame["lead_wire_um"].dtype == "int64"
    assert list(frame["electrolyte_lot"]) == ["007", "012", "013"]
    assert list(frame["note"])[:2] == ["12", "fell down"]
    assert about["positive_active_mass_mg"]["stored"] == "string"
    assert about["positive_active_mass_mg"]["unit"] == "mg"
    assert "stored as text" in about["positive_active_mass_mg"]["done"]
    assert "begins with a zero" in about["electrolyte_lot"]["done"]
    assert "not every value" in about["note"]["done"]
    assert list(frame["seal"].cat.categories) == ["tape", "bead"]


def test_times_have_the_campaigns_zone() -> None:
    """Times without an offset are the zone's, those with one are turned into it."""
    # On 2026-03-29 at 02:00 clocks in Berlin went to 03:00 (Directive 2000/84/EC, article 2).
    frame = sheet_frame()
    first, second, missing = frame["crimped_at_local"]
    assert first.tz_convert("UTC").to_pydatetime() == datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
    assert second.tz_convert("UTC").to_pydatetime() == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert pd.isna(missing)
    assert frame["crimped_at"].iloc[0] == SHEET["crimped_at"][0]
    assert "glued_at_local" not in frame
    assert list(frame.columns).index("crimped_at_local") == 1 + list(frame.columns).index(
        "crimped_at"
    )


def test_unix_times_stand_beside_as_moments() -> None:
    """A Unix time gives the moment that Python's own library gives; not so without a calendar."""
    moment = datetime(2026, 7, 1, 12, 0, 0, 250_000, tzinfo=UTC)
    row = {name: "x" if c.type == "text" else 1 for name, c in
           zip(TABLES["ledger"].names, TABLES["ledger"].columns, strict=True)}  # fmt: skip
    rows = [
        {**row, "file": "a", "absolute_time": "yes", "first_time_s": moment.timestamp()},
        {**row, "file": "b", "absolute_time": "no", "first_time_s": 12.0},
    ]
    columns = {name: [one[name] for one in rows] for name in row}
    frame = frame_of(make_table(TABLES["ledger"], columns), TABLES["ledger"], AROUND)
    placed, unplaced = frame["first_time_s_local"]
    assert placed.to_pydatetime() == moment
    assert str(placed.tz) == "Europe/Berlin"
    assert placed.hour == 14  # summer time
    assert pd.isna(unplaced)
    assert list(frame["absolute_time"]) == [True, False]
    assert list(frame["first_time_s"])[1] == 12.0


def test_a_frame_is_the_askers_own(folder: Path) -> None:
    """What one does to a frame is not in the next one."""
    results = trivet.open(folder)
    own = results.cells
    own["included"] = False
    own.attrs["columns"].clear()
    assert results.cells["included"].any()
    assert results.cells.attrs["columns"]
    assert results.cells.attrs["time_zone"] == "Europe/Berlin"
    assert results.cells.attrs["invented"] is True


def test_an_archive_opens_like_the_folder(folder: Path, tmp_path: Path) -> None:
    """The bag of the same results gives the same frames."""
    bag = trivet.open(write_archive(folder, tmp_path / "archive"))
    for name in ("cells", "lifetimes", "comparisons"):
        pd.testing.assert_frame_equal(bag[name], trivet.open(folder)[name])
    (folder / "jobs" / "report.json").rename(tmp_path / "report.json")
    try:
        with pytest.raises(ResultsError, match=r"report\.json.*is missing.*Copy the folder"):
            trivet.open(folder)
    finally:
        (tmp_path / "report.json").rename(folder / "jobs" / "report.json")


def test_tables_of_an_older_version_open(folder: Path, tmp_path: Path) -> None:
    """A table that lacks a column, or has one more, opens as its file says."""
    place = write_results(tmp_path / "older")
    path = place / "tables" / "causes.parquet"
    data = read_table(TABLES["causes"], path)
    extra = pa.field("share", pa.float64(), metadata={"unit": "%", "meaning": "of old"})
    older = data.drop_columns(["upper"]).append_column(extra, pa.array([1.0] * data.num_rows))
    pa.parquet.write_table(older.replace_schema_metadata({"trivet tables": "1.0"}), path)
    frame = trivet.open(place).causes
    assert "upper" not in frame
    assert frame.attrs["columns"]["share"]["unit"] == "%"
    assert frame.attrs["tables_version"] == "1.0"


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("cycle", "has no table 'cycle'. Did you mean 'cycles'?"),
        ("retention", "has no table 'retention'. It is a column of "),
        ("series", "it is kept for each cell, under 'cells'"),
        ("qqqq", "Tables here: at_risk, "),
    ],
)
def test_a_wrong_table_names_a_near_one(folder: Path, name: str, says: str) -> None:
    """A wrong name is said for people, whichever way it is asked for."""
    results = trivet.open(folder)
    for asked in (lambda: results[name], lambda: getattr(results, name)):
        with pytest.raises(NoSuchTable) as caught:
            asked()
        assert says in str(caught.value)
        assert str(folder) in str(caught.value)
    assert not hasattr(results, name)
    assert name not in results
    assert isinstance(caught.value, KeyError | InputError)


def test_a_wrong_folder_says_which_one_to_give(folder: Path, tmp_path: Path) -> None:
    """A slip, the folder above, the one below and a campaign: each is told what to give."""
    said = {
        folder.with_name("seal-trail"): "does not exist. Did you mean 'seal-trial'?",
        folder.parent: f"holds several results. Give one of them: '{folder}'.",
        folder / "tables": f"holds the tables alone. Give the folder above: '{folder}'.",
        folder / "summary.json": "is a file, not a folder.",
        tmp_path: "holds no table 'tables/cells.parquet'.",
    }
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "campaign.yaml").write_text("campaign: {}\n", encoding="utf-8")
    said[tmp_path / "own"] = "is the folder of a campaign, not of results."
    for place, words in said.items():
        with pytest.raises(ResultsError) as caught:
            trivet.open(place)
        assert f"{place}: {words}" in str(caught.value)


def test_a_spoilt_file_is_said(folder: Path, tmp_path: Path) -> None:
    """A table that is no Parquet any more names its file."""
    place = write_results(tmp_path / "spoilt")
    (place / "tables" / "cycles.parquet").write_bytes(b"PAR1 cut short")
    with pytest.raises(ResultsError, match=r"cycles\.parquet: can't be read"):
        trivet.open(place).cycles  # noqa: B018


def test_an_empty_table_keeps_its_types() -> None:
    """A table without rows has the columns and types of one with rows."""
    frame = frame_of(empty(TABLES["lifetimes"]), TABLES["lifetimes"], AROUND)
    assert frame["observed"].dtype == bool
    assert str(frame["start_s_local"].dtype) == "datetime64[us, Europe/Berlin]"
    assert list(frame["group"].cat.categories) == ["tape", "bead"]


def test_the_fixture_is_what_a_run_leaves() -> None:
    """The invented campaign has every archived table, so that none goes untested."""
    assert set(make()) == {n for n, t in TABLES.items() if t.archived}
