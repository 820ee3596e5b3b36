"""`trivet run`: from anywhere to the report, and on after a kill."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from campaign_runs import MEETING, demonstration

from trivet.cli.main import main

CELLS = ["c01", "c09", "c14"]
"""One of each seal, of few rows; the kills hit within seconds, whatever comes later."""


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three cells of the invented campaign."""
    folder = tmp_path_factory.mktemp("three") / "my campaign"
    return demonstration(folder, cells=CELLS, settings=MEETING)


def started(campaign: Path, work: Path) -> subprocess.Popen[str]:
    """A run in a process group of its own, in a folder that knows nothing of the program."""
    command = [sys.executable, "-m", "trivet.cli.main", "run", str(campaign), "--cores", "2"]
    return subprocess.Popen(
        command,
        cwd=work,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )


def tables_of(work: Path) -> dict[str, bytes]:
    """Every table of the results."""
    folder = work / "reports" / "demo" / "tables"
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_a_killed_run_is_taken_up_by_the_same_command(campaign: Path, tmp_path: Path) -> None:
    """Killed twice with all its jobs, the third run ends in the bytes of a run left in peace."""
    peace, killed = tmp_path / "peace", tmp_path / "killed"
    for folder in (peace, killed):
        folder.mkdir()
    calm = started(campaign, peace)
    printed = calm.communicate()[0]
    assert calm.returncode == 0, printed
    assert len(printed.splitlines()) <= 25, printed
    for wait_s in (4.0, 7.0):
        run = started(campaign, killed)
        time.sleep(wait_s)
        os.killpg(run.pid, signal.SIGKILL)
        run.communicate()
    last = started(campaign, killed)
    printed = last.communicate()[0]
    assert last.returncode == 0, printed
    assert tables_of(killed) == tables_of(peace)
    again = started(campaign, killed)
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
