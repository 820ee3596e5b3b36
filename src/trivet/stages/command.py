"""The command of one job: `python -m trivet.stages --campaign=FOLDER -- RESULTS/jobs/STAGE.json`.

The file holds all that the job depends on besides tables: stage, settings, facts of the cell,
digests of source and data. The workflow writes it anew only where one of them changed.
"""

from __future__ import annotations

import argparse
import locale
import os
from collections.abc import Sequence
from pathlib import Path

from trivet.errors import CannotWriteError, end_told
from trivet.stages.job import carry_out, open_job
from trivet.store.lock import job_at_work
from trivet.store.room import told


def main(argv: Sequence[str] | None = None) -> None:
    """Read the file of a job, run its stage, write its tables.

    Raises
    ------
    SystemExit
        With status 2, where there is no room or no right to write, after that was said.
    """
    parser = argparse.ArgumentParser(prog="python -m trivet.stages", description="Run one job.")
    parser.add_argument("job", type=Path, help="file of the job, below jobs/ in the results")
    parser.add_argument("--campaign", type=Path, default=Path(), help="campaign folder")
    given = parser.parse_args(argv)
    _speak_no_language()
    try:
        with job_at_work(given.job.parent):
            carry_out(open_job(given.job, given.campaign))
    except CannotWriteError as error:
        end_told(error)
    except OSError as error:
        found = told(error, Path(error.filename or given.job.parent.parent))
        if found is None:
            raise
        end_told(found)


def _speak_no_language() -> None:
    """Leave the language of the surroundings: it would choose signs in the page (Turkish i)."""
    os.environ |= {"LC_ALL": "C.UTF-8", "LANGUAGE": ""}
    try:
        locale.setlocale(locale.LC_ALL, "C.UTF-8")
    except locale.Error:
        locale.setlocale(locale.LC_ALL, "C")
