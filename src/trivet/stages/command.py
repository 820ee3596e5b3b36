"""The command line that all stages share, so that a printed command can be pasted and run."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType
from typing import Any

from trivet.schema.cell_facts import CellFacts, LogEntry


@dataclass(frozen=True)
class Command:
    """Arguments of a stage.

    Attributes
    ----------
    settings : dict
        The settings the stage depends on, by block.
    cell : CellFacts or None
        The cell, for a stage that works on one.
    cells : tuple of str
        Ids of the cells whose tables are joined.
    campaign : Path
        The campaign folder; `.` where not given.
    inputs : tuple of Path
        Files to read, in the order of the rule.
    out : Path
        Folder to write to.
    """

    settings: dict[str, Any]
    cell: CellFacts | None
    cells: tuple[str, ...]
    campaign: Path
    inputs: tuple[Path, ...]
    out: Path


def parse(argv: Sequence[str] | None, description: str) -> Command:
    """Read the arguments of a stage.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program; None takes those of the process.
    description : str
        First line of the stage's docstring.
    """
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--settings", default="{}", help="settings of this stage, as JSON")
    parser.add_argument("--cell", default=None, help="facts of the cell, as JSON")
    parser.add_argument("--campaign", type=Path, default=Path(), help="campaign folder")
    parser.add_argument(
        "--code",
        default="",
        help="digest of this stage's source; not used, "
        "shown so that a changed source is a changed command",
    )
    parser.add_argument(
        "--data",
        default="",
        help="digest of the raw files; not used, shown so that a changed file is a changed command",
    )
    parser.add_argument("--cells", nargs="*", default=[], help="ids of the cells to join")
    parser.add_argument("--inputs", type=Path, nargs="*", default=[], help="files to read")
    parser.add_argument("--out", type=Path, required=True, help="folder to write to")
    given = parser.parse_args(argv)
    return Command(
        settings=json.loads(given.settings),
        cell=None if given.cell is None else facts_from_json(given.cell),
        cells=tuple(given.cells),
        campaign=given.campaign,
        inputs=tuple(given.inputs),
        out=given.out,
    )


def facts_from_json(text: str) -> CellFacts:
    """Facts of a cell from the JSON that the workflow writes."""
    data = json.loads(text)
    data["log"] = tuple(LogEntry(**entry) for entry in data.get("log", []))
    return CellFacts(**data)


class _NoPandas(MetaPathFinder):
    """Finder that says that pandas is not installed."""

    def find_spec(
        self, fullname: str, path: object, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Refuse pandas, leave every other module to the finders after this one."""
        if fullname == "pandas":
            raise ModuleNotFoundError("pandas is spared in this process", name="pandas")
        return None


def spare_pandas() -> None:
    """Keep arrow from importing pandas into a process that has no use for it.

    Arrow imports pandas, where it is installed, as soon as an array is made, which is a third of
    the time of a job that handles one cell.
    """
    sys.meta_path.insert(0, _NoPandas())
