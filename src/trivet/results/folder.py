"""Where results lie: in the folder of a run, or in the bag that its archive is."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trivet.errors import InputError, Problem, if_near, near_name
from trivet.schema.tables.dictionary import TABLES

BAG_MARK = "bagit.txt"
"""File that every bag holds (RFC 8493, section 2.1.1)."""
_SETTINGS_IN_BAG = Path("config", "settings-used.json")
_CAMPAIGN = "campaign.yaml"
_SUMMARY = "summary.json"


class ResultsError(InputError):
    """Something asked of results is not there; its text is for people."""

    def __str__(self) -> str:
        """Every problem, one a line."""
        return "\n".join(str(problem) for problem in self.problems)


class NoSuchTable(ResultsError, AttributeError, KeyError):  # noqa: N818 (says what it is)
    """Results have no table of that name."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        ResultsError.__init__(self, problems)

    def __str__(self) -> str:
        """Every problem, one a line."""
        return ResultsError.__str__(self)


@dataclass(frozen=True)
class Place:
    """Where the parts of results lie.

    Attributes
    ----------
    given : Path
        The folder as it was given.
    root : Path
        Folder with `tables`, `figures` and `summary.json`.
    settings : dict
        Settings that made the results, by block.
    summary : dict
        What `summary.json` says.
    bag : bool
        Whether it is the bag of an archive.
    """

    given: Path
    root: Path
    settings: dict[str, Any]
    summary: dict[str, Any]
    bag: bool

    def table(self, name: str) -> Path:
        """Path of a table."""
        return self.root / "tables" / f"{name}.parquet"


def find(folder: Path) -> Place:
    """Find the parts of results.

    Parameters
    ----------
    folder : Path
        Folder of results, `reports/<id>`, or the bag of an archive.

    Raises
    ------
    ResultsError
        It is neither, or a part is missing; the text says what to do.
    """
    bag = (folder / BAG_MARK).is_file()
    root = folder / "data" if bag else folder
    if not (root / "tables" / "cells.parquet").is_file():
        raise ResultsError([_no_results(folder, bag=bag)])
    settings = _json(root / _SETTINGS_IN_BAG, folder) if bag else _settings_of_run(folder)
    return Place(folder, root, settings, _json(root / _SUMMARY, folder), bag)


def _settings_of_run(folder: Path) -> dict[str, Any]:
    """Settings that the report was made with, else those that the archive holds."""
    job = folder / "jobs" / "report.json"
    packed = folder / "archive" / "data" / _SETTINGS_IN_BAG
    if job.is_file() or not packed.is_file():
        settings: dict[str, Any] = _json(job, folder).get("settings", {})
        return settings
    return _json(packed, folder)


def _json(path: Path, folder: Path) -> dict[str, Any]:
    """Content of a file of the results."""
    hint = f"Copy the folder '{folder}' whole, or run the campaign to its end."
    try:
        content = json.loads(path.read_bytes())
    except FileNotFoundError:
        raise ResultsError([Problem(str(path), "is missing.", hint=hint)]) from None
    except (OSError, ValueError) as error:
        raise ResultsError([Problem(str(path), f"can't be read: {error}.", hint=hint)]) from error
    if not isinstance(content, dict):
        raise ResultsError([Problem(str(path), "is not what a run writes.", hint=hint)])
    return content


def _no_results(folder: Path, *, bag: bool) -> Problem:
    """What is wrong with a folder that holds no results, and what to give instead."""
    if not folder.is_dir():
        beside = folder.parent
        what = "is a file, not a folder." if folder.exists() else "does not exist."
        names = [path.name for path in _results_below(beside)]
        hint = near_name(folder.name, names) or "Give the folder of the results, reports/<id>."
        return Problem(str(folder), what, hint=hint)
    if bag:
        return Problem(str(folder), "is a bag, but holds no tables of a campaign.")
    below = _results_below(folder)
    if below:
        named = ", ".join(f"'{path}'" for path in below)
        return Problem(str(folder), "holds several results.", hint=f"Give one of them: {named}.")
    if (folder / "cells.parquet").is_file():
        hint = f"Give the folder above: '{folder.parent}'."
        return Problem(str(folder), "holds the tables alone.", hint=hint)
    if (folder / _CAMPAIGN).is_file():
        hint = "Its results lie in reports/<id>, where 'trivet run' was called."
        return Problem(str(folder), "is the folder of a campaign, not of results.", hint=hint)
    hint = "Give the folder of the results, reports/<id>, or its archive; run it to its end first."
    return Problem(str(folder), "holds no table 'tables/cells.parquet'.", hint=hint)


def _results_below(folder: Path) -> list[Path]:
    """Folders below that hold results."""
    return sorted(path.parents[1] for path in folder.glob("*/tables/cells.parquet"))


def no_table(place: Place, name: str, known: Iterable[str]) -> NoSuchTable:
    """Error that says of a table why it is not there."""
    names = sorted(known)
    if name in TABLES and not TABLES[name].archived:
        message = f"has no table '{name}' of the campaign: it is kept for each cell, under 'cells'."
        return NoSuchTable([Problem(str(place.given), message)])
    holders = sorted(table.name for table in TABLES.values() if name in table.names)
    column = f"It is a column of {', '.join(holders)}." if holders else ""
    hint = if_near(name, names) or column or f"Tables here: {', '.join(names)}."
    return NoSuchTable([Problem(str(place.given), f"has no table '{name}'.", hint=hint)])
