"""What the Snakefile needs: the campaign read once, and for each job its settings and digests."""

from __future__ import annotations

import hashlib
import json
import re
import sys
from collections.abc import Mapping
from dataclasses import asdict
from functools import cached_property
from pathlib import Path
from typing import Any

import trivet.stages
from trivet.campaign.folder import (
    SETTINGS_FILE,
    CampaignFolder,
    no_raw_files,
    read_campaign,
)
from trivet.campaign.paths import short_path
from trivet.errors import EXIT_INPUT, InputError, Problem, near_name
from trivet.rawfiles.layout.patterns import RawFile, candidate_files, match_cells
from trivet.schema.cell_facts import MEASURED_FOR, CellFacts
from trivet.schema.settings.yaml_lines import Place
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import CELL_TABLES, STAGE_SETTINGS
from trivet.store.checksums import sha256
from trivet.workflow.source_digest import source_digest

_OPTIONS = ("campaign", "reports", "data_cut")


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
        sys.stderr.write(f"{error}\n")
        raise SystemExit(EXIT_INPUT) from None


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
        if "data_cut" in config:
            overrides[("campaign", "data_cut")] = str(config["data_cut"])
        self.folder = short_path(Path(str(config.get("campaign", default_campaign))))
        self.campaign: CampaignFolder = read_campaign(self.folder, overrides)
        root = Path(str(config.get("reports", default_campaign.parent.parent / "reports")))
        self.reports = short_path(root) / self.campaign.settings.campaign.id
        self.tables = self.reports / "tables"
        self.python = "python" if deployed else str(short_path(Path(sys.executable)))
        self._digests: dict[str, str] = {}
        self._checksums: dict[Path, str] = {}
        if not self.from_table and not any(self.raw_files(cell) for cell in self.cells):
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
        settings = self.campaign.settings
        names = [
            SETTINGS_FILE,
            settings.build_sheet.file,
            settings.bench_log.file,
            settings.lifetime.table,
        ]
        return [self.folder / name for name in names if name is not None]

    def sources_digest(self) -> str:
        """Digest of settings file, build sheet and bench log as they stand."""
        return _digest([(path.name, sha256(path)) for path in self.sources()])

    def sheet_digest(self) -> str:
        """Digest of build sheet, bench log and table of lives."""
        return _digest([(path.name, sha256(path)) for path in self.sources()[1:]])

    @cached_property
    def raw(self) -> dict[str, list[RawFile]]:
        """Raw files of every cell that exist now, in the order in which they are read."""
        raw = self.campaign.settings.raw
        paths = candidate_files(self.folder, raw)
        return match_cells(paths, campaign_folder=self.folder, raw=raw, cells=self.cells)

    def raw_files(self, cell: str) -> list[Path]:
        """Paths of the raw files of a cell."""
        return [file.path for file in self.raw[cell]]

    def raw_digest(self, cell: str) -> str:
        """Digest of a cell's raw files: names and contents, not their dates."""
        if cell not in self._digests:
            parts = [(self._below(path), self._checksum(path)) for path in self.raw_files(cell)]
            self._digests[cell] = _digest(parts + self._frequencies)
        return self._digests[cell]

    def _below(self, path: Path) -> str:
        """Path below the campaign folder."""
        return path.relative_to(self.folder).as_posix()

    def _checksum(self, path: Path) -> str:
        """Checksum of a raw file, computed once a run; empty where it can't be read."""
        if path not in self._checksums:
            try:
                self._checksums[path] = sha256(path)
            except OSError:
                self._checksums[path] = ""
        return self._checksums[path]

    @cached_property
    def _frequencies(self) -> list[tuple[str, str]]:
        """Names and checksums of the files with the frequencies of wide tables."""
        names = {
            layout.frequencies_file
            for layout in self.campaign.settings.raw.layouts.values()
            if layout.frequencies_file
        }
        return [(name, self._checksum(self.folder / name)) for name in sorted(names)]

    def twins(self, cell: str) -> dict[str, str]:
        """Raw files of a cell whose content another cell has too, and where; the same path apart.

        A file that several cells share by a column is no twin of itself.
        """
        mine = {self._below(path): self._checksum(path) for path in self.raw_files(cell)}
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
            for path in self.raw_files(cell):
                if path.is_file() and path.stat().st_size:
                    out.setdefault(self._checksum(path), []).append((self._below(path), cell))
        return out

    def settings(self, stage: str) -> str:
        """The settings a stage depends on, as JSON."""
        whole = self.campaign.settings.model_dump(mode="json")
        chosen: dict[str, Any] = {}
        for path in STAGE_SETTINGS[stage]:
            keys = path.split(".")
            source, target = whole, chosen
            for key in keys[:-1]:
                source, target = source[key], target.setdefault(key, {})
            target[keys[-1]] = source[keys[-1]]
        return json.dumps(chosen, ensure_ascii=False, sort_keys=True)

    def cell_facts(self, stage: str, cell: str) -> str:
        """What a stage needs to know of a cell as built, as JSON."""
        facts = next(facts for facts in self.campaign.cells if facts.cell == cell)
        if stage == "read":
            chosen: dict[str, Any] = {
                "cycling_started_s": facts.cycling_started_s,
                "clock_start_s": facts.clock_start_s,
                "twins": self.twins(cell),
            }
        else:
            plating = [
                asdict(entry) for entry in facts.log if entry.event in ("plated", "re-plated")
            ]
            chosen = {
                "clock_start_s": facts.clock_start_s,
                "values": _measured(facts, MEASURED_FOR.get(stage, ())),
                **({"log": plating} if stage == "cycling" else {}),
            }
        return json.dumps({"cell": cell, "batch": facts.batch, **chosen}, ensure_ascii=False)

    def code(self, stage: str) -> str:
        """Digest of the source of a stage."""
        package = Path(trivet.stages.__path__[0]) / stage
        module = f"{stage}.stage" if package.is_dir() else stage
        return source_digest(f"trivet.stages.{module}")

    def log(self, stage: str, cell: str = "") -> Path:
        """Path of what a job prints."""
        name = f"{stage}-{cell}" if cell else stage
        return self.reports / "logs" / f"{name}.log"

    def cell_table(self, stage: str, table: str, cell: str = "{cell}") -> Path:
        """Path of a table that a stage of a cell writes."""
        return self.reports / "cells" / cell / stage / f"{table}.parquet"

    def cell_tables(self, stage: str) -> list[Path]:
        """Paths of all tables of a stage, with the wildcard for the cell."""
        return [self.cell_table(stage, table) for table in CELL_TABLES[stage]]

    def all_cell_tables(self) -> list[Path]:
        """Paths of the tables of all cells that the campaign's tables are joined from."""
        kept = [(stage, table) for stage, tables in CELL_TABLES.items() for table in tables
                if TABLES[table].archived]  # fmt: skip
        return [self.cell_table(*pair, cell) for cell in self.cells_read for pair in kept]

    @property
    def collected(self) -> list[str]:
        """Campaign tables that are the tables of the cells joined."""
        names = [table for tables in CELL_TABLES.values() for table in tables]
        own = [name for name in names if TABLES[name].archived and name != "findings"]
        return [*own, "ledger_by_cell", "findings_cells"]

    @property
    def archived(self) -> list[str]:
        """Tables that stand among the results."""
        return [name for name, table in TABLES.items() if table.archived]

    def texts(self) -> list[Path]:
        """Paths of the results as text, and of their description."""
        names = [f"{name}.csv" for name in self.archived]
        return [self.tables / name for name in (*names, "csv-metadata.json")]

    def table(self, *names: str) -> list[Path]:
        """Paths of campaign tables."""
        return [self.tables / f"{name}.parquet" for name in names]


def _measured(facts: CellFacts, columns: tuple[str, ...]) -> dict[str, str]:
    """What the build sheet says of masses and sizes of a cell."""
    return {name: facts.values[name] for name in columns if facts.values.get(name)}


def _digest(parts: list[tuple[str, str]]) -> str:
    """Twelve hexadecimal digits over names and checksums."""
    text = "\n".join(f"{name} {checksum}" for name, checksum in parts)
    return hashlib.sha256(text.encode()).hexdigest()[:12]
