"""The address of each column leads to the function that gives its numbers."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from campaign_runs import demonstration
from followed import Follower

from trivet.schema.tables.columns import Column
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import STAGES
from trivet.stages.job import open_job, shape_of, work_of
from trivet.store.tables import write_table
from trivet.workflow.run import Workflow

CELLS = [
    "c01", "c03", "c04", "c05", "c07", "c08", "c11", "c12", "c13", "c14", "c16", "c17", "c18",
    "c19", "c20", "c24",
]  # fmt: skip
"""Cells of the demonstration that between them ended in every way and have every fault."""

EMPTY = {
    "capacity_records": "no raw file of the demonstration states capacities",
    "plating_series": "no raw file of the demonstration shows the plating current",
    "plating.file": "no raw file of the demonstration shows the plating current",
    "rate_capability": "the protocol of the demonstration has no rate test",
    "pooled": "the demonstration names no earlier campaign",
    "reports_issued": "no report of this campaign was issued before",
    "input_changes": "no report of this campaign was issued before",
    "late_decisions": "no report of this campaign was issued before",
    "lifetimes.entry": "only a table of lives states delayed entry",
    "cycles.areal_capacity_uncertainty_mAh_cm2": "the sheet states no uncertainty of the disc",
    "forecasts.reason": "each cell that runs has enough readings",
    "life_summary.median_upper": "groups this small bound no median from above",
    "life_summary.median_beta_upper": "groups this small bound no median from above",
    "spectra_second_pass.split_refused": "all arcs of the second pass may be read one by one",
    "data_cuts.reason": "both cuts are known",
    "order_trends.reason": "the order of separators can be tested",
}
"""Tables and columns without a value in these cells, and why."""

Values = dict[tuple[str, str], set[Any]]
Followed = tuple[Follower, Values]


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory) -> Followed:
    """Cells of the demonstration, run in this process and watched; the values of each column."""
    work = tmp_path_factory.mktemp("followed")
    campaign = demonstration(work, cells=CELLS)
    with (campaign / "bench-log.csv").open("a", encoding="utf-8") as log:
        log.write(f"2026-02-02T12:00:00,{CELLS[0]},weighed,,,3410.0,,\n")
    follower = Follower({column.computed_by for _, column in columns()})
    with follower.watching():
        options = {"campaign": str(campaign), "reports": str(work / "reports")}
        workflow = Workflow(options, campaign)
        workflow.prepare()
    values: Values = {}
    for stage in STAGES.values():
        for file in job_files(workflow, stage.name) if stage.writes else ():
            job = open_job(file, campaign)
            with follower.watching():
                given = work_of(stage.name)(job)
            for name, data in given.items():
                write_table(shape_of(name), data, job.path(name, writes=True))
                take(values, name, data)
    return follower, values


def job_files(workflow: Workflow, stage: str) -> list[Path]:
    """Files of the jobs of a stage, one or one for each cell."""
    jobs = workflow.jobs
    if not STAGES[stage].of_cell:
        return [jobs.path(stage)]
    return [jobs.path(f"{stage}-{cell}") for cell in workflow.cells_read]


def take(values: Values, table: str, data: pa.Table) -> None:
    """Keep the values of a table, each once, without those that are missing."""
    shape = shape_of(table)
    for column in shape.columns:
        found = {value for value in data[column.name].unique().to_pylist() if is_value(value)}
        values.setdefault((shape.name, column.name), set()).update(found)


def is_value(value: Any) -> bool:
    """Whether a cell of a table says something."""
    return value not in (None, "") and not (isinstance(value, float) and math.isnan(value))


def columns() -> list[tuple[str, Column]]:
    """Every column of the dictionary with its table."""
    return [(table.name, column) for table in TABLES.values() for column in table.columns]


def fault_of(column: Column, found: set[Any], follower: Follower) -> str:
    """What the function at the address of a column never gave; empty where it gave all."""
    given = follower.given(column.computed_by)
    if given is None:
        return f"{column.computed_by} is never called"
    lacking = given.lacks(column, found)
    if not lacking:
        return ""
    share = f"{len(lacking)} of {len(found)}"
    return f"{column.computed_by} never gave {share} values, as {lacking[:3]}"


def test_each_value_comes_out_of_the_function_at_its_address(followed: Followed) -> None:
    """Whoever follows the address of a column finds the function that gave what the table says."""
    follower, values = followed
    wrong = [
        f"{table}.{column.name}: {fault}"
        for table, column in columns()
        if (found := values.get((table, column.name)))
        and (fault := fault_of(column, found, follower))
    ]
    assert not wrong, "\n".join(wrong)


def test_columns_without_values_are_those_listed(followed: Followed) -> None:
    """A column that these cells leave empty stands in the list, with its reason, and no other."""
    _, values = followed
    empty = {
        table if table in EMPTY else f"{table}.{column.name}"
        for table, column in columns()
        if not values.get((table, column.name))
    }
    assert empty == set(EMPTY)


@pytest.mark.parametrize(
    ("table", "column", "elsewhere"),
    [
        ("cycles", "discharge_capacity_mAh", "cycles.c_rate"),
        ("cycles", "retention", "cycles.coulombic_efficiency"),
        ("lifetimes", "evidence", "cells.status"),
        ("comparisons", "p", "comparisons.expected_events"),
        ("spectra", "polarisation_resistance_ohm", "spectra.kk_rms_percent"),
    ],
)
def test_a_wrong_address_is_found(
    followed: Followed, table: str, column: str, elsewhere: str
) -> None:
    """A column that names the function of another one is told from what that one gives."""
    follower, values = followed
    all_columns = {f"{name}.{one.name}": one for name, one in columns()}
    wrong = all_columns[f"{table}.{column}"]
    wrong = wrong.__class__(**{**vars(wrong), "computed_by": all_columns[elsewhere].computed_by})
    assert "never gave" in fault_of(wrong, values[table, column], follower)
