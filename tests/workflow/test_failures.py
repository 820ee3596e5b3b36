"""What a failed run ends with: what each failed job said last, and a disk that is full."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trivet.workflow import failures as module
from trivet.workflow.failures import failures


@pytest.fixture
def results(tmp_path: Path) -> Path:
    """Logs of an earlier run and of this one, which began at 1000 s."""
    logs = tmp_path / "logs"
    logs.mkdir()
    for name, text, at_s in (
        ("read-c01", "", 1500),
        ("read-c02", "old trouble\n", 500),
        ("cycling-c03", "Traceback ...\n  line\nValueError: no such cycle\n", 1500),
        ("report", "report.pdf: can't be written: No space left on device.\n", 1600),
    ):
        path = logs / f"{name}.log"
        path.write_text(text, encoding="utf-8")
        os.utime(path, (at_s, at_s))
    return tmp_path


def test_each_failed_job_of_this_run_is_told(results: Path) -> None:
    """The last line of each, and where the rest is; no job that said nothing, none of before."""
    said = list(failures(results, since_s=1000.0))
    assert said == [
        "The run did not come to its end.",
        f"  cycling-c03: ValueError: no such cycle (all of it: {results}/logs/cycling-c03.log)",
        "  report: report.pdf: can't be written: No space left on device.",
    ]


def test_many_are_counted(results: Path) -> None:
    """Six are told, the others counted."""
    for number in range(20):
        (results / "logs" / f"read-x{number:02d}.log").write_text("oh\n", encoding="utf-8")
    said = list(failures(results, since_s=1000.0))
    assert len(said) == 8
    assert said[-1] == f"  16 more in {results}/logs"


def test_a_full_disk_is_told_though_no_job_could_say_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Logs lie on the same disk: what is free is looked up afterwards."""
    assert list(failures(tmp_path, since_s=0.0)) == []
    monkeypatch.setattr(module, "is_full", lambda _: True)
    said = list(failures(tmp_path, since_s=0.0))
    assert "the disk is full; free there: " in said[-1]
    assert "goes on where this run ended" in said[-1]
