"""`trivet run`: a campaign from its folder to its report, from anywhere, taken up after a kill."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

from trivet.campaign.paths import SETTINGS_FILE
from trivet.cli.summary import print_summary
from trivet.errors import InputError, Problem
from trivet.workflow import finished
from trivet.workflow.failures import print_failures
from trivet.workflow.handover import RULES, RUN_TELLS_THE_END, SCHEDULER
from trivet.workflow.run import Workflow

_CACHES = ("XDG_CACHE_HOME", "MPLCONFIGDIR")
"""Where libraries keep what they need not keep."""


def run(
    folder: Path,
    *,
    reports: Path,
    cores: str = "all",
    data_cut: str | None = None,
    further: Sequence[str] = (),
) -> int:
    """Run a campaign to its report and archive.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    reports : Path
        Folder in which the results get a folder of their own, named as the campaign's id.
    cores : str
        Jobs at a time, or `all`.
    data_cut : str or None
        Moment up to which data count, in place of that in the settings.
    further : sequence of str
        Arguments handed to Snakemake as they are.

    Returns
    -------
    int
        Exit status: 0, or what Snakemake ends with.

    Raises
    ------
    InputError
        There is no campaign in the folder, or something is wrong with it.
    """
    if not (folder / SETTINGS_FILE).is_file():
        hint = f"'trivet new {folder}' makes one." if not folder.exists() else "Is it another one?"
        raise InputError([Problem(str(folder / SETTINGS_FILE), "is missing.", hint=hint)])
    options = {"campaign": str(folder), "reports": str(reports)}
    if data_cut is not None:
        options["data_cut"] = data_cut
    work = None if further else Workflow(options, folder)
    if work is not None and finished.stands(work):
        print("Nothing has changed since the last run: its results stand.")
        print_summary(work.reports)
        return 0
    # In quotes, since Snakemake reads values as YAML, to which 2026_05 and 007 are numbers.
    config = [f"{name}={json.dumps(text)}" for name, text in options.items()]
    with tempfile.TemporaryDirectory(prefix="trivet-") as spare:
        command = [
            *(sys.executable, "-m", "snakemake", "--snakefile", str(RULES)),
            *("--cores", cores, "--rerun-incomplete", "--keep-going", "--nolock"),
            *("--max-checksum-file-size", "1000000", "--workflow-profile", "none"),
            *(*SCHEDULER, "--quiet", "host", "--config", *config),
            *(("--", *further) if further and not further[0].startswith("-") else further),
        ]
        surroundings = _environment(os.environ, Path(spare))
        if work is not None:
            surroundings[RUN_TELLS_THE_END] = "yes"
        began_s = time.time()
        done = subprocess.run(command, env=surroundings, stdin=subprocess.DEVNULL, check=False)
        if done.returncode == 0 and work is not None:
            finished.note(work)
            # Snakemake tells no end where there was nothing to do
            print_summary(work.reports)
        elif work is not None:
            print_failures(work.reports, since_s=began_s)
    return done.returncode


def _environment(given: Mapping[str, str], spare: Path) -> dict[str, str]:
    """The environment of the run: caches go where they can be written."""
    environment = dict(given)
    try:
        home = Path.home()
        writable = os.access(home, os.W_OK)
    except RuntimeError:
        writable = False
    if not writable:
        environment |= {name: str(spare) for name in _CACHES if name not in given}
        environment.setdefault("HOME", str(spare))
    return environment
