"""What the Snakefile needs: the campaign read once, and for each job its settings and digests."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Mapping
from dataclasses import asdict
from functools import cached_property
from pathlib import Path
from typing import Any

import trivet.stages
from trivet.campaign.earlier.files import earlier_files
from trivet.campaign.folder import (
    CampaignFolder,
    no_raw_files,
    read_campaign,
    sheet_files,
)
from trivet.campaign.paths import SETTINGS_FILE, short_path
from trivet.errors import CannotWriteError, InputError, Problem, end_told, near_name
from trivet.rawfiles.layout.patterns import (
    RawFile,
    candidate_files,
    match_cells,
    unreachable_folders,
)
from trivet.schema.cell_facts import HEARD, TOLD, CellFacts
from trivet.schema.settings.yaml_lines import Place
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import (
    EVERYTHING,
    STAGES,
    Sources,
    Stage,
    cell_stages,
    writer_of,
)
from trivet.store.checksums import NOTHING, digest_of, sha256
from trivet.store.lock import hold_run
from trivet.store.paths import cell_table_path, table_path
from trivet.store.room import writing
from trivet.workflow import standby
from trivet.workflow.interpreter import interpreter
from trivet.workflow.job_files import JobFiles
from trivet.workflow.looked_at import Checksums
from trivet.workflow.options import as_typed
from trivet.workflow.resources import resources_of
from trivet.workflow.source_digest import SourceFiles

_OPTIONS = ("campaign", "reports", "data_cut")
ENVIRONMENT = Path(__file__).with_name("environment.yaml")
"""The environment of its jobs, for those who let Snakemake make it."""


def open_workflow(
    config: Mapping[str, Any], default_campaign: Path, *, deployed: bool = False
) -> Workflow:
    """Read the campaign that a Snakemake run names, or end with what is wrong with it.

    Parameters
    ----------
    config : mapping
        What stands behind `--config`: campaign, reports, data_cut.
    default_campaign : Path
        Folder that is run when none is named.
    deployed : bool
        Whether Snakemake makes the environment of each job; otherwise jobs run in this one.

    Raises
    ------
    SystemExit
        With status 2, after every problem was printed; no job has run.
    """
    try:
        return Workflow(config, default_campaign, deployed=deployed)
    except InputError as error:
        end_told(error)


class Workflow:
    """A campaign as Snakemake sees it.

    Parameters
    ----------
    config, default_campaign, deployed
        As for `open_workflow`.

    Raises
    ------
    InputError
        With every problem of options, settings, build sheet and bench log.
    """

    def __init__(
        self, config: Mapping[str, Any], default_campaign: Path, *, deployed: bool = False
    ) -> None:
        unknown = [
            Problem("--config", f"unknown option '{name}'.", hint=near_name(name, _OPTIONS))
            for name in config
            if name not in _OPTIONS
        ]
        if unknown:
            raise InputError(unknown)
        overrides: dict[Place, Any] = {}
        config = as_typed(config, sys.argv)
        if "data_cut" in config:
            overrides[("campaign", "data_cut")] = str(config["data_cut"])
        self.folder = short_path(Path(str(config.get("campaign", default_campaign))))
        self.campaign: CampaignFolder = read_campaign(self.folder, overrides)
        root = Path(str(config.get("reports", default_campaign.parent.parent / "reports")))
        self.reports = short_path(root) / self.campaign.settings.campaign.id
        self.tables = self.reports / "tables"
        self.python = "python" if deployed else str(short_path(interpreter()))
        self.stands_by = False
        self._checksums = Checksums(self.jobs.checksums)
        self._sources = SourceFiles(self.jobs.sources)
        if not self.from_table and not any(self.raw[cell] for cell in self.cells):
            raise InputError([no_raw_files(self.campaign)])

    @property
    def from_table(self) -> bool:
        """Whether lives come from a table, so that no cell has files to read."""
        return self.campaign.settings.lifetime.table is not None

    @property
    def cells_read(self) -> tuple[str, ...]:
        """Ids of the cells whose files are read."""
        return () if self.from_table else self.cells

    @cached_property
    def cells(self) -> tuple[str, ...]:
        """Ids of the cells in the order of the build sheet."""
        return tuple(cell.cell for cell in self.campaign.cells)

    @property
    def cell_pattern(self) -> str:
        """Regular expression that matches exactly the cells."""
        return "|".join(re.escape(cell) for cell in self.cells)

    def sources(self) -> list[Path]:
        """Files that people keep: settings, build sheet, bench log, table of lives."""
        names = [SETTINGS_FILE, *sheet_files(self.campaign.settings)]
        return [self.folder / name for name in names]

    def data_digest(self, sources: Sources) -> str:
        """Digest of what people wrote, as it stands, that a stage with these sources reads."""
        sheets = self.sources()
        names = earlier_files(self.campaign.settings.comparison.earlier)
        earlier = [self.folder / name for name in names]
        read = {Sources.SHEETS: sheets[1:], Sources.EARLIER: earlier}.get(sources, sheets + earlier)
        return digest_of([(path.name, sha256(path)) for path in read])

    @cached_property
    def raw(self) -> dict[str, list[RawFile]]:
        """Raw files of every cell that exist now, in the order in which they are read."""
        raw = self.campaign.settings.raw
        paths = candidate_files(self.folder, raw)
        return match_cells(paths, campaign_folder=self.folder, raw=raw, cells=self.cells)

    def raw_files(self, cell: str) -> list[Path]:
        """Paths of the raw files of a cell."""
        return [file.path for file in self.raw[cell]]

    def readable_files(self, cell: str) -> list[Path]:
        """Those of a cell's raw files that the scheduler may look at.

        The others (links that lead nowhere, pipes, files without rights) are named in the file of
        the job, and become findings when it opens them. A file whose name has a line break, which
        the scheduler can't find again, is read all the same.
        """
        paths = [path for path in self.raw_files(cell) if str(path).isprintable()]
        return [path for path in paths if path.is_file() and os.access(path, os.R_OK)]

    def raw_digest(self, cell: str) -> str:
        """Digest of a cell's raw files: names and contents, not their dates."""
        return digest_of([*self._checksums_of(cell).items(), *self._frequencies])

    def _checksums_of(self, cell: str) -> dict[str, str]:
        """Checksums of a cell's raw files by path below the campaign; empty: can't be read."""
        return {file.relative: self._checksums.of(file.path, file.relative)
                for file in self.raw[cell]}  # fmt: skip

    @cached_property
    def _frequencies(self) -> list[tuple[str, str]]:
        """Names and checksums of the files with the frequencies of wide tables."""
        names = {
            layout.frequencies_file
            for layout in self.campaign.settings.raw.layouts.values()
            if layout.frequencies_file
        }
        return [(name, self._checksums.of(self.folder / name, name)) for name in sorted(names)]

    @cached_property
    def _unreachable(self) -> dict[str, str]:
        """Folders among the raw data that can't be looked into, with why."""
        return unreachable_folders(self.folder, self.campaign.settings.raw)

    def unreachable(self, cell: str) -> dict[str, str]:
        """Those that may hold files of a cell: all but folders that bear another cell's name."""
        known = self._unreachable
        others = set(self.cells) - {cell} if known else set()
        return {path: known[path] for path in known if others.isdisjoint(path.split("/"))}

    def twins(self, cell: str) -> dict[str, str]:
        """Raw files of a cell whose content another cell has too, and where; the same path apart.

        A file that several cells share by a column is no twin of itself.
        """
        mine = self._checksums_of(cell)
        found = {}
        for name, checksum in mine.items():
            others = [
                f"{other}: {path}"
                for path, other in self._by_checksum.get(checksum, [])
                if other != cell and path not in mine
            ]
            if checksum and others:
                found[name] = others[0]
        return found

    @cached_property
    def _by_checksum(self) -> dict[str, list[tuple[str, str]]]:
        """Files and cells by checksum; files without content are no copies of each other."""
        out: dict[str, list[tuple[str, str]]] = {}
        for cell in self.cells:
            for name, checksum in self._checksums_of(cell).items():
                if checksum not in ("", NOTHING):
                    out.setdefault(checksum, []).append((name, cell))
        return out

    @property
    def params(self) -> dict[str, str]:
        """What a command is made of besides its paths."""
        return {"python": self.python, "campaign": str(self.folder)}

    @property
    def environment(self) -> str:
        """The environment of a job, where Snakemake makes one."""
        return str(ENVIRONMENT)

    def priority(self, stage: str) -> int:
        """What begins first of the jobs that are ready: more is earlier."""
        return int(STAGES[stage].long)

    def resources(self, stage: str) -> dict[str, Any]:
        """What a cluster is asked for."""
        return resources_of(STAGES[stage])

    def log(self, stage: str) -> Path:
        """Path of what a job prints."""
        return self.reports / "logs" / f"{self._of_job(stage)}.log"

    def benchmark(self, stage: str) -> Path:
        """Path of what a job took: seconds and memory, for people only."""
        return self.reports / "logs" / f"{self._of_job(stage)}.tsv"

    def job(self, stage: str) -> Path:
        """Path of the file of a job: its settings, its cell, digests of its source and data."""
        return self.jobs.path(self._of_job(stage))

    def _of_job(self, stage: str) -> str:
        """Name of a job, with the wildcard for the cell."""
        return f"{stage}-{{cell}}" if STAGES[stage].of_cell else stage

    @cached_property
    def jobs(self) -> JobFiles:
        """The files of the jobs of this campaign."""
        return JobFiles(self.reports)

    def hold(self) -> None:
        """Keep other runs of this campaign away while this process lives.

        Raises
        ------
        SystemExit
            With status 2, where one is at work.
        """
        try:
            with writing(self.jobs.folder):
                hold_run(self.jobs.folder)
        except (InputError, CannotWriteError) as error:
            end_told(error)

    def prepare(self) -> None:
        """Write the files of all jobs, those that would change and no others.

        Raises
        ------
        SystemExit
            With status 2, where the results are those of another campaign, or can't be written.
        """
        wanted = self.wanted()
        try:
            with writing(self.jobs.folder):
                self.jobs.claim(self.folder)
                self.jobs.write(wanted, cells=self.cells_read)
                self.keep()
        except (InputError, CannotWriteError) as error:
            end_told(error)

    def stand_by(self) -> None:
        """Have this run's jobs forked from a process that imports once, see `standby`."""
        in_this_environment = self.python != "python"
        self.stands_by = in_this_environment and standby.stand_by() is not None

    def keep(self) -> None:
        """Keep what was read of raw files and of the program's own for the next run."""
        self._checksums.keep()
        self._sources.keep()

    def wanted(self) -> dict[str, dict[str, Any]]:
        """What the file of each job should hold, by the name of the job."""
        wanted = {}
        for stage in STAGES.values():
            shared = self._shared(stage)
            if not stage.of_cell:
                wanted[stage.name] = shared
                continue
            for cell in self.cells_read:
                own: dict[str, Any] = {"cell": self.cell_facts(stage.name, cell)}
                if stage.sources is Sources.RAW_FILES:
                    files = [file.relative for file in self.raw[cell]]
                    own |= {"raw_files": files, "data": self.raw_digest(cell)}
                wanted[f"{stage.name}-{cell}"] = shared | own
        return wanted

    def _shared(self, stage: Stage) -> dict[str, Any]:
        """What all jobs of a stage have in common."""
        shared: dict[str, Any] = {
            "stage": stage.name,
            "settings": self.settings(stage.name),
            "code": self.code(stage.name),
        }
        if stage.sources not in (Sources.NONE, Sources.RAW_FILES):
            shared["data"] = self.data_digest(stage.sources)
        if stage.name == "collect":
            shared["cells"] = list(self.cells_read)
        return shared

    def settings(self, stage: str) -> dict[str, Any]:
        """The settings a stage depends on, by block."""
        whole = self.campaign.settings.model_dump(mode="json")
        if STAGES[stage].settings == EVERYTHING:
            return whole
        chosen: dict[str, Any] = {}
        for path in STAGES[stage].settings:
            keys = path.split(".")
            source, target = whole, chosen
            for key in keys[:-1]:
                source, target = source[key], target.setdefault(key, {})
            target[keys[-1]] = source[keys[-1]]
        return chosen

    @cached_property
    def _facts(self) -> dict[str, CellFacts]:
        """What is known of each cell as built."""
        return {facts.cell: facts for facts in self.campaign.cells}

    def cell_facts(self, stage: str, cell: str) -> dict[str, Any]:
        """What a stage needs to know of a cell as built."""
        facts = self._facts[cell]
        own: dict[str, Any] = {
            "cell": cell,
            "batch": facts.batch,
            "clock_start_s": facts.clock_start_s,
        }
        if stage == "read":
            return own | {
                "cycling_started_s": facts.cycling_started_s,
                "twins": self.twins(cell),
                "unreachable": self.unreachable(cell),
            }
        columns = TOLD.get(stage, ())
        own["numbers"] = {name: facts.numbers[name] for name in columns if name in facts.numbers}
        own["values"] = {name: facts.values[name] for name in columns
                         if facts.values.get(name) and name not in facts.numbers}  # fmt: skip
        heard = HEARD.get(stage, ())
        if heard:
            own["log"] = [asdict(entry) for entry in facts.log if entry.event in heard]
        return own

    def code(self, stage: str) -> str:
        """Digest of the source of a stage."""
        package = Path(trivet.stages.__path__[0]) / stage
        module = f"{stage}.stage" if package.is_dir() else stage
        return self._sources.digest(f"trivet.stages.{module}")

    def reads(self, stage: str) -> dict[str, Path | list[Path]]:
        """Paths that a stage reads, by the names of its contract, with the file of its job."""
        contract = STAGES[stage]
        paths: dict[str, Path | list[Path]] = {"job": self.job(stage)}
        for name in contract.reads:
            key = name.replace("/", "_")
            if contract.of_cell:
                paths[key] = cell_table_path(self.reports, writer_of(name).name, name, "{cell}")
            else:
                paths[key] = table_path(self.reports, name)
        if contract.reads_results:
            paths["results"] = self.results()
        return paths

    def writes(self, stage: str) -> dict[str, Path]:
        """Paths that a stage writes, by the names of its contract."""
        contract = STAGES[stage]
        folder = self.reports / "cells" / "{cell}" if contract.of_cell else self.reports
        own = {
            name.replace("/", "_"): cell_table_path(self.reports, stage, name, "{cell}")
            if contract.of_cell
            else table_path(self.reports, name)
            for name in contract.writes
        }
        return own | {Path(name).stem.partition(".")[0] + str(place or ""): folder / name
                      for place, name in enumerate(contract.files)}  # fmt: skip

    def cell_tables(self, *stages: str) -> list[Path]:
        """Paths of tables of all cells: archived ones, or all those of the named stages."""
        return [
            cell_table_path(self.reports, stage.name, name, cell)
            for cell in self.cells_read
            for stage in cell_stages()
            for name in stage.writes
            if (stage.name in stages if stages else TABLES[name].archived)
        ]

    @property
    def archived(self) -> list[str]:
        """Tables that stand among the results."""
        return [name for name, table in TABLES.items() if table.archived]

    def results(self) -> list[Path]:
        """Paths of the archived tables."""
        return self.table(*self.archived)

    def texts(self) -> list[Path]:
        """Paths of the results as text, and of their description."""
        names = [f"{name}.csv" for name in self.archived]
        return [self.tables / name for name in (*names, "csv-metadata.json")]

    def table(self, *names: str) -> list[Path]:
        """Paths of campaign tables."""
        return [table_path(self.reports, name) for name in names]
