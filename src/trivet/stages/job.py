"""One job: a stage with its settings and its tables, as the workflow wrote it to a small file."""

from __future__ import annotations

import importlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.narrowed import narrowed
from trivet.schema.tables.columns import Table
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import STAGES, Stage, writer_of
from trivet.store.paths import cell_table_path, table_path
from trivet.store.tables import read_table, write_table


@dataclass(frozen=True)
class Job:
    """What a stage is given.

    Attributes
    ----------
    stage : Stage
        Its contract.
    results : Path
        Folder of the results of the campaign.
    campaign : Path
        Folder of the campaign.
    settings : dict
        The settings that the stage depends on, by block.
    cell : CellFacts or None
        The cell, for a stage that works on one.
    cells : tuple of str
        Ids of the cells whose files were read.
    raw_files : tuple of Path
        Raw files of the cell.
    """

    stage: Stage
    results: Path
    campaign: Path
    settings: dict[str, Any]
    cell: CellFacts | None = None
    cells: tuple[str, ...] = ()
    raw_files: tuple[Path, ...] = ()

    def table(self, name: str) -> pa.Table:
        """Read a table that the contract of the stage names.

        Raises
        ------
        ValueError
            The contract does not name it: the workflow would not wait for it.
        """
        if name not in self.stage.reads:
            raise ValueError(f"stage {self.stage.name} does not declare that it reads {name}")
        return read_table(shape_of(name), self.path(name, writes=False))

    def tables(self, *names: str) -> dict[str, pa.Table]:
        """Read tables by name; all that the contract names where none is given."""
        return {name: self.table(name) for name in names or self.stage.reads}

    def path(self, name: str, *, writes: bool) -> Path:
        """Path of a table of this job; of a cell that works on one, in the folder of its writer."""
        if self.cell is None:
            return table_path(self.results, name)
        writer = self.stage if writes else writer_of(name)
        return cell_table_path(self.results, writer.name, name, self.cell.cell)

    @property
    def given(self) -> Settings:
        """The settings that the contract of the stage names; any other is no attribute."""
        return narrowed(Settings, self.settings, self.stage.settings)

    @property
    def the_cell(self) -> CellFacts:
        """The cell of a stage that works on one.

        Raises
        ------
        ValueError
            The job is of the campaign.
        """
        if self.cell is None:
            raise ValueError(f"stage {self.stage.name} works on one cell, and this job names none")
        return self.cell


Work = Callable[[Job], Mapping[str, pa.Table]]
"""What every stage offers as `work`: from its job to the tables it writes, by name."""


def shape_of(name: str) -> Table:
    """Columns of a table: tables as of an earlier cut, and findings of one stage, are alike."""
    base = name.rpartition("/")[2]
    return TABLES["findings"] if base.startswith("findings_") else TABLES[base]


def open_job(file: Path, campaign: Path) -> Job:
    """Read the file of a job; the results lie two folders above it."""
    given = json.loads(file.read_bytes())
    cell = given.get("cell")
    return Job(
        stage=STAGES[given["stage"]],
        results=file.parent.parent,
        campaign=campaign,
        settings=given["settings"],
        cell=None if cell is None else facts_of(cell),
        cells=tuple(given.get("cells", ())),
        raw_files=tuple(campaign / name for name in given.get("raw_files", ())),
    )


def facts_of(given: Mapping[str, Any]) -> CellFacts:
    """Facts of a cell as the workflow writes them."""
    log = tuple(LogEntry(**entry) for entry in given.get("log", ()))
    return CellFacts(**{**given, "log": log})


def work_of(stage: str) -> Work:
    """The function of a stage; only its own module is imported."""
    package = Path(__file__).parent / stage
    module = f"trivet.stages.{stage}.stage" if package.is_dir() else f"trivet.stages.{stage}"
    # a name of its own: named in the call, every stage would depend on the source of all
    work: Work = importlib.import_module(module).work
    return work


def carry_out(job: Job) -> None:
    """Run a stage and write what it gives.

    Raises
    ------
    ValueError
        It gives other tables than its contract says.
    """
    given = work_of(job.stage.name)(job)
    if set(given) != set(job.stage.writes):
        unlike = sorted(set(given) ^ set(job.stage.writes))
        raise ValueError(f"stage {job.stage.name} and its contract disagree on {unlike}")
    for name, data in given.items():
        write_table(shape_of(name), data, job.path(name, writes=True))
