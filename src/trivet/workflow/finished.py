"""Whether a run would find nothing to do, told without Snakemake.

A run that has ended well leaves a note of the files that stood then: those of its jobs, which say
all that a job depends on besides tables, and all that the jobs wrote. While each of them has the
size, times and inode it had, and the files of the jobs would be written as they are, there is
nothing to do. Whatever else is found, Snakemake decides.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

from trivet.stages.contract import STAGES
from trivet.store.checksums import sha256
from trivet.workflow.handover import RULES
from trivet.workflow.job_files import write_if_other
from trivet.workflow.run import Workflow


def stands(work: Workflow) -> bool:
    """Whether all results of a campaign stand as a finished run left them, and are still right.

    What is read of raw files to tell is kept for the run that follows.

    Parameters
    ----------
    work : Workflow
        The campaign as it is now.
    """
    if not work.jobs.are_of(work.folder):
        return False
    same = work.jobs.hold_already(work.wanted())
    work.keep()
    noted = _noted(work)
    return same and bool(noted) and noted == _state(work)


def note(work: Workflow) -> None:
    """Write down how the results of a run that ended well stand.

    Parameters
    ----------
    work : Workflow
        The campaign as it was when the run began: what changed since is seen by the next.
    """
    state = _state(work)
    if state:
        write_if_other(_note_of(work), state.encode() + b"\n")


def _note_of(work: Workflow) -> Path:
    """Where the note lies."""
    return work.jobs.folder / "finished.txt"


def _noted(work: Workflow) -> str:
    """What the last finished run left; empty where none did."""
    try:
        return _note_of(work).read_text(encoding="utf-8").strip()
    except (OSError, ValueError):
        return ""


def _state(work: Workflow) -> str:
    """Digest of how the files of jobs and results stand; empty where one of them is missing."""
    digest = hashlib.sha256(json.dumps([work.params, sha256(RULES)], sort_keys=True).encode())
    for path in _files(work):
        try:
            found = path.stat()
        except OSError:
            return ""
        marks = (found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino)
        digest.update(f"{path.relative_to(work.reports)} {marks}\n".encode())
    return digest.hexdigest()


def _files(work: Workflow) -> Iterator[Path]:
    """Files of the jobs and what they write, one after the other."""
    for stage in STAGES.values():
        if stage.on_request:
            continue
        written = [work.job(stage.name), *work.writes(stage.name).values()]
        if not stage.of_cell:
            yield from written
            continue
        for cell in work.cells_read:
            yield from (Path(str(path).replace("{cell}", cell)) for path in written)
    yield from work.texts()
    for name in ("report", "archive"):
        yield work.jobs.made(name)
