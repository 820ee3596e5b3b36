"""What Snakemake is told, so that exactly what must rerun reruns."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

import trivet
import trivet.stages
from trivet.errors import InputError
from trivet.schema import cell_facts
from trivet.workflow.run import Workflow, open_workflow
from trivet.workflow.source_digest import SourceFiles

PACKAGE = Path(trivet.__path__[0])


@pytest.fixture
def work(campaign_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Workflow:
    """The small campaign as Snakemake sees it."""
    monkeypatch.chdir(campaign_folder.parent)
    return Workflow({"campaign": "campaign", "reports": "out"}, Path("config/demo"))


def test_a_stage_sees_its_settings_and_no_others(work: Workflow) -> None:
    """A changed title reruns no cell: the stages of a cell do not see it."""
    for stage in ("read", "cycling", "impedance", "lifetime", "survival"):
        assert "A trial" not in json.dumps(work.settings(stage))
    assert work.settings("report")["campaign"]["title"] == "A trial"
    assert set(work.settings("read")) == {"raw", "campaign", "cycling"}


def test_a_cell_is_told_of_itself_only(work: Workflow) -> None:
    """A log entry of one cell changes the command of that cell's stages, not of others."""
    assert work.cell_facts("cycling", "A1")["log"][0]["event"] == "plated"
    assert work.cell_facts("cycling", "A2")["log"] == []
    assert "log" not in work.cell_facts("read", "A1")


@pytest.mark.parametrize("stage", ["cycling", "impedance"])
def test_stages_of_a_cell_are_told_of_each_event_that_their_code_knows(stage: str) -> None:
    """An event that a stage asks for and is never told of would be heard in tests alone."""
    folder = Path(trivet.stages.__path__[0]) / stage
    source = "".join(path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.py")))
    words = {
        ".leads_exchanged": [cell_facts.LEADS_EXCHANGED],
        " PLATINGS": cell_facts.PLATINGS,
        " REFERENCE_CHECKED": [cell_facts.REFERENCE_CHECKED],
        " CONTACT_FAULT": [cell_facts.CONTACT_FAULT],
    }
    asked = {event for word, events in words.items() if word in source for event in events}
    assert asked == set(cell_facts.HEARD[stage])


def test_a_line_with_its_first_values_only_is_a_line_of_the_log(
    work: Workflow, campaign_folder: Path
) -> None:
    """The line that a finding gives has three values, whatever further columns the log has."""
    with (campaign_folder / "bench-log.csv").open("a", encoding="utf-8") as log:
        log.write("2026-01-19T19:48+00:00,A2,leads exchanged\n")
    told = Workflow({"campaign": campaign_folder, "reports": "out"}, Path())
    for stage in ("cycling", "impedance"):
        assert [entry["event"] for entry in told.cell_facts(stage, "A2")["log"]] == [
            "leads exchanged"
        ]


def test_raw_digest_follows_content_not_dates(work: Workflow, campaign_folder: Path) -> None:
    """A touched file changes nothing; a changed, new or deleted one does."""
    config = {"campaign": campaign_folder, "reports": "out"}
    path = campaign_folder / "raw" / "A1.csv"
    before = work.raw_digest("A1")
    path.touch()
    assert Workflow(config, Path()).raw_digest("A1") == before
    path.write_text(path.read_text(encoding="utf-8") + "120,3.2,0.001\n", encoding="utf-8")
    changed = Workflow(config, Path())
    longer = changed.raw_digest("A1")
    assert longer != before
    assert changed.raw_digest("A2") == work.raw_digest("A2")
    path.unlink()
    gone = Workflow(config, Path())
    assert gone.raw_digest("A1") not in (before, longer)
    assert gone.raw_files("A1") == []


def test_the_same_file_in_two_cells_is_told_to_both(work: Workflow, campaign_folder: Path) -> None:
    """Content decides, not names; once the files differ, neither cell has a twin."""
    path = campaign_folder / "raw" / "A2.csv"
    path.write_bytes((campaign_folder / "raw" / "A1.csv").read_bytes())
    assert work.twins("A1") == {"raw/A1.csv": "A2: raw/A2.csv"}
    assert work.cell_facts("read", "A2")["twins"] == {"raw/A2.csv": "A1: raw/A1.csv"}
    path.write_text(path.read_text(encoding="utf-8") + "120,3.2,0.001\n", encoding="utf-8")
    changed = Workflow({"campaign": campaign_folder, "reports": "out"}, Path())
    assert (changed.twins("A1"), changed.twins("A2")) == ({}, {})


def test_the_command_line_may_set_the_data_cut(campaign_folder: Path) -> None:
    """`--config data_cut=...` wins over the file."""
    config = {"campaign": campaign_folder, "data_cut": "2026-05-15"}
    assert Workflow(config, Path()).campaign.settings.campaign.data_cut == "2026-05-15"


def test_an_unknown_option_is_refused_with_its_near_name(campaign_folder: Path) -> None:
    """A misspelt option is not ignored."""
    with pytest.raises(InputError, match="Did you mean 'reports'"):
        Workflow({"campaign": campaign_folder, "report": "x"}, Path())


def test_wrong_input_ends_with_status_2(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the Snakefile calls prints the problems and ends with 2, before any job."""
    (campaign_folder / "campaign.yaml").write_text("campaign: 1\n", encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        open_workflow({"campaign": campaign_folder}, Path())
    assert ended.value.code == 2
    assert "campaign.yaml, line 1" in capsys.readouterr().err


def test_a_changed_source_changes_just_the_stages_made_of_it(tmp_path: Path) -> None:
    """Imports are followed, by name too: a check is part of cycling, a template of report."""
    copy = tmp_path / "trivet"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    stages = {
        "read": "trivet.stages.read",
        "cycling": "trivet.stages.cycling.stage",
        "survival": "trivet.stages.survival.stage",
        "report": "trivet.stages.report",
    }

    def digests() -> dict[str, str]:
        """Digest by stage, with what an earlier look kept."""
        sources = SourceFiles(tmp_path / "sources.json", copy)
        found = {stage: sources.digest(module) for stage, module in stages.items()}
        sources.keep()
        return found

    before = digests()
    with (copy / "science" / "cycling" / "integrals.py").open("a", encoding="utf-8") as file:
        file.write("# a change\n")
    after = digests()
    assert [stage for stage in stages if before[stage] != after[stage]] == ["cycling"]
    with (copy / "science" / "reference" / "checks" / "drift.py").open("a") as file:
        file.write("# a change of a module that is imported by its name\n")
    before, after = after, digests()
    assert [stage for stage in stages if before[stage] != after[stage]] == ["cycling"]
    (copy / "report" / "templates" / "new.txt").write_text("x", encoding="utf-8")
    last = digests()
    assert [stage for stage in stages if after[stage] != last[stage]] == ["report"]
