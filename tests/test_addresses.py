"""The address of each column leads to the function that gives its numbers."""

from __future__ import annotations

from typing import Any

import pytest
from demonstrated import Demonstrated, Values
from followed import Follower, columns

from trivet.schema.tables.columns import Column

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
    "life_summary.median_beta_upper": "groups this small bound no median from above",
    "spectra_second_pass.split_refused": "all arcs of the second pass may be read one by one",
    "data_cuts.reason": "both cuts are known",
    "order_trends.reason": "the order of separators can be tested",
}
"""Tables and columns without a value in the demonstration, and why."""

Followed = tuple[Follower, Values]


@pytest.fixture(scope="module")
def followed(demonstration_run: Demonstrated) -> Followed:
    """What functions gave while the demonstration was run, and the values of each column."""
    return demonstration_run.follower, demonstration_run.values


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
