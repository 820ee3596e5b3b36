"""Odd things among raw files: each a finding that names the path, none a hang or a traceback."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from raw_files import PLAIN

from trivet.rawfiles.layout.patterns import find_files, unreachable_folders
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Layout, Raw, RawFiles
from trivet.stages.read import run

RAW = Raw(
    cycling=[RawFiles(files="raw/{cell}.csv", layout="plain")],
    layouts={"plain": Layout(columns=PLAIN)},
)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (os.mkfifo, "named pipe"),
        (lambda path: path.symlink_to("gone.csv"), "link to 'gone.csv'"),
        (lambda path: path.symlink_to(path.name), "symbolic links"),
        (lambda path: path.symlink_to("/dev/zero"), "device"),
    ],
    ids=["named pipe", "dangling link", "loop of links", "endless device"],
)
def test_what_is_no_file_is_a_finding_with_its_path(
    tmp_path: Path, make: Callable[[Path], None], said: str
) -> None:
    """The file is set aside at once, with its path and what stands there."""
    (tmp_path / "raw").mkdir()
    make(tmp_path / "raw" / "A.csv")
    found = run(
        facts=CellFacts("A", "1"), files=find_files(tmp_path, RAW, "A"), raw=RAW, time_zone="UTC"
    )
    rows = {row["check"]: row for row in found.findings.to_pylist()}
    assert rows["unreadable file"]["file"] == "raw/A.csv"
    assert said in rows["unreadable file"]["message"]


def test_a_linked_folder_is_named_and_becomes_a_finding(tmp_path: Path) -> None:
    """Data behind a link to a folder is not read, and that is said with the path of the link."""
    (tmp_path / "raw").mkdir()
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "raw" / "A").symlink_to("../elsewhere")
    folders = unreachable_folders(tmp_path, RAW)
    facts = CellFacts("A", "1", unreachable=folders)
    found = run(facts=facts, files=[], raw=RAW, time_zone="UTC")
    rows = {row["check"]: row for row in found.findings.to_pylist()}
    assert rows["unreachable folder"]["file"] == "raw/A"
    assert "link to '../elsewhere'" in rows["unreachable folder"]["message"]


def test_a_file_deleted_in_mid_run_is_a_finding(tmp_path: Path) -> None:
    """It was there when the run began, and is gone when its turn comes."""
    (tmp_path / "raw").mkdir()
    (tmp_path / "raw" / "A.csv").write_text("t,I,U\n0,1,3.2\n60,1,3.3\n", encoding="utf-8")
    files = find_files(tmp_path, RAW, "A")
    (tmp_path / "raw" / "A.csv").unlink()
    found = run(facts=CellFacts("A", "1"), files=files, raw=RAW, time_zone="UTC")
    rows = {row["check"]: row for row in found.findings.to_pylist()}
    assert rows["unreadable file"]["file"] == "raw/A.csv"
    assert "No such file" in rows["unreadable file"]["message"]
    assert rows["no data"]["severity"] == "fault"


def test_a_sparse_file_of_5_gb_is_a_finding(tmp_path: Path) -> None:
    """Rows, then a hole that a copy broken off left: nothing of it is held in memory."""
    (tmp_path / "raw").mkdir()
    path = tmp_path / "raw" / "A.csv"
    path.write_text("t,I,U\n0,1,3.2\n60,1,3.3\n", encoding="utf-8")
    os.truncate(path, 5 * 2**30)
    found = run(
        facts=CellFacts("A", "1"), files=find_files(tmp_path, RAW, "A"), raw=RAW, time_zone="UTC"
    )
    rows = {row["check"]: row for row in found.findings.to_pylist()}
    assert "it is sparse" in rows["unreadable file"]["message"]
