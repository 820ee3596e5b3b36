"""Small files in the results, one a job, that say all that the job depends on besides tables.

They are inputs of the rules and are written anew only where their content changes. So whether a
result is current follows from what lies in the folder of results, and from no memory of the folder
in which a run was started.
"""

from __future__ import annotations

import json
import os
import shutil
import time
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from trivet.campaign.folder import SETTINGS_FILE
from trivet.errors import InputError, Problem
from trivet.store.checksums import sha256

_SETTLED_S = 2.0
"""Age of a file's last change from which its times tell whether it has changed since [s]: clocks of
file systems tick as coarsely as this."""


class JobFiles:
    """The files of the jobs of one campaign.

    Parameters
    ----------
    results : Path
        Folder of its results.
    """

    def __init__(self, results: Path) -> None:
        self._results = results
        self._folder = results / "jobs"

    @property
    def folder(self) -> Path:
        """Where the files lie."""
        return self._folder

    @property
    def checksums(self) -> Path:
        """File that keeps the checksums of raw files."""
        return self._folder / "checksums.json"

    def path(self, name: str) -> Path:
        """Path of the file of a job."""
        return self._folder / f"{name}.json"

    def made(self, name: str) -> Path:
        """Path of an empty file that stands while what a job wrote last is whole.

        A failed job leaves what an earlier one wrote, put back with a new date; without this file
        it would pass for current.
        """
        return self._folder / f"{name}.made"

    def claim(self, campaign: Path) -> None:
        """Write down whose results these are, as the way from here to there.

        Copied or moved together with its campaign, a folder of results stays that of its campaign.

        Raises
        ------
        InputError
            They are those of another campaign that bears the same id and still exists.
        """
        file = self._folder / "campaign.txt"
        here = os.path.relpath(campaign.resolve(), self._results.resolve())
        try:
            other = file.read_text(encoding="utf-8").strip()
        except FileNotFoundError:
            other = ""
        there = (self._results.resolve() / other).resolve()
        if other and there != campaign.resolve() and (there / SETTINGS_FILE).is_file():
            message = (
                f"holds the results of another campaign of the same id, {there}; "
                f"this one is {campaign.resolve()}."
            )
            hint = (
                "Give one of them another campaign.id, or other results with --config reports=..."
            )
            raise InputError([Problem(str(self._results), message, hint=hint)])
        if other != here:
            _write(file, here.encode() + b"\n")

    def write(self, wanted: Mapping[str, Mapping[str, Any]], *, cells: Collection[str]) -> None:
        """Write what differs, and remove jobs and results of cells that are no more.

        Parameters
        ----------
        wanted : mapping of str to mapping
            Content of each file by the name of its job.
        cells : collection of str
            The cells whose files are read.
        """
        for name, content in wanted.items():
            text = json.dumps(content, ensure_ascii=False, sort_keys=True, indent=1)
            _write_if_other(self.path(name), text.encode() + b"\n")
        for path in self._folder.glob("*.json"):
            if path.stem not in wanted and path != self.checksums:
                _stage, _, cell = path.stem.partition("-")
                path.unlink()
                if cell and cell not in cells:
                    self._forget(path.stem, cell)

    def _forget(self, job: str, cell: str) -> None:
        """Remove what a cell left that is not in the build sheet any more."""
        shutil.rmtree(self._results / "cells" / cell, ignore_errors=True)
        for ending in ("log", "tsv"):
            (self._results / "logs" / f"{job}.{ending}").unlink(missing_ok=True)


class Checksums:
    """Checksums of raw files, read again only where size, times or inode have moved.

    Parameters
    ----------
    kept : Path
        File that keeps them between runs.
    """

    def __init__(self, kept: Path) -> None:
        self._file = kept
        self._known = _known(kept)
        self._now: dict[str, list[Any]] = {}

    def of(self, path: Path, name: str) -> str:
        """Checksum of a file; empty where it can't be read.

        Parameters
        ----------
        path : Path
            The file.
        name : str
            Its name below the campaign folder.
        """
        if name not in self._now:
            try:
                self._now[name] = self._looked_at(path, name)
            except OSError:
                return ""
        return str(self._now[name][-1])

    def _looked_at(self, path: Path, name: str) -> list[Any]:
        """State of a file and its checksum."""
        state = path.stat()
        marks = [state.st_size, state.st_mtime_ns, state.st_ctime_ns, state.st_ino]
        known = self._known.get(name)
        if known is not None and known[:-1] == marks:
            return known
        return [*marks, sha256(path)]

    def keep(self) -> None:
        """Write down the checksums of files that have not changed within the last moments."""
        settled_ns = time.time_ns() - int(_SETTLED_S * 1e9)
        kept = {
            name: marks
            for name, marks in self._now.items()
            if max(marks[1], marks[2]) < settled_ns and marks[-1]
        }
        _write_if_other(self._file, json.dumps(kept, sort_keys=True).encode())


def _known(kept: Path) -> dict[str, list[Any]]:
    """Checksums kept by an earlier run; none where there was none or its file is damaged."""
    try:
        given = json.loads(kept.read_bytes())
    except (OSError, ValueError):
        return {}
    if not isinstance(given, dict):
        return {}
    return {name: marks for name, marks in given.items() if isinstance(marks, list) and marks}


def _write_if_other(path: Path, content: bytes) -> None:
    """Write a file unless it holds this content already, so that its date tells of a change."""
    try:
        same = path.read_bytes() == content
    except FileNotFoundError:
        same = False
    if not same:
        _write(path, content)


def _write(path: Path, content: bytes) -> None:
    """Write beside and rename, so that no half of it is ever read."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    beside.write_bytes(content)
    beside.replace(path)
