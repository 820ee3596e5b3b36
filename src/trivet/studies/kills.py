"""Runs killed at any moment: the same command again ends in the bytes of a run left in peace.

Run as `python -m trivet.studies.kills [KILLS] [SEED]` from the folder that holds `config/demo`.
Four cells of the invented campaign are run in chains: each begins with no results, is killed with
all its jobs (SIGKILL) after a random time, started again, killed again, until it ends by itself;
then every file of its results is compared with that of a run left in peace.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from trivet.demo.make import keep_cells
from trivet.demo.make import main as make_demo

KILLS = 100
_CELLS = ("c01", "c02", "c09", "c10")
_SHEETS = ("build-sheet.csv", "bench-log.csv")
_MOST_IN_A_CHAIN = 8
ISSUED = "1767225600"
"""Time that stands in the register of reports for that of the clock [s]."""
_NOT_RESULTS = ("logs", "jobs")
"""What a run keeps for itself: seconds and memory of jobs, locks, checksums by time and inode."""


def main(arguments: list[str]) -> int:
    """Kill, start again, compare; print a line a chain.

    Parameters
    ----------
    arguments : list of str
        Number of kills and seed, both optional.

    Returns
    -------
    int
        0 where all results were the same, 1 otherwise.
    """
    kills = int(arguments[0]) if arguments else KILLS
    random = np.random.default_rng(int(arguments[1]) if len(arguments) > 1 else 1)
    with tempfile.TemporaryDirectory(prefix="trivet-kills-") as folder:
        campaign = few_cells(Path(folder), cells=_CELLS)
        began = time.monotonic()
        peace = Path(folder) / "peace"
        if _run(campaign, peace, None) != 0:
            print("the run left in peace failed")
            return 1
        longest_s = time.monotonic() - began
        wanted = digests(peace)
        print(f"{len(wanted)} files in {longest_s:.0f} s, left in peace")
        done = chains = bad = 0
        while done < kills:
            work = Path(folder) / f"chain-{chains}"
            killed, other = _chain(campaign, work, wanted, random, longest_s, kills - done)
            done, chains, bad = done + killed, chains + 1, bad + bool(other)
            told = ", ".join(other[:5]) if other else f"all {len(wanted)} files alike"
            print(f"chain {chains}: {killed} kills, {told}", flush=True)
            shutil.rmtree(work)
    print(f"{done} kills in {chains} chains; {bad} chains ended in other bytes")
    return int(bad > 0)


def few_cells(folder: Path, *, cells: Sequence[str]) -> Path:
    """Make a campaign of some cells of the invented one.

    Parameters
    ----------
    folder : Path
        Where it gets a folder of its own, `campaign`.
    cells : sequence of str
        Their names.
    """
    target = folder / "campaign"
    target.mkdir()
    for name in ("campaign.yaml", *_SHEETS):
        shutil.copyfile(Path("config/demo") / name, target / name)
    make_demo([str(target), "--cells", *cells])
    keep_cells(target, cells=cells)
    return target


def _run(campaign: Path, work: Path, kill_after_s: float | None) -> int | None:
    """Exit status of a run; None where it was killed."""
    work.mkdir(exist_ok=True)
    command = [sys.executable, "-m", "trivet.cli.main", "run", str(campaign)]
    started = subprocess.Popen(
        command,
        cwd=work,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
        env={**os.environ, "SOURCE_DATE_EPOCH": ISSUED},
    )
    try:
        return started.wait(timeout=kill_after_s)
    except subprocess.TimeoutExpired:
        os.killpg(started.pid, signal.SIGKILL)
        started.wait()
        return None


def _chain(
    campaign: Path,
    work: Path,
    wanted: dict[str, str],
    random: np.random.Generator,
    longest_s: float,
    most: int,
) -> tuple[int, list[str]]:
    """Kill a run again and again until it ends; how often, and the files that differ."""
    killed = 0
    status = None
    while status is None:
        spared = killed >= min(most, _MOST_IN_A_CHAIN)
        wait_s = None if spared else float(random.uniform(0.5, 0.6 * longest_s))
        status = _run(campaign, work, wait_s)
        killed += status is None
    if status != 0:
        return killed, [f"exit status {status}"]
    return killed, unlike(work, wanted)


def unlike(work: Path, wanted: Mapping[str, str]) -> list[str]:
    """Names of results that differ from those wanted, are missing, or are none of these.

    Parameters
    ----------
    work : Path
        Folder with `reports/demo`.
    wanted : mapping of str to str
        What `digests` gave of others.
    """
    found = digests(work)
    names = found.keys() | wanted.keys()
    return sorted(name for name in names if found.get(name) != wanted.get(name))


def digests(work: Path) -> dict[str, str]:
    """Checksum of every file of the results below a working folder, by its name.

    Parameters
    ----------
    work : Path
        Folder with `reports/demo`.
    """
    results = work / "reports" / "demo"
    return {
        str(path.relative_to(results)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(results.rglob("*"))
        if path.is_file()
        and path.relative_to(results).parts[0] not in _NOT_RESULTS
        and not path.name.startswith(".snakemake")
    }


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
