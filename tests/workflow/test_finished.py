"""Whether a run would find nothing to do: told from what lies there, and never wrongly yes."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from trivet.stages.contract import STAGES
from trivet.workflow.finished import note, stands
from trivet.workflow.run import Workflow


@pytest.fixture
def look(campaign_folder: Path) -> Callable[[], Workflow]:
    """The campaign of two cells as it is now."""
    config = {"campaign": str(campaign_folder), "reports": str(campaign_folder.parent / "reports")}
    return lambda: Workflow(config, Path())


def written(work: Workflow) -> list[Path]:
    """All files that a run writes, by the contract of its stages."""
    paths = [*work.texts(), work.jobs.made("report"), work.jobs.made("archive")]
    for stage in STAGES.values():
        cells = work.cells_read if stage.of_cell else ("",)
        own = [] if stage.on_request else list(work.writes(stage.name).values())
        paths += [Path(str(path).replace("{cell}", cell)) for path in own for cell in cells]
    return paths


@pytest.fixture
def finished(look: Callable[[], Workflow]) -> Workflow:
    """The campaign after a run: files of jobs, every result, and the note."""
    work = look()
    work.prepare()
    for path in written(work):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("a result", encoding="utf-8")
    note(work)
    return work


def test_a_finished_run_stands(look: Callable[[], Workflow], finished: Workflow) -> None:
    """Nothing is to be done, however often one asks; a raw file of another date is the same."""
    assert stands(look())
    os.utime(finished.raw_files("A1")[0])
    assert stands(look())


def test_before_any_run_nothing_stands(look: Callable[[], Workflow]) -> None:
    """A campaign without results, and one whose note is missing, are Snakemake's."""
    work = look()
    assert not stands(work)
    note(work)
    assert not stands(look())


def test_every_result_counts(look: Callable[[], Workflow], finished: Workflow) -> None:
    """Another date of any file that a run writes changes the note; without one there is none."""
    noted = finished.jobs.folder / "finished.txt"
    for path in written(finished):
        before, state = noted.read_bytes(), path.stat()
        os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns + 1))
        note(finished)
        assert noted.read_bytes() != before, path
    assert stands(look())
    os.utime(path)
    assert not stands(look())
    noted.unlink()
    path.unlink()
    note(finished)
    assert not noted.exists()


@pytest.mark.parametrize("what", ["setting", "sheet", "log", "raw file", "new raw file", "job"])
def test_every_input_counts(
    what: str, look: Callable[[], Workflow], finished: Workflow, campaign_folder: Path
) -> None:
    """A changed setting, sheet, bench log or raw file, or one more of these, is something to do."""
    path = {
        "setting": campaign_folder / "campaign.yaml",
        "sheet": campaign_folder / "build-sheet.csv",
        "log": campaign_folder / "bench-log.csv",
        "raw file": finished.raw_files("A1")[0],
        "new raw file": campaign_folder / "raw" / "A2.csv",
        "job": finished.jobs.path("survival"),
    }[what]
    changes = {
        "setting": ("upper_voltage_V: 3.65", "upper_voltage_V: 3.64"),
        "sheet": ("10:10", "10:11"),
        "log": ("0.03", "0.04"),
        "raw file": ("3.1", "3.2"),
        "job": ('"stage"', '"Stage"'),
    }
    if what == "new raw file":
        path.unlink()
    else:
        text = path.read_text(encoding="utf-8")
        assert changes[what][0] in text
        path.write_text(text.replace(*changes[what]), encoding="utf-8")
    assert not stands(look())


def test_a_damaged_note_says_nothing(look: Callable[[], Workflow], finished: Workflow) -> None:
    """A note that can't be read, is empty or is another is none."""
    path = finished.jobs.folder / "finished.txt"
    for content in (b"\xff\xfe", b"", b"0" * 64):
        path.write_bytes(content)
        assert not stands(look())
