"""The command line: what it prints, and its exit status."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.cli import machine
from trivet.cli.main import main


def test_check_says_what_a_run_would_be_made_of(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A right folder ends with 0 and counts of cells, batches, variants and files."""
    (campaign_folder / "raw" / "A2.csv").unlink()
    assert main(["check", str(campaign_folder)]) == 0
    printed = capsys.readouterr().out
    assert "cells: 2, of which 2 count" in printed
    assert "seal: plain 1, bead 1" in printed
    assert "cells without any raw file: A2" in printed


def test_check_refuses_wrong_input_with_status_2(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Problems go to the error stream, and the status is 2."""
    sheet = campaign_folder / "build-sheet.csv"
    sheet.write_text(sheet.read_text(encoding="utf-8").replace("A2,A", "A2,"), encoding="utf-8")
    assert main(["check", str(campaign_folder)]) == 2
    assert "build-sheet.csv, line 3" in capsys.readouterr().err


def test_a_campaign_without_any_raw_file_is_refused(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No raw file at all is a wrong pattern, not a campaign; the message says where it looked."""
    for path in (campaign_folder / "raw").iterdir():
        path.unlink()
    assert main(["check", str(campaign_folder)]) == 2
    assert "no cell has any raw file; looked for 'raw/{cell}.csv'" in capsys.readouterr().err


def test_a_new_campaign_lacks_only_its_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What `trivet new` writes is right but for the raw files, and right with them."""
    folder = tmp_path / "mine"
    assert main(["new", str(folder)]) == 0
    assert main(["check", str(folder)]) == 2
    problems = [line for line in capsys.readouterr().err.splitlines() if line.startswith("  ")]
    assert len(problems) == 1
    (folder / "raw" / "cycling" / "A01.csv").write_text("x", encoding="utf-8")
    assert main(["check", str(folder)]) == 0


def test_new_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that has a campaign is left as it is."""
    assert main(["new", str(tmp_path)]) == 0
    (tmp_path / "campaign.yaml").write_text("mine", encoding="utf-8")
    assert main(["new", str(tmp_path)]) == 2
    assert "it is not overwritten" in capsys.readouterr().err
    assert (tmp_path / "campaign.yaml").read_text(encoding="utf-8") == "mine"


def test_a_lacking_machine_is_told_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """An old Python and missing libraries are named with the command that mends them."""
    monkeypatch.setattr(machine, "MINIMUM_PYTHON", (99, 0))
    monkeypatch.setattr(machine, "LIBRARIES", {"libnone.so.9": "libnone9"})
    found = machine.problems()
    assert any("Python 99.0 or newer is needed" in problem for problem in found)
    assert any("apt-get install libnone9" in problem for problem in found)
