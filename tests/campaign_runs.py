"""Running whole campaigns in tests: what to call, and what Snakemake would do."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from imported_once import called

from trivet.demo.make import keep_cells
from trivet.demo.make import main as make_demo
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import STAGES
from trivet.stages.job import Job, carry_out, open_job
from trivet.store.tables import read_table
from trivet.workflow.handover import SCHEDULER
from trivet.workflow.run import Workflow

ROOT = Path(__file__).resolve().parents[1]
FOUR = ("c01", "c02", "c10", "c11")
"""Cells of the demonstration for runs where all 24 prove no more."""


def snakemake(
    work: Path, *arguments: str, cores: int = 2, config: tuple[str, ...] = ()
) -> subprocess.CompletedProcess[str]:
    """Run Snakemake in a working folder that holds `campaign/` and takes `reports/`."""
    options = ("campaign=campaign", "reports=reports", *config)
    return _called(work, "--cores", str(cores), *arguments, "--config", *options)


def _called(work: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Call Snakemake, for a run as people do; what runs nothing spares its imports."""
    given = ["--snakefile", str(ROOT / "Snakefile"), *SCHEDULER, *arguments]
    if {"--dry-run", "--lint"} & set(arguments):
        return called(given, work)
    command = [sys.executable, "-m", "snakemake", *given]
    return subprocess.run(
        command, cwd=work, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )


def run(work: Path, *arguments: str, cores: int = 2, config: tuple[str, ...] = ()) -> str:
    """Run to the end; what was printed. A failed run fails the test with the logs."""
    done = snakemake(work, *arguments, cores=cores, config=config)
    if done.returncode:
        logs = [path.read_text() for path in sorted(work.glob("reports/*/logs/*.log"))]
        raise AssertionError(done.stderr[-4000:] + "".join(text for text in logs if text)[-4000:])
    return done.stdout + done.stderr


def run_in(work: Path, *arguments: str, campaign: Path, reports: Path) -> str:
    """Run a campaign that lies anywhere, its results anywhere; what was printed."""
    options = (f"campaign={campaign}", f"reports={reports}")
    done = _called(work, "--cores", "2", *arguments, "--config", *options)
    if done.returncode:
        raise AssertionError((done.stderr + done.stdout)[-4000:])
    return done.stderr + done.stdout


def run_here(
    campaign: Path, reports: Path, *, without: Sequence[str] = (), **options: str
) -> Iterator[Job]:
    """Run each job in this process as its command does, one after the other, and give it.

    To start a process for each takes longer than their work. That Snakemake starts them rightly is
    shown with four cells.
    """
    workflow = Workflow({"campaign": str(campaign), "reports": str(reports), **options}, campaign)
    workflow.prepare()
    for stage in STAGES.values():
        if stage.on_request or stage.name in without:
            continue
        cells = [f"-{cell}" for cell in workflow.cells_read] if stage.of_cell else [""]
        for name in (f"{stage.name}{cell}" for cell in cells):
            job = open_job(workflow.jobs.path(name), campaign)
            carry_out(job)
            # what Snakemake noted of an earlier run's time counts among its results
            (workflow.reports / "logs" / f"{name}.tsv").unlink(missing_ok=True)
            if stage.name in ("report", "archive"):
                workflow.jobs.made(stage.name).touch()  # as their rules do
            yield job


def planned(work: Path) -> list[tuple[str, str]]:
    """Jobs that a run would do: rule and cell, without `all`."""
    text = run(work, "--dry-run")
    blocks = re.split(r"\n *(?:local)?rule (\w+):", "\n" + text)
    jobs = []
    for rule, body in zip(blocks[1::2], blocks[2::2], strict=True):
        cell = re.search(r"wildcards: cell=(\S+)", body)
        if rule not in ("all", "campaign"):
            jobs.append((rule, cell.group(1) if cell else ""))
    return jobs


def copied(work: Path, target: Path) -> Path:
    """Give a copy of a working folder with the dates of its files and Snakemake's memory."""
    shutil.copytree(work, target)
    return target


def rows(work: Path, name: str) -> list[dict[str, object]]:
    """Rows of a result."""
    path = work / "reports" / "demo" / "tables" / f"{name}.parquet"
    return read_table(TABLES[name], path).to_pylist()


MEETING = "report: {part: meeting}\n"
"""Settings of a report without its appendix, which takes half as long; figures are all drawn."""


def demonstration(work: Path, *, cells: Sequence[str] = (), settings: str = "") -> Path:
    """Make the campaign folder of the demonstration below a folder.

    All of its cells with their truth, or some without it; further settings as text.
    """
    campaign = work / "campaign"
    make_campaign(campaign, cells=cells)
    path = campaign / "campaign.yaml"
    path.write_text(path.read_text(encoding="utf-8") + settings, encoding="utf-8")
    return campaign


def make_campaign(folder: Path, *, cells: Sequence[str] = ()) -> None:
    """Make the campaign folder of the demonstration: all of its cells, or some."""
    folder.mkdir(parents=True)
    for name in ("campaign.yaml", "build-sheet.csv", "bench-log.csv"):
        shutil.copyfile(ROOT / "config" / "demo" / name, folder / name)
    make_demo([str(folder), *(("--cells", *cells) if cells else ())])
    if cells:
        keep_cells(folder, cells=cells)
