"""Decide lives, verdicts and trust again from the rows up to an earlier data cut.

The same functions run a second time as in the stages cycling, lifetime and survival, on rows that
were read already: nothing is remembered, so what is found here is what a run with that cut gives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet.campaign import data_cut
from trivet.campaign.build_sheet import read_cells
from trivet.campaign.interim import interim_mark
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import finding_columns
from trivet.schema.settings.campaign import BenchLog, BuildSheet, Settings
from trivet.schema.settings.narrowed import narrowed
from trivet.schema.tables.columns import Table
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import STAGES
from trivet.stages.cycling import stage as cycling
from trivet.stages.job import Job
from trivet.stages.lifetime import stage as lifetime
from trivet.stages.survival import stage as survival
from trivet.stages.survival.looks import schedule_of
from trivet.store.arrow_arrays import is_text
from trivet.store.tables import empty, make_table, read_table

INPUTS = STAGES["as_of"].reads
RESULTS = ("cells", "lifetimes", "comparisons", "timeline", "findings")
Tables = dict[str, pa.Table]


def _table_of(name: str) -> Table:
    """Entry of the dictionary of a table."""
    return TABLES["findings" if name == "findings_cells" else name]


def _again(
    facts: CellFacts, tables: Mapping[str, pa.Table], folder: Path, blocks: Settings, cut_s: float
) -> Tables:
    """Tables of one cell from its rows up to the cut."""
    read = {
        name: read_table(TABLES[name], folder / "read" / f"{name}.parquet")
        for name in ("series", "capacity_records", "plating_series", "spectrum_points")
    }
    kept = data_cut.cut_cell(read["series"], tables["ledger"], cut_s=cut_s)
    plating, points = (
        data_cut.rows_before(read[name], tables["ledger"], cut_s=cut_s)
        for name in ("plating_series", "spectrum_points")
    )
    done = cycling.run(
        facts=facts,
        series=kept.series,
        ledger=kept.ledger,
        settings=blocks,
        stated=read["capacity_records"],
        plating_rows=plating,
        points=points,
        wanted=INPUTS,
    )
    table = TABLES["findings"]
    of_files = [
        data_cut.findings_before(
            read_table(table, folder / stage / "findings.parquet"),
            ledger=tables["ledger"],
            last_lines=kept.last_lines,
            cut_s=cut_s,
        )
        for stage in ("read", "impedance")
    ]
    found = [*of_files, make_table(table, finding_columns(list(done.findings)))]
    own = {name: done.tables[name] for name in INPUTS if name in done.tables}
    return {"ledger": kept.ledger, **own, "findings_cells": pa.concat_tables(found)}


def cells_again(
    *,
    cells: Sequence[CellFacts],
    tables: Mapping[str, pa.Table],
    folder: Path,
    blocks: Settings,
    cut_s: float,
) -> Tables:
    """Tables of all cells as of the cut; a cell without rows after it keeps what it has.

    Parameters
    ----------
    cells : sequence of CellFacts
        All cells of the build sheet.
    tables : mapping of str to pyarrow.Table
        Tables of all cells, see `INPUTS`.
    folder : Path
        Folder with one folder a cell.
    blocks : Settings
        Settings of the stages that run again.
    cut_s : float
        Earlier data cut as Unix time [s].
    """
    parts: dict[str, list[pa.Table]] = {name: [] for name in INPUTS}
    for facts in cells:
        own = {name: table.filter(is_text(table["cell"], facts.cell))
               for name, table in tables.items()}  # fmt: skip
        if data_cut.reaches_beyond(own["ledger"].to_pylist(), cut_s):
            own = _again(facts, own, folder / facts.cell, blocks, cut_s)
        for name in INPUTS:
            parts[name].append(own[name])
    return {name: pa.concat_tables([empty(_table_of(name)), *own]) for name, own in parts.items()}


def run(
    *,
    cells: Sequence[CellFacts],
    tables: Mapping[str, pa.Table],
    folder: Path,
    settings: Mapping[str, Any],
    cuts: pa.Table,
) -> Tables:
    """Decide everything that is compared again, as of the earlier cut.

    Parameters
    ----------
    cells : sequence of CellFacts
        All cells of the build sheet, with their entries of the bench log.
    tables : mapping of str to pyarrow.Table
        Tables of all cells, see `INPUTS`.
    folder : Path
        Folder with one folder a cell.
    settings : mapping
        Settings by block.
    cuts : pyarrow.Table
        Table `data_cuts`.

    Returns
    -------
    dict of str to pyarrow.Table
        Tables of `RESULTS`; without rows where there is no earlier cut.
    """
    before = data_cut.time_of(cuts, data_cut.BEFORE)
    if before is None:
        return {name: empty(TABLES[name]) for name in RESULTS}
    blocks = narrowed(Settings, settings, STAGES["as_of"].settings)
    then = cells_again(cells=cells, tables=tables, folder=folder, blocks=blocks, cut_s=before)
    lives = lifetime.run(
        cells=cells,
        inputs=then,
        lifetime=blocks.lifetime,
        trust=blocks.trust,
        factor=blocks.comparison.factors[0].factor,
        cut_s=before,
    )
    text = next(row["data_cut"] for row in cuts.to_pylist() if row["cut"] == data_cut.BEFORE)
    campaign = settings["campaign"] | {"data_cut": text}
    interim, noted = interim_mark(ledger=None, **campaign)
    verdicts = survival.run(
        cells=lives.cells,
        lifetimes=lives.lifetimes,
        survival=blocks.survival,
        comparison=blocks.comparison,
        primary_clock=blocks.lifetime.primary_clock,
        interim=interim,
        schedule=schedule_of(ledger=None, **campaign),
    )
    marks = make_table(TABLES["findings"], finding_columns(noted))
    found = [then["findings_cells"], lives.findings, marks, verdicts.findings]
    return {
        "cells": lives.cells,
        "lifetimes": lives.lifetimes,
        "comparisons": verdicts.comparisons,
        "timeline": then["timeline"],
        "findings": pa.concat_tables(found),
    }


def work(job: Job) -> dict[str, pa.Table]:
    """Decide again as of the earlier cut."""
    settings = job.settings
    campaign = settings["campaign"]
    tables = job.tables()
    cells = read_cells(
        job.campaign,
        build_sheet=BuildSheet.model_validate(settings["build_sheet"]),
        bench_log=BenchLog.model_validate(settings["bench_log"]),
        clock_start=settings["lifetime"]["clock_start"],
        time_zone=campaign["time_zone"],
    )
    cuts = data_cut.data_cuts(
        tables["ledger"],
        data_cut=campaign["data_cut"],
        time_zone=campaign["time_zone"],
        compare_days=settings["report"]["compare_days"],
        from_table=settings["lifetime"]["table"] is not None,
    )
    # what the stage cycling is told of a cell: no times of cycling, no copies of files
    known = [replace(facts, cycling_started_s=None) for facts in cells]
    folder = job.results / "cells"
    given = run(cells=known, tables=tables, folder=folder, settings=settings, cuts=cuts)
    return {"data_cuts": cuts, **{f"earlier/{name}": given[name] for name in RESULTS}}
