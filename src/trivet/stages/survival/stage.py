"""Estimate survival by group and compare the groups with their control.

Settings
--------
survival, comparison, lifetime (primary_clock), campaign (planned_end, time_zone, data_cut).

Reads
-----
cells, lifetimes; ledger for the last time in the data.

Writes
------
survival, survival_intervals, at_risk, life_summary, comparisons, causes, findings_survival.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.campaign.interim import interim_mark
from trivet.campaign.life_sets import life_sets
from trivet.schema.findings.finding import finding_columns
from trivet.schema.settings.inference import Comparison, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.science.survival.group_life import round_times
from trivet.stages.command import parse, spare_pandas
from trivet.stages.survival.rows import Plan, Row, compare, describe, restriction_of
from trivet.store.tables import make_table, read_table, write_table

RESULTS = ("survival", "survival_intervals", "at_risk", "life_summary", "comparisons", "causes")


@dataclass(frozen=True)
class SurvivalTables:
    """What the stage gives: tables of these names."""

    survival: pa.Table
    survival_intervals: pa.Table
    at_risk: pa.Table
    life_summary: pa.Table
    comparisons: pa.Table
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

    Returns
    -------
    SurvivalTables
    """
    plan = Plan(survival, comparison, primary_clock, interim)
    sets, found = life_sets(cells, lifetimes=lifetimes, factors=comparison.factors)
    rows: dict[str, list[Row]] = {name: [] for name in RESULTS}
    for lives in sets:
        restriction = restriction_of(lives, comparison)
        times = round_times(float(lives.duration.max()))
        for place in np.unique(lives.group):
            describe(rows, lives, int(place), restriction, times, comparison.confidence)
        compared, unlike = compare(lives, restriction, plan)
        rows["comparisons"] += compared
        found += unlike
    tables = {
        name: make_table(TABLES[name], {c: [row.get(c) for row in own] for c in TABLES[name].names})
        for name, own in rows.items()
    }
    findings = make_table(TABLES["findings"], finding_columns(found))
    return SurvivalTables(**tables, findings=findings)


def main(argv: Sequence[str] | None = None) -> None:
    """Run from the command line.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    command = parse(argv, (__doc__ or "").splitlines()[0])
    cells, lifetimes, ledger = command.inputs
    interim, found = interim_mark(
        ledger=read_table(TABLES["ledger"], ledger), **command.settings["campaign"]
    )
    given = run(
        cells=read_table(TABLES["cells"], cells),
        lifetimes=read_table(TABLES["lifetimes"], lifetimes),
        survival=Survival.model_validate(command.settings["survival"]),
        comparison=Comparison.model_validate(command.settings["comparison"]),
        primary_clock=command.settings["lifetime"]["primary_clock"],
        interim=interim,
    )
    for name in RESULTS:
        write_table(TABLES[name], getattr(given, name), command.out / f"{name}.parquet")
    noted = make_table(TABLES["findings"], finding_columns(found))
    findings = pa.concat_tables([noted, given.findings])
    write_table(TABLES["findings"], findings, command.out / "findings_survival.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
