"""Estimate survival by group and compare the groups with their control."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.campaign.interim import interim_mark
from trivet.campaign.life_sets import life_sets
from trivet.schema.findings.finding import finding_columns
from trivet.schema.settings.inference import Comparison, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.science.survival.group_life import round_times
from trivet.stages.job import Job
from trivet.stages.survival.looks import Schedule, schedule_of
from trivet.stages.survival.rows import Plan, Row, compare, describe, restriction_of
from trivet.store.tables import make_table

RESULTS = (
    "survival",
    "survival_intervals",
    "at_risk",
    "life_summary",
    "comparisons",
    "looks",
    "causes",
)


@dataclass(frozen=True)
class SurvivalTables:
    """What the stage gives: tables of these names."""

    survival: pa.Table
    survival_intervals: pa.Table
    at_risk: pa.Table
    life_summary: pa.Table
    comparisons: pa.Table
    looks: pa.Table
    causes: pa.Table
    findings: pa.Table


def run(
    *,
    cells: pa.Table,
    lifetimes: pa.Table,
    survival: Survival,
    comparison: Comparison,
    primary_clock: str,
    interim: str = "",
    schedule: Schedule | None = None,
) -> SurvivalTables:
    """Estimate and compare.

    Parameters
    ----------
    cells, lifetimes : pyarrow.Table
        Tables of these names.
    survival, comparison : Survival, Comparison
        Settings.
    primary_clock : str
        Clock that decides, `hours` or `cycles`.
    interim : str
        Mark of an interim look, a sentence without full stop; empty for a final one.
    schedule : Schedule or None
        When differences may be shown; None: at any data cut, each for itself.

    Returns
    -------
    SurvivalTables
    """
    plan = Plan(survival, comparison, primary_clock, interim, schedule)
    sets, found = life_sets(cells, lifetimes=lifetimes, factors=comparison.factors)
    rows: dict[str, list[Row]] = {name: [] for name in RESULTS}
    for lives in sets:
        restriction = restriction_of(lives, comparison)
        times = round_times(float(lives.duration.max()))
        for place in np.unique(lives.group):
            describe(rows, lives, int(place), restriction, times, comparison.confidence)
        compared, looked, unlike = compare(lives, restriction, plan)
        rows["comparisons"] += compared
        rows["looks"] += looked
        found += unlike
    tables = {
        name: make_table(TABLES[name], {c: [row.get(c) for row in own] for c in TABLES[name].names})
        for name, own in rows.items()
    }
    findings = make_table(TABLES["findings"], finding_columns(found))
    return SurvivalTables(**tables, findings=findings)


def work(job: Job) -> dict[str, pa.Table]:
    """Estimate and compare the lives of the campaign."""
    interim, found = interim_mark(ledger=job.table("ledger"), **job.settings["campaign"])
    schedule = schedule_of(ledger=job.table("ledger"), **job.settings["campaign"])
    given = run(
        cells=job.table("cells"),
        lifetimes=job.table("lifetimes"),
        survival=Survival.model_validate(job.settings["survival"]),
        comparison=Comparison.model_validate(job.settings["comparison"]),
        primary_clock=job.settings["lifetime"]["primary_clock"],
        interim=interim,
        schedule=schedule,
    )
    noted = make_table(TABLES["findings"], finding_columns(found))
    findings = pa.concat_tables([noted, given.findings])
    return {name: getattr(given, name) for name in RESULTS} | {"findings_survival": findings}
