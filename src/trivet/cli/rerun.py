"""`trivet rerun`: rebuild the tables of a bag from its raw files, and say what differs.

Rules of this program are run, never those that lie in the bag, so that a bag from elsewhere starts
nothing of its own.
"""

from __future__ import annotations

import importlib.metadata
import json
import os
import shutil
import stat
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from trivet.campaign.paths import SETTINGS_FILE
from trivet.errors import InputError, Problem
from trivet.store.compare import compare_tables
from trivet.store.differences import Difference
from trivet.store.register_file import REGISTER_FILE
from trivet.workflow.handover import RULES, SCHEDULER
from trivet.workflow.run import Workflow


def rerun(bag: Path, *, cores: int) -> tuple[str, list[Difference]]:
    """Rebuild the tables in a temporary folder and compare them cell by cell.

    Parameters
    ----------
    bag : Path
        Folder of the bag; nothing is written to it.
    cores : int
        Jobs at a time.

    Returns
    -------
    text : str
        What was compared, and which versions differ, for the terminal.
    differences : list of Difference
        Everything that differs.

    Raises
    ------
    InputError
        The bag holds no raw files, its settings can't be used, or a job failed.
    """
    data = bag / "data"
    _only_files(data)
    used = _used_settings(data)
    if used["lifetime"]["table"] is None and not (data / "raw").is_dir():
        hint = "Set archive.raw_files to 'copies' in campaign.yaml for a bag that can be rerun."
        message = "holds only checksums of the raw files, so that nothing can be rebuilt from it."
        raise InputError([Problem(str(bag), message, hint=hint)])
    notes = _other_versions(data)
    with tempfile.TemporaryDirectory(prefix="trivet-rerun-") as folder:
        work = Path(folder).absolute()
        _copy(data, work / "campaign")
        tables = _run(work, data, data_cut=used["campaign"]["data_cut"], cores=cores)
        count, differences = compare_tables(data / "tables", tables, "data/tables")
    return "\n".join(
        [f"{bag}: {count} tables rebuilt; expected is the bag, found the rebuilt", *notes]
    ), differences


def _used_settings(data: Path) -> dict[str, Any]:
    """Settings as used, from the bag."""
    path = data / "config" / "settings-used.json"
    try:
        used: dict[str, Any] = json.loads(path.read_bytes())
        used["lifetime"]["table"], used["campaign"]["data_cut"]
    except FileNotFoundError:
        hint = "Give the folder that holds bagit.txt, reports/<id>/archive after a run."
        raise InputError([Problem(str(path), "is missing; is this a bag?", hint=hint)]) from None
    except (ValueError, KeyError, TypeError, RecursionError, OSError) as error:
        raise InputError([Problem(str(path), f"are no settings: {error!r}.")]) from error
    return used


def _other_versions(data: Path) -> list[str]:
    """What was made by other versions than those here; numbers may differ in the last digits."""
    path = data / "versions.json"
    try:
        made: dict[str, str] = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError) as error:
        raise InputError([Problem(str(path), f"can't be read: {error}.")]) from error
    if not isinstance(made, dict):
        raise InputError([Problem(str(path), "is no list of versions by name.")])
    notes = []
    for name, version in made.items():
        here = sys.version.split()[0] if name == "python" else _version(name)
        if here != version:
            notes.append(f"  made with {name} {version}, rebuilt with {here}")
    own = data / "workflow" / "Snakefile"
    if own.is_file() and own.read_bytes() != RULES.read_bytes():
        notes.append("  the rules in the bag are not those of this version, which were run")
    return notes


def _version(name: str) -> str:
    """Version of a library here."""
    try:
        return importlib.metadata.version(name)
    except (importlib.metadata.PackageNotFoundError, ValueError):
        return "none"


def _copy(data: Path, campaign: Path) -> None:
    """Lay out the campaign folder as it was: what people wrote, and the raw files."""
    shutil.copytree(data / "config", campaign)
    (campaign / "settings-used.json").unlink(missing_ok=True)
    if (data / "raw").is_dir():
        shutil.copytree(data / "raw", campaign, dirs_exist_ok=True)


def _copy_register(data: Path, results: Path) -> None:
    """Lay out the register of the reports issued before: all lines but the bag's own, the last.

    A bag of an earlier version has none.
    """
    file = data / REGISTER_FILE
    if not file.is_file():
        return
    lines = file.read_bytes().splitlines(keepends=True)
    results.mkdir(parents=True)
    (results / REGISTER_FILE).write_bytes(b"".join(lines[:-1]))


def _only_files(data: Path) -> None:
    """Refuse a bag that holds anything but files and folders: a link leads out of it.

    Raises
    ------
    InputError
        With each such path.
    """
    below = (
        Path(root) / name
        for root, folders, names in os.walk(data)
        for name in sorted([*folders, *names])
    )
    # A walk follows a link at its top, so that the top is looked at first.
    odd = [data] if data.is_symlink() else [path for path in below if not _is_plain(path)]
    message = "is a link, a pipe or a device; a bag holds files only, nothing was read."
    problems = [Problem(str(path), message) for path in odd]
    if problems:
        raise InputError(problems)


def _is_plain(path: Path) -> bool:
    """Whether a path is a file or a folder itself."""
    mode = path.lstat().st_mode
    return stat.S_ISREG(mode) or stat.S_ISDIR(mode)


def _run(work: Path, data: Path, *, data_cut: str | None, cores: int) -> Path:
    """Run every stage up to the tables, and give their folder.

    Raises
    ------
    InputError
        A job failed; the problem carries the end of what was printed.
    """
    config = {"campaign": "campaign", "reports": "reports"}
    if data_cut is not None:
        config["data_cut"] = data_cut
    inside = {**config, "campaign": str(work / "campaign"), "reports": str(work / "reports")}
    campaign = Workflow(inside, work)
    _copy_register(data, campaign.reports.absolute())
    tables = campaign.tables.absolute()
    below = tables.relative_to(work)
    targets = [(below / path.name).as_posix() for path in campaign.table(*campaign.archived)]
    command = [sys.executable, "-m", "snakemake", *targets, "--snakefile", str(RULES)]
    command += ["--cores", str(cores), *SCHEDULER, "--quiet", "progress", "host", "--config"]
    command += [f"{key}={json.dumps(value)}" for key, value in config.items()]
    done = subprocess.run(
        command, cwd=work, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )
    if done.returncode:
        logs = [path.read_text(errors="replace") for path in sorted(work.rglob("logs/*.log"))]
        end = (done.stderr + "".join(logs))[-2000:]
        raise InputError([Problem(SETTINGS_FILE, f"the run of the bag failed: {end}")])
    return tables
