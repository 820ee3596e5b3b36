"""Running whole campaigns in tests: what to call, and what Snakemake would do."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from trivet.demo.make import keep_cells
from trivet.demo.make import main as make_demo
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table

ROOT = Path(__file__).resolve().parents[1]


def snakemake(
    work: Path, *arguments: str, cores: int = 2, config: tuple[str, ...] = ()
) -> subprocess.CompletedProcess[str]:
    """Run Snakemake in a working folder that holds `campaign/` and takes `reports/`."""
    command = [
        sys.executable, "-m", "snakemake", "--snakefile", str(ROOT / "Snakefile"),
        "--cores", str(cores), *arguments, "--config", "campaign=campaign", "reports=reports",
        *config,
    ]  # fmt: skip
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
    command = [
        sys.executable, "-m", "snakemake", "--snakefile", str(ROOT / "Snakefile"),
        "--cores", "2", *arguments, "--config", f"campaign={campaign}", f"reports={reports}",
    ]  # fmt: skip
    done = subprocess.run(
        command, cwd=work, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )
    if done.returncode:
        raise AssertionError((done.stderr + done.stdout)[-4000:])
    return done.stderr + done.stdout


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


def demonstration(work: Path, *, cells: Sequence[str] = ()) -> Path:
    """Make the campaign folder of the demonstration below a folder: all of its cells, or some."""
    campaign = work / "campaign"
    campaign.mkdir()
    for name in ("campaign.yaml", "build-sheet.csv", "bench-log.csv"):
        shutil.copyfile(ROOT / "config" / "demo" / name, campaign / name)
    make_demo([str(campaign)])
    if cells:
        keep_cells(campaign, cells=cells)
    return campaign
