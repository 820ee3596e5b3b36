"""The command line: what it prints, and its exit status."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from trivet.cli import machine
from trivet.cli.main import main
from trivet.cli.summary import print_summary


def test_check_says_what_a_run_would_be_made_of(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A right folder ends with 0 and counts of cells, batches, variants and files."""
    assert main(["check", str(campaign_folder)]) == 0
    printed = capsys.readouterr().out
    assert "cells: 2, of which 2 count" in printed
    assert "seal: plain 1, bead 1" in printed
    assert "raw files: cycling 2" in printed


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
    head = "Date,Time/h,Current/mA,Voltage/V,Positive/V,Negative/V\n"
    for cell, volt in (("A01", "3.2"), ("A02", "3.3")):
        row = f"04.03.2026 10:00:00,0,1,{volt},3.4,0.2\n"
        (folder / "raw" / "cycling" / f"{cell}.csv").write_text(head + row, encoding="utf-8")
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


def test_help_lists_every_command_and_every_exit_status(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What a new user sees first: all commands, and what status 0, 1 and 2 mean."""
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    printed = capsys.readouterr().out
    for name in ("new", "check", "summary", "layout", "verify", "rerun"):
        assert f"\n    {name} " in printed
        with pytest.raises(SystemExit):
            main([name, "--help"])
        assert "xit status" in " ".join(capsys.readouterr().out.split())
    for status in ("  0  ", "  1  ", "  2  "):
        assert status in printed


@pytest.mark.parametrize("command", ["verify", "rerun", "summary"])
def test_what_is_no_archive_is_refused(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An empty folder: status 2, and the message says which folder is wanted."""
    assert main([command, str(tmp_path)]) == 2
    assert "reports/<id>" in capsys.readouterr().err


def test_a_summary_shows_verdicts_and_no_escape_sequence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Verdicts with counts and p, references not to trust; what steers a terminal is shown."""
    contrast = {"factor": "seal", "endpoint": "cell", "clock": "hours", "group": "bead",
                "control": "plain", "verdict": "inconclusive", "events": 2, "cells": 6,
                "control_events": 5, "control_cells": 6,
                "p": 0.0123, "p_adjusted": 0.02468}  # fmt: skip
    found = {"title": "Seals\x1b[2J", "campaign": "seals", "data_cut": "2026-05-15 (as set)",
             "interim": True, "invented": False, "findings": {"note": 3},
             "cells": {"built": 12, "included": 12, "status": {"running": 5}},
             "references": {"A1": "trusted", "A2": "lost"},
             "verdicts": [contrast, {**contrast, "verdict": ""}]}  # fmt: skip
    (tmp_path / "summary.json").write_text(json.dumps(found), encoding="utf-8")
    assert main(["summary", str(tmp_path)]) == 0
    printed = capsys.readouterr().out
    assert (
        "bead against plain: inconclusive (2 of 6 ended against 5 of 6, p 0.025 over all contrasts)"
        in printed
    )
    assert printed.count("verdict:") == 1
    assert "references not to trust: A2 lost" in printed
    assert "findings: fault 0, caution 0, note 3" in printed
    assert "Verdicts are interim." in printed
    assert "Seals\\x1b[2J" in printed
    faults = [{"cell": cell, "message": f"{cell} is off {n}."}
              for n, cell in enumerate(("A1", "A1", "A2", "A3", "A4", "A5", "A4"))]  # fmt: skip
    (tmp_path / "summary.json").write_text(json.dumps(found | {"faults": faults}), encoding="utf-8")
    assert main(["summary", str(tmp_path)]) == 0
    told = [line for line in capsys.readouterr().out.splitlines() if "fault:" in line]
    assert [line.split()[1] for line in told] == ["A1:", "A2:", "A3:"]
    assert told[-1].endswith("A3 is off 3. More in the report: A4, A5.")


def test_a_summary_that_can_not_be_read_does_not_fail_a_run(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """At the end of a run such a file is named on the error stream, and none is no fault."""
    print_summary(tmp_path)
    assert capsys.readouterr() == ("", "")
    (tmp_path / "summary.json").write_text("{}", encoding="utf-8")
    print_summary(tmp_path)
    assert "is no summary" in capsys.readouterr().err
