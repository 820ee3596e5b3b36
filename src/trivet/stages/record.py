"""Keep the record: all findings, what changed, the reports issued, the checklist of a paper."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from trivet.campaign.build_sheet import read_cells
from trivet.campaign.changes import changes
from trivet.campaign.checklist.items import checklist
from trivet.campaign.checklist.record import Recorded
from trivet.campaign.data_cut import BEFORE, NOW, time_of
from trivet.campaign.register.entry import entry_of
from trivet.campaign.register.rows import (
    damaged_lines,
    input_changes,
    issued_before,
    late_rows,
    reports_issued,
)
from trivet.reasons import Kept
from trivet.schema.findings.finding import finding_columns
from trivet.schema.settings.campaign import BenchLog, BuildSheet
from trivet.schema.settings.inference import Comparison, Lifetime
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import DECIDED
from trivet.stages.job import Job
from trivet.store.checksums import sha256
from trivet.store.register_file import ENTRY_FILE, REGISTER_FILE, Entry, read_register, write_entry
from trivet.store.tables import empty, make_table, rows_table
from trivet.version import VERSION

FINDINGS = ("findings_cells", "findings_lifetime", "findings_survival")
RECORDED = (
    "cells",
    "cycles",
    "spectra",
    "ledger",
    "lifetimes",
    "timeline",
    "plating",
    "cell_measures",
)
"""Tables that the checklist asks."""


def changed(
    *,
    before: Mapping[str, pa.Table],
    after: Mapping[str, pa.Table],
    cuts: pa.Table,
    primary_clock: str,
) -> pa.Table:
    """Compare two states of a campaign.

    Parameters
    ----------
    before, after : mapping of str to pyarrow.Table
        Tables of `DECIDED` at each data cut.
    cuts : pyarrow.Table
        Table `data_cuts`.
    primary_clock : str
        Clock whose verdicts are compared.

    Returns
    -------
    pyarrow.Table
        Table `changes`; without rows where there is no earlier cut.
    """
    table = TABLES["changes"]
    if time_of(cuts, BEFORE) is None:
        return empty(table)
    found = changes(
        {name: before[name].to_pylist() for name in DECIDED},
        {name: after[name].to_pylist() for name in DECIDED},
        clock=primary_clock,
    )
    return rows_table(table, found)


def checked(
    *, tables: Mapping[str, pa.Table], spectrum_curves: pa.Table, settings: Mapping[str, Any]
) -> pa.Table:
    """Fill the checklist.

    Parameters
    ----------
    tables : mapping of str to pyarrow.Table
        Tables of `RECORDED`.
    spectrum_curves : pyarrow.Table
        Table of this name, for the range of frequencies.
    settings : mapping
        Settings by block.

    Returns
    -------
    pyarrow.Table
        Table `checklist`.
    """
    bounds = pc.min_max(spectrum_curves["frequency_Hz"]).as_py()
    rows = checklist(
        Recorded(
            tables={name: table.to_pylist() for name, table in tables.items()},
            frequencies_Hz=(bounds["min"], bounds["max"]) if spectrum_curves.num_rows else (),
            campaign=settings["campaign"]["id"],
            licence=settings["campaign"]["licence"],
            electrodes=Electrodes.model_validate(settings["electrodes"]),
            cycling=Cycling.model_validate(settings["cycling"]),
            reference=Reference.model_validate(settings["reference"]),
            trust=Trust.model_validate(settings["trust"]),
            lifetime=Lifetime.model_validate(settings["lifetime"]),
            comparison=Comparison.model_validate(settings["comparison"]),
            version=VERSION,
        )
    )
    return rows_table(TABLES["checklist"], rows)


def entry_now(job: Job) -> Entry:
    """What the report that is made rests on and says, as the register will keep it."""
    settings = job.settings
    sheet, log = settings["build_sheet"], settings["bench_log"]
    cuts = job.table("data_cuts")
    text = next(row["data_cut"] for row in cuts.to_pylist() if row["cut"] == NOW)
    kept = {
        Kept.SHEET.value: sheet["file"],
        Kept.LOG.value: log["file"],
        "lives": settings["lifetime"]["table"],
    }
    return entry_of(
        settings=settings,
        cells=read_cells(
            job.campaign,
            build_sheet=BuildSheet.model_validate(sheet),
            bench_log=BenchLog.model_validate(log),
            clock_start=settings["lifetime"]["clock_start"],
            time_zone=settings["campaign"]["time_zone"],
        ),
        lifetimes=job.table("lifetimes").to_pylist(),
        comparisons=job.table("comparisons").to_pylist(),
        data_cut=(text or "", time_of(cuts, NOW)),
        digests={name: sha256(job.campaign / file) for name, file in kept.items() if file},
        version=VERSION,
    )


def work(job: Job) -> dict[str, pa.Table]:
    """Join the findings of all stages, compare the data cuts, look at the reports issued."""
    findings = pa.concat_tables(job.tables(*FINDINGS).values())
    after = {name: job.table(name) for name in DECIDED if name != "findings"}
    now = entry_now(job)
    register = read_register(job.results / REGISTER_FILE)
    issued = issued_before(register, now)
    zone = job.settings["campaign"]["time_zone"]
    damaged = make_table(TABLES["findings"], finding_columns(damaged_lines(register)))
    write_entry(job.results / ENTRY_FILE, now)
    return {
        "findings": pa.concat_tables([findings, damaged]),
        "changes": changed(
            before={name: job.table(f"earlier/{name}") for name in DECIDED},
            after={**after, "findings": findings},
            cuts=job.table("data_cuts"),
            primary_clock=job.settings["lifetime"]["primary_clock"],
        ),
        "checklist": checked(
            tables=job.tables(*RECORDED),
            spectrum_curves=job.table("spectrum_curves"),
            settings=job.settings,
        ),
        "reports_issued": rows_table(
            TABLES["reports_issued"], reports_issued(issued, now), sparse=True
        ),
        "input_changes": rows_table(
            TABLES["input_changes"], input_changes(issued, now, time_zone=zone)
        ),
        "late_decisions": rows_table(
            TABLES["late_decisions"], late_rows(issued, now, time_zone=zone)
        ),
    }
