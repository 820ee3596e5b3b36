"""A campaign with hostile names in an awkward place, and its archive against outside validators."""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import bagit
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from campaign_runs import ROOT, make_campaign, run_in
from crate_validator import issues, unknown_terms
from csvw import CSVW

from trivet.cli.main import main

CELLS = {"c01": "=1+1 $(touch run-by-shell)", "c02": "@SUM(A1) 'ü' & [x]"}
"""New ids of two cells: formulas, commands, quotes."""
MARKUP = "<script>alert(1)</script> {{ 7*7 }} $HOME `id`"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


@pytest.fixture(scope="module")
def other_disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder on another file system where the machine has one in memory, else a temporary one."""
    here = tmp_path_factory.mktemp("disk")
    memory = Path("/dev/shm")
    if memory.is_dir() and memory.stat().st_dev != here.stat().st_dev:
        with tempfile.TemporaryDirectory(prefix="trivet-", dir=memory) as folder:
            yield Path(folder)
    else:
        yield here


@pytest.fixture(scope="module")
def campaign(other_disk: Path) -> Path:
    """Two cells with hostile ids, texts and columns, below a folder with every awkward sign."""
    folder = other_disk / '-my camp\'s $(touch run-by-shell) "ü" `id` ; & [1] *#' / "-campaign"
    make_campaign(folder, cells=tuple(CELLS))
    settings = (folder / "campaign.yaml").read_text(encoding="utf-8")
    settings = settings.replace("title: Sealing", f"title: '{MARKUP}'\n  #")
    text = settings.replace("campaign:\n", "archive: {raw_files: copies}\ncampaign:\n", 1)
    (folder / "campaign.yaml").write_text(text, encoding="utf-8")
    rename(folder)
    return folder


def rename(folder: Path) -> None:
    """Give the cells their hostile ids, in both tables and in the names of their files."""
    for name in ("build-sheet.csv", "bench-log.csv"):
        with (folder / name).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        for row in rows:
            row["cell"] = CELLS[row["cell"]]
            row["-remark"] = f"=cmd {MARKUP}"
        fields = list(rows[0]) if name == "build-sheet.csv" else list(rows[0])[:-1]
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, fields, extrasaction="ignore")
            writer.writeheader()
            writer.writerows(rows)
    for path in sorted(path for path in (folder / "raw").rglob("c*") if path.is_file()):
        cell, rest = path.name[:3], path.name[3:]
        # of the spectra the first are enough, and of the series its beginning
        if cell in CELLS and (rest.startswith((".", "_2.", "_2_"))):
            lines = path.read_bytes().splitlines(keepends=True)
            path.write_bytes(b"".join(lines[:3000]))
            path.rename(path.with_name(CELLS[cell] + rest))
        else:
            path.unlink()


@pytest.fixture(scope="module")
def results(campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Results of its run, from and to folders as awkward."""
    work = tmp_path_factory.mktemp("it's a $HOME; (place)")
    printed = run_in(work, campaign=campaign, reports=Path("-out put's"))
    (work / "printed.txt").write_text(printed, encoding="utf-8")
    return work / "-out put's" / "demo"


def test_a_file_that_grows_in_mid_run_stops_the_archive(results: Path, campaign: Path) -> None:
    """A bag would not hold what was read: the file is named, and the bag before stays."""
    kept = [path for path in (results / "archive").rglob("*") if path.is_file()]
    before = {path: path.read_bytes() for path in kept}
    raw = next(path for path in sorted((campaign / "raw").glob("cycling-*/*")) if path.is_file())
    content = raw.read_bytes()
    command = [
        sys.executable, "-m", "trivet.stages", f"--campaign={campaign}", "--",
        str(results / "jobs" / "archive.json"),
    ]  # fmt: skip
    try:
        raw.write_bytes(content + b"x")
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    finally:
        raw.write_bytes(content)
    assert done.returncode != 0
    assert "has changed since this run read it" in done.stderr
    assert {path: path.read_bytes() for path in kept} == before


@pytest.fixture
def bag(results: Path, tmp_path: Path) -> Path:
    """A copy of the archive, to be changed by one test."""
    shutil.copytree(results / "archive", tmp_path / "bag")
    return tmp_path / "bag"


def test_no_name_reaches_a_shell(results: Path, campaign: Path) -> None:
    """Ids, folders and texts with commands in them start none, and nothing is written elsewhere."""
    work = results.parents[1]
    assert not [path for start in (work, campaign.parent, ROOT)
                for path in start.glob("**/run-by-shell")]  # fmt: skip
    assert sorted(path.name for path in work.iterdir()) == [
        "-out put's", ".snakemake", "printed.txt",
    ]  # fmt: skip
    assert set(CELLS.values()) == {path.name for path in (results / "cells").iterdir()}


def test_a_run_ends_with_what_it_found(results: Path) -> None:
    """Progress with what is at work, then cells, verdicts, findings and where the report lies."""
    printed = (results.parents[1] / "printed.txt").read_text(encoding="utf-8")
    assert "left; at work: " in printed
    closing = printed[printed.index("  data cut: ") :]
    for words in ("2 built, 2 count", "verdict:  seal, cell life in hours: epoxy against tape",
                  "findings: fault", os.fspath(Path("demo") / "report.pdf")):  # fmt: skip
        assert words in closing, words


def test_a_printed_command_can_be_pasted_there_too(results: Path, campaign: Path) -> None:
    """What is printed runs in a shell as it stands, from an awkward folder on awkward names."""
    work = results.parents[1]
    output = results / "cells" / CELLS["c02"] / "read" / "series.parquet"
    before = output.read_bytes()
    text = run_in(work, "--dry-run", "--printshellcmds", "--forcerun", "read",
                  campaign=campaign, reports=Path("-out put's"))  # fmt: skip
    command = next(
        line.partition("Shell command: ")[2]
        for line in text.splitlines()
        if "trivet.stages" in line and "read-" in line and "@SUM" in line
    )
    subprocess.run(["bash", "-c", command], cwd=work, check=True)
    assert output.read_bytes() == before


def test_no_text_of_the_archive_is_a_formula(results: Path) -> None:
    """No value of any table as text starts like a formula, numbers apart; names of columns too."""
    seen = 0
    for path in sorted((results / "archive" / "data").rglob("*.csv")):
        if "config" in path.parts or "raw" in path.parts:
            continue
        with path.open(encoding="utf-8", newline="") as file:
            for text in (text for row in csv.reader(file) for text in row):
                if text.startswith(FORMULA_STARTS):
                    float(text)
                seen += text.startswith("'")
    assert seen > 100


def test_the_archive_is_valid_by_outside_validators(bag: Path, tmp_path: Path) -> None:
    """A bag (bagit), a Workflow Run Crate 0.5 (roc-validator), tables as described (csvw)."""
    bagit.Bag(str(bag)).validate()
    assert unknown_terms(bag) == set()
    assert issues(bag, tmp_path / "cache") == []
    assert CSVW(str(bag / "data" / "tables" / "csv-metadata.json"), validate=True).is_valid


def test_verify_finds_nothing_then_a_flipped_bit(
    bag: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Status 0 for what was written; 1 after one bit of the report, which is named."""
    assert main(["verify", str(bag)]) == 0
    assert "Nothing differs." in capsys.readouterr().out
    content = bytearray((bag / "data" / "report.pdf").read_bytes())
    content[1000] ^= 1
    (bag / "data" / "report.pdf").write_bytes(content)
    assert main(["verify", str(bag)]) == 1
    printed = capsys.readouterr().out
    assert "  data/report.pdf: sha256: expected " in printed
    assert "1 difference found." in printed


def test_a_rerun_gives_the_same_tables_and_finds_a_changed_number(
    bag: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """From the raw files of the bag: all values equal but the one that was tampered with."""
    path = bag / "data" / "tables" / "cycles.parquet"
    table = pq.read_table(path)
    place = table.column_names.index("discharge_capacity_mAh")
    values = table.column(place).to_pylist()
    values[7] += 0.001
    pq.write_table(table.set_column(place, table.schema.field(place), pa.array(values)), path)
    before = {name: name.stat().st_mtime_ns for name in bag.rglob("*")}
    assert main(["rerun", str(bag), "--cores", "2"]) == 1
    printed = capsys.readouterr().out
    cell = table.column("cell")[7].as_py()
    assert f"data/tables/cycles.parquet: row 8 (cell {cell}, cycle 8), column" in printed
    assert "1 difference found." in printed
    assert before == {name: name.stat().st_mtime_ns for name in bag.rglob("*")}


def test_a_bag_of_checksums_can_not_be_rerun(bag: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status 2, and the message says which setting would have kept the files."""
    shutil.rmtree(bag / "data" / "raw")
    assert main(["rerun", str(bag)]) == 2
    printed = capsys.readouterr().err
    assert "holds only checksums of the raw files" in printed
    assert "archive.raw_files" in printed
