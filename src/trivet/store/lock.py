"""One run of a campaign at a time: a lock that a dead process cannot leave behind.

The lock is the kernel's own, on a file of the results. It goes with the process that holds it,
however that ends, so that after a kill the same command takes up again. Jobs hold a second lock
together, so that a new run does not begin while jobs of a killed one still write.
"""

from __future__ import annotations

import fcntl
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from trivet.errors import InputError, Problem

_WAIT_S = 0.2
_HELD: list[IO[str]] = []
"""Files whose locks this process keeps until it ends."""


def hold_run(folder: Path) -> None:
    """Take the lock of a run, and wait for jobs that a killed run left at work.

    Parameters
    ----------
    folder : Path
        Folder of the files of the jobs.

    Raises
    ------
    InputError
        Another run of the campaign is at work; who holds it is said.
    """
    file = _open(folder / "run.lock")
    if not _taken(file, fcntl.LOCK_EX | fcntl.LOCK_NB):
        file.seek(0)
        who = file.read().strip() or "another process"
        message = f"another run of this campaign is at work: {who}."
        hint = "Wait until it has ended, or stop it; then give the same command again."
        raise InputError([Problem(str(folder.parent), message, hint=hint)])
    file.seek(0)
    file.truncate()
    file.write(f"process {os.getpid()} on {os.uname().nodename}")
    file.flush()
    _HELD.append(file)
    _wait_for_jobs(folder)


@contextmanager
def job_at_work(folder: Path) -> Iterator[None]:
    """Say that a job is at work, as long as it is or until this process ends.

    Parameters
    ----------
    folder : Path
        Folder of the files of the jobs.
    """
    with _open(folder / "jobs.lock") as file:
        _taken(file, fcntl.LOCK_SH)
        yield


def _wait_for_jobs(folder: Path) -> None:
    """Wait until no job of a run that was killed is at work any more."""
    with _open(folder / "jobs.lock") as file:
        said = False
        while not _taken(file, fcntl.LOCK_EX | fcntl.LOCK_NB):
            if not said:
                sys.stderr.write("waiting for jobs of a run that was stopped to end\n")
                said = True
            time.sleep(_WAIT_S)


def _open(path: Path) -> IO[str]:
    """Open a file for its lock; its content stays."""
    path.parent.mkdir(parents=True, exist_ok=True)
    return os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666), "r+")


def _taken(file: IO[str], how: int) -> bool:
    """Whether a lock was got; where the file system knows no locks, it always is."""
    try:
        fcntl.flock(file, how)
    except BlockingIOError:
        return False
    except OSError:
        # no locks on this file system: Snakemake's own files stand between two runs
        return True
    return True
