"""How time, memory and report grow from tens of cells to a thousand.

`python -m trivet.studies.scale 24 96 384 1000 --rows 100000` prints a line a campaign and the
exponent of growth. Each campaign is put together from as many seeds of the invented one as it
takes, its batches named apart, with rows put between those of the model until a cell has as many as
asked on average. A campaign of a thousand such cells takes 7 GB for raw files and as much again for
its results, and hours of a small machine.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO

import numpy as np
import pikepdf

from trivet.demo.make import write_raw, write_sheets
from trivet.demo.plan import CellPlan, plan_campaign
from trivet.demo.protocol import CellRun, simulate

_FIRST_SEED = 1


@dataclass(frozen=True)
class Scaled:
    """What a campaign of some size took.

    Attributes
    ----------
    cells, rows : int
        Cells of the build sheet; rows of all cycling files [1].
    raw_bytes : int
        Size of the raw files [B].
    processor_s, wall_s : float
        Processor time of a first run with all its jobs, and the time that passed [s].
    largest_job_bytes : int
        Largest memory that one process of it held [B].
    again_s : float
        Time that a second run took, with nothing to do [s].
    pages : int
        Pages of the report [1].
    pdf_bytes, page_bytes : int
        Sizes of the report and of the web page [B].
    """

    cells: int
    rows: int
    raw_bytes: int
    processor_s: float
    wall_s: float
    largest_job_bytes: int
    again_s: float
    pages: int
    pdf_bytes: int
    page_bytes: int


def plans_of(cells: int) -> Iterator[CellPlan]:
    """Plans of as many cells, from one invented campaign after the other.

    Parameters
    ----------
    cells : int
        How many cells [1].
    """
    made = 0
    seed = _FIRST_SEED
    while made < cells:
        for plan in plan_campaign(seed)[: cells - made]:
            made += 1
            yield replace(plan, cell=f"k{made:04d}", batch=f"{plan.batch}-{seed:02d}")
        seed += 1


def denser(run: CellRun, *, rows: int) -> CellRun:
    """The same run with rows put between its own, linear in between, at most to `rows`.

    Parameters
    ----------
    run : CellRun
        What happened to a cell.
    rows : int
        Rows wanted [1]; fewer than the run has: as it is.
    """
    parts = rows // run.time_s.size
    if parts < 2:
        return run
    own = np.arange(run.time_s.size)
    between = np.arange((own.size - 1) * parts + 1) / parts
    return replace(
        run,
        time_s=np.interp(between, own, run.time_s),
        current_mA=np.interp(between, own, run.current_mA),
        positive_V=np.interp(between, own, run.positive_V),
        negative_V=np.interp(between, own, run.negative_V),
        offset_V=np.interp(between, own, run.offset_V),
        cycle=run.cycle[np.floor(between).astype(np.int64)],
    )


def make_campaign(folder: Path, *, cells: int, rows: int) -> tuple[int, int]:
    """Write a campaign of so many cells with about so many rows each.

    Parameters
    ----------
    folder : Path
        Where to.
    cells, rows : int
        Cells, and rows of a cell on average [1].

    Returns
    -------
    tuple of (int, int)
        Rows of all cycling files [1], and bytes of all raw files [B].
    """
    listed: list[tuple[CellPlan, CellRun | None]] = []
    all_rows = written = 0
    for plan in plans_of(cells):
        run = simulate(plan)
        if run is not None:
            dense = denser(run, rows=rows)
            all_rows += dense.time_s.size
            written += write_raw(folder, run=dense)
        listed.append((plan, run))
    write_sheets(folder, runs=listed)
    return all_rows, written


def scaled(folder: Path, *, cells: int, rows: int) -> Scaled:
    """Make a campaign unless it was made before, run it twice, and measure.

    Parameters
    ----------
    folder : Path
        A folder of its own; a campaign that an earlier call made there is taken as it is.
    cells, rows : int
        Cells, and rows of a cell on average [1].
    """
    campaign, made = folder / "campaign", folder / "made.json"
    if not made.exists():
        size = make_campaign(campaign, cells=cells, rows=rows)
        made.write_text(json.dumps(size), encoding="utf-8")
    all_rows, raw_bytes = json.loads(made.read_text(encoding="utf-8"))
    shutil.rmtree(folder / "reports", ignore_errors=True)
    wall_s, processor_s, largest_bytes = _run(campaign, folder)
    again_s, _, _ = _run(campaign, folder)
    results = folder / "reports" / "demo"
    with pikepdf.open(results / "report.pdf") as document:
        pages = len(document.pages)
    return Scaled(
        cells=cells,
        rows=all_rows,
        raw_bytes=raw_bytes,
        processor_s=processor_s,
        wall_s=wall_s,
        largest_job_bytes=largest_bytes,
        again_s=again_s,
        pages=pages,
        pdf_bytes=(results / "report.pdf").stat().st_size,
        page_bytes=(results / "report.html").stat().st_size,
    )


def _run(campaign: Path, work: Path) -> tuple[float, float, int]:
    """Wall time [s], processor time [s] and largest memory of a process [B] of a run."""
    began = time.monotonic()
    with (work / "run.log").open("a+b") as log:
        usage = accounted("-m", "trivet.cli.main", "run", str(campaign), work=work, log=log)
    return time.monotonic() - began, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024


def accounted(
    *arguments: str, work: Path, log: IO[bytes], source: Path | None = None
) -> resource.struct_rusage:
    """Run Python to its end; what it took with all that it started.

    Parameters
    ----------
    *arguments : str
        What stands behind the name of the interpreter.
    work : Path
        Working folder.
    log : file
        What is printed goes to its end; open for reading too.
    source : Path or None
        Folder of the package that is run, where it is not this one.

    Raises
    ------
    RuntimeError
        It failed; the last that it printed is said.
    """
    started = subprocess.Popen(
        [sys.executable, *arguments],
        cwd=work,
        env=os.environ | ({"PYTHONPATH": str(source)} if source else {}),
        stdin=subprocess.DEVNULL,
        stdout=log,
        stderr=subprocess.STDOUT,
    )
    _, status, usage = os.wait4(started.pid, 0)
    started.returncode = os.waitstatus_to_exitcode(status)
    if started.returncode != 0:
        log.seek(0)
        told = log.read().decode("utf-8", errors="replace")[-2000:]
        raise RuntimeError(f"{' '.join(arguments)} ended with {started.returncode}:\n{told}")
    return usage


def table(measured: Sequence[Scaled]) -> Iterator[str]:
    """Lines of the table, and the exponent of growth between its first and last campaign.

    Parameters
    ----------
    measured : sequence of Scaled
        Campaigns, the smallest first.
    """
    yield (
        "| cells | rows, million | raw files, MB | processor s | wall s | largest job, MiB "
        "| second run, s | pages | PDF, MB | web page, MB |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|"
    for one in measured:
        yield (
            f"| {one.cells:,} | {one.rows / 1e6:.1f} | {one.raw_bytes / 1e6:,.0f} "
            f"| {one.processor_s:,.0f} | {one.wall_s:,.0f} "
            f"| {one.largest_job_bytes / 2**20:,.0f} | {one.again_s:.1f} | {one.pages} "
            f"| {one.pdf_bytes / 1e6:.1f} | {one.page_bytes / 1e6:.1f} |"
        )
    first, last = measured[0], measured[-1]
    if last.cells > first.cells:
        exponent = np.log(last.processor_s / first.processor_s) / np.log(last.cells / first.cells)
        yield ""
        yield (
            f"Processor time grows with the number of cells to the power {exponent:.2f}, from "
            f"{first.cells:,} to {last.cells:,} cells."
        )


def main(argv: Sequence[str] | None = None) -> None:
    """Make, run and measure campaigns of growing size; print the table.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("cells", type=int, nargs="*", default=[24, 96, 384, 1000])
    parser.add_argument("--rows", type=int, default=100_000, help="rows of a cell on average")
    parser.add_argument("--keep", type=Path, help="a folder that keeps campaigns and results")
    given = parser.parse_args(argv)
    measured = []
    for cells in sorted(given.cells):
        with tempfile.TemporaryDirectory(prefix="trivet-scale-") as made:
            folder = given.keep / str(cells) if given.keep else Path(made)
            folder.mkdir(parents=True, exist_ok=True)
            measured.append(scaled(folder, cells=cells, rows=given.rows))
        print(measured[-1], file=sys.stderr, flush=True)
    for line in table(measured):
        print(line)


if __name__ == "__main__":
    main()
