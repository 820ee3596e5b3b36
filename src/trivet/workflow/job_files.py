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
from trivet.store.whole_file import write_whole


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
        here, other = self._way_to(campaign), self._claimed()
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
            write_whole(self._claim_file, here.encode() + b"\n", mark=str(os.getpid()))

    def are_of(self, campaign: Path) -> bool:
        """Whether these are written down as the results of a campaign.

        Parameters
        ----------
        campaign : Path
            Its folder.
        """
        return self._claimed() == self._way_to(campaign)

    @property
    def _claim_file(self) -> Path:
        """Where it is written down whose results these are."""
        return self._folder / "campaign.txt"

    def _way_to(self, campaign: Path) -> str:
        """The way from the results to a campaign."""
        return os.path.relpath(campaign.resolve(), self._results.resolve())

    def _claimed(self) -> str:
        """The way to the campaign that these are the results of; empty where none is written."""
        try:
            return self._claim_file.read_text(encoding="utf-8").strip()
        except FileNotFoundError:
            return ""

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
            write_if_other(self.path(name), _text(content))
        for path in self._folder.glob("*.json"):
            if path.stem not in wanted and path not in (self.checksums, self.sources):
                _stage, _, cell = path.stem.partition("-")
                path.unlink()
                if cell and cell not in cells:
                    self._forget(path.stem, cell)

    def hold_already(self, wanted: Mapping[str, Mapping[str, Any]]) -> bool:
        """Whether every file has the content that it would be written with.

        Parameters
        ----------
        wanted : mapping of str to mapping
            As for `write`.
        """
        return all(_read(self.path(name)) == content for name, content in wanted.items())

    def _forget(self, job: str, cell: str) -> None:
        """Remove what a cell left that is not in the build sheet any more."""
        shutil.rmtree(self._results / "cells" / cell, ignore_errors=True)
        for ending in ("log", "tsv"):
            (self._results / "logs" / f"{job}.{ending}").unlink(missing_ok=True)


def write_if_other(path: Path, content: bytes) -> None:
    """Write a file unless it holds this content already, so that its date tells of a change."""
    if not _holds(path, content):
        write_whole(path, content, mark=str(os.getpid()))


def _holds(path: Path, content: bytes) -> bool:
    """Whether a file has this content."""
    try:
        return path.read_bytes() == content
    except FileNotFoundError:
        return False


def _read(path: Path) -> Any:  # noqa: ANN401 (whatever stands there)
    """Content of a file of a job; nothing where there is none that can be read."""
    try:
        return json.loads(path.read_bytes())
    except (FileNotFoundError, ValueError):
        return None


def _text(content: Mapping[str, Any]) -> bytes:
    """Content of a file as it is written."""
    text = json.dumps(content, ensure_ascii=False, sort_keys=True, indent=1)
    return text.encode() + b"\n"
