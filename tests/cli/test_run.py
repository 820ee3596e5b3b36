"""`trivet run`: from anywhere to the report, and on after a kill."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from trivet.cli.main import main


@pytest.fixture
def campaign(four_cells: Path, tmp_path: Path) -> Path:
    """The campaign of the four cells by itself, in a folder with a space."""
    return Path(shutil.copytree(four_cells / "campaign", tmp_path / "my campaign"))


TURKISH = {"LC_ALL": "", **dict.fromkeys(("LANG", "LANGUAGE", "PANGO_LANGUAGE"), "tr_TR.UTF-8")}


def started(campaign: Path, work: Path, **surroundings: str) -> subprocess.Popen[str]:
    """A run in a process group of its own, in a folder that knows nothing of the program."""
    command = [sys.executable, "-m", "trivet.cli.main", "run", str(campaign), "--cores", "2"]
    return subprocess.Popen(
        command,
        cwd=work,
        env=os.environ | surroundings,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )


def results_of(work: Path) -> dict[str, bytes]:
    """Every file of the results but what Snakemake and the jobs note of themselves."""
    folder = work / "reports" / "demo"
    paths = [path.relative_to(folder) for path in sorted(folder.rglob("*")) if path.is_file()]
    return {path.as_posix(): (folder / path).read_bytes()
            for path in paths if not {"logs", "jobs"} & set(path.parts)}  # fmt: skip


def test_a_killed_run_is_taken_up_by_the_same_command(
    four_cells: Path, campaign: Path, tmp_path: Path
) -> None:
    """Killed with all its jobs, a second run ends in the bytes of a run left in peace.

    Every table, figure, the PDF and the archive: this one has two cores and a Turkish user, that
    one had one, and was started by Snakemake itself.
    """
    work = tmp_path / "killed"
    work.mkdir()
    run = started(campaign, work, **TURKISH)
    time.sleep(7.0)
    os.killpg(run.pid, signal.SIGKILL)
    run.communicate()
    last = started(campaign, work, **TURKISH)
    printed = last.communicate()[0]
    assert last.returncode == 0, printed
    assert len(printed.splitlines()) <= 25, printed
    found, expected = results_of(work), results_of(four_cells)
    assert set(found) == set(expected)
    assert [name for name in expected if found[name] != expected[name]] == []
    assert len(expected) > 100
    again = started(campaign, work)
    printed = again.communicate()[0]
    assert "verdict:" in printed, printed
    assert "report.pdf" in printed, printed
    assert (again.returncode, "% done" in printed) == (0, False)


def test_a_second_run_at_once_is_told_who_is_at_work(campaign: Path, tmp_path: Path) -> None:
    """Two runs of one campaign would write over each other: the second is refused with 2."""
    first = started(campaign, tmp_path)
    lock = tmp_path / "reports" / "demo" / "jobs" / "run.lock"
    for _ in range(200):
        if lock.exists() and lock.read_text(encoding="utf-8"):
            break
        time.sleep(0.1)
    second = started(campaign, tmp_path)
    printed = second.communicate()[0]
    os.killpg(first.pid, signal.SIGKILL)
    first.communicate()
    assert second.returncode != 0
    assert "another run of this campaign is at work: process" in printed


def test_a_folder_without_a_campaign_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The missing file is named, and what makes one."""
    assert main(["run", str(tmp_path / "nothing")]) == 2
    said = capsys.readouterr().err
    assert "campaign.yaml: is missing" in said
    assert "trivet new" in said
