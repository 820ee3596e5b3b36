"""Compare per-cell numbers between groups: capacity, efficiency, drift, resistances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.schema.settings.inference import Comparison, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.science.comparison.cell_measures import up_to_end
from trivet.science.comparison.measure_bounds import spread_within, withheld_bounds
from trivet.science.comparison.measure_tests import Difference, permutation_difference
from trivet.science.comparison.verdict import holm
from trivet.stages.contract import STAGES
from trivet.stages.job import Job
from trivet.stages.measures.numbers import (
    WITHHELD,
    Rows,
    cycling_numbers,
    drift,
    electrode_numbers,
    fading_numbers,
    impedance_numbers,
    ohmic_rises,
)
from trivet.store.group_by_cell import Columns, split_by_cell
from trivet.store.tables import arrays, rows_table

INPUTS = STAGES["measures"].reads


@dataclass(frozen=True)
class MeasureTables:
    """What the stage gives.

    Attributes
    ----------
    cell_measures, measures : pyarrow.Table
        Tables of these names.
    """

    cell_measures: pa.Table
    measures: pa.Table


def run(
    *,
    inputs: Mapping[str, pa.Table],
    comparison: Comparison,
    survival: Survival,
    ageing_rate: float,
    efficiency_cycles: int,
) -> MeasureTables:
    """Take the numbers of every cell and compare them between the groups of every factor.

    Parameters
    ----------
    inputs : mapping of str to pyarrow.Table
        Tables of the campaign by name, see `INPUTS`.
    comparison, survival : Comparison, Survival
        Settings.
    ageing_rate : float
        Rate of the ageing cycles, named where there is none [1/h].
    efficiency_cycles : int
        First ageing cycles that the mean efficiency is taken over [1].

    Notes
    -----
    Every cell has its numbers; those that the build sheet excludes enter no comparison. Measures
    of the reference itself are not withheld where it is not trusted.
    """
    cells = arrays(inputs["cells"])
    split = {name: split_by_cell(inputs[name]) for name in INPUTS if name != "cells"}
    rows: Rows = []
    for cell in cells["cell"]:
        own = _in_life({name: parts.of(cell) for name, parts in split.items()})
        numbers = [
            *cycling_numbers(own["cycles"], ageing_rate, efficiency_cycles),
            *electrode_numbers(own["cycles"], own["electrode_cycles"]),
            drift(own["reference_checks"]),
            *impedance_numbers(own["spectra"]),
            *ohmic_rises(own["resistance_trends"]),
            *fading_numbers(own["attribution"]),
        ]
        rows += [{"cell": cell, **number} for number in numbers]
    contrasts = _contrasts(cells, rows, comparison, survival)
    return MeasureTables(
        cell_measures=_table("cell_measures", rows), measures=_table("measures", contrasts)
    )


def _in_life(own: dict[str, Columns]) -> dict[str, Columns]:
    """Rows of a cell up to its end: what comes after it measures no life."""
    lives = own["lifetimes"]
    mine = (lives["endpoint"] == "cell") & (lives["clock"] == "hours") & (lives["observed"] == 1)
    end_h = float(lives["duration"][mine][0]) if mine.any() else np.inf
    cycles = up_to_end(own["cycles"]["end_h"], end_h=end_h)
    inside = set(own["cycles"]["cycle"][cycles])
    kept = {
        "cycles": cycles,
        "electrode_cycles": np.array(
            [number in inside for number in own["electrode_cycles"]["cycle"]], dtype=bool
        ),
        "spectra": up_to_end(own["spectra"]["time_h"].astype(float), end_h=end_h),
        "attribution": up_to_end(own["attribution"]["time_h"].astype(float), end_h=end_h),
    }
    return own | {
        name: {column: values[rows] for column, values in own[name].items()}
        for name, rows in kept.items()
    }


def _table(name: str, rows: Rows) -> pa.Table:
    """Rows as the table of this name."""
    return rows_table(TABLES[name], rows)


def _contrasts(cells: Columns, rows: Rows, comparison: Comparison, survival: Survival) -> Rows:
    """Every group of every factor against its control, in every measure."""
    counted = cells["included"] == 1
    units = {row["measure"]: row["unit"] for row in rows}
    by_cell = {(row["measure"], row["cell"]): row for row in rows}
    alone = np.full(int(counted.sum()), "all", dtype=object)
    contrasts: Rows = []
    for factor in comparison.factors:
        groups = cells[factor.factor][counted]
        by_batch = comparison.stratify_by == "batch" and factor.factor != "batch"
        stratum = cells["batch"][counted] if by_batch else alone
        for measure, unit in units.items():
            own = [by_cell[measure, cell] for cell in cells["cell"][counted]]
            values = np.array([row["value"] for row in own], dtype=float)
            held = np.array([row["reason"] == WITHHELD for row in own], dtype=bool)
            family = {}
            for group in sorted(set(groups) - {factor.control}):
                both = np.isin(groups, [group, factor.control])
                family[group] = _contrast(
                    values[both],
                    withheld=held[both],
                    in_group=groups[both] == group,
                    stratum=stratum[both],
                    comparison=comparison,
                    survival=survival,
                )
            head = {"measure": measure, "unit": unit, "factor": factor.factor}
            contrasts += _family_rows(family, head | {"control": factor.control})
    return contrasts


def _contrast(
    values: np.ndarray,
    *,
    withheld: np.ndarray,
    in_group: np.ndarray,
    stratum: np.ndarray,
    comparison: Comparison,
    survival: Survival,
) -> dict[str, Any]:
    """One group against its control: test, interval, spread, and what is withheld."""
    difference = permutation_difference(
        values,
        in_group=in_group,
        stratum=stratum,
        confidence=comparison.confidence,
        **survival.drawing,
    )
    lowest, highest = withheld_bounds(values, withheld=withheld, in_group=in_group, stratum=stratum)
    return {
        **{name: getattr(difference, name) for name in Difference.__dataclass_fields__},
        "withheld_cells": int(withheld.sum()),
        "bound_lower": lowest,
        "bound_upper": highest,
        "group_spread": spread_within(values[in_group]),
        "control_spread": spread_within(values[~in_group]),
    }


def _family_rows(family: Mapping[str, dict[str, Any]], head: Mapping[str, str]) -> Rows:
    """Rows of the contrasts of one measure and factor, their p adjusted together."""
    adjusted = holm(np.array([contrast["p"] for contrast in family.values()], dtype=float))
    return [
        {**head, "group": group, "p_adjusted": p_adjusted, **contrast}
        for (group, contrast), p_adjusted in zip(family.items(), adjusted, strict=True)
    ]


def work(job: Job) -> dict[str, pa.Table]:
    """Compare numbers of cells between groups."""
    tables = run(
        inputs=job.tables(),
        comparison=Comparison.model_validate(job.settings["comparison"]),
        survival=Survival.model_validate(job.settings["survival"]),
        **job.settings["cycling"],
    )
    return {name: getattr(tables, name) for name in ("cell_measures", "measures")}
