"""Small files in the results, one a job, that say all that the job depends on besides tables.

They are inputs of the rules and are written anew only where their content changes. So whether a
result is current follows from what lies in the folder of results, and from no memory of the folder
in which a run was started.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from trivet.campaign.paths import SETTINGS_FILE
from trivet.errors import InputError, Problem


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

    @property
    def sources(self) -> Path:
        """File that keeps checksums and imports of the program's own files."""
        return self._folder / "sources.json"

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
            write_if_other(self.path(name), text.encode() + b"\n")
        for path in self._folder.glob("*.json"):
            if path.stem not in wanted and path not in (self.checksums, self.sources):
                _stage, _, cell = path.stem.partition("-")
                path.unlink()
                if cell and cell not in cells:
                    self._forget(path.stem, cell)

    def _forget(self, job: str, cell: str) -> None:
        """Remove what a cell left that is not in the build sheet any more."""
        shutil.rmtree(self._results / "cells" / cell, ignore_errors=True)
        for ending in ("log", "tsv"):
            (self._results / "logs" / f"{job}.{ending}").unlink(missing_ok=True)


def write_if_other(path: Path, content: bytes) -> None:
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
