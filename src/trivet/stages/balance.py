"""Say how alike groups were built, and whether lives follow the build or the order of a factor.

Nothing here decides a verdict, and no p of the comparison is adjusted for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa

from trivet.campaign.built.covariates import Covariate, covariate_of, value_of
from trivet.campaign.life_sets import LifeSet, life_sets
from trivet.reasons import Direction
from trivet.schema.settings.inference import Comparison, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.science.comparison.balance import aliased, chance_apart, spread_of
from trivet.science.comparison.contrast import scores_of
from trivet.science.survival.exact_log_rank import ExactLogRank, exact_score_test
from trivet.science.survival.linear_permutation import Association, association
from trivet.stages.job import Job
from trivet.store.tables import rows_table

Row = dict[str, Any]
_LEVEL = 1e-9
"""Statistic of a trend below which lives go neither way [1]."""
_MOST_RELABELLINGS = 10**300
"""Largest reference set that a column of numbers can hold [1]."""
NO_MOVE = "within no group and batch do both the number and the lives differ"
ONE_GROUP = "no batch has cells at two places of the order, or no life differs"
DRAWN = "relabellings were drawn, so the smallest p is not known"


def run(
    *,
    cells: pa.Table,
    lifetimes: pa.Table,
    comparison: Comparison,
    survival: Survival,
    primary_clock: str,
    time_zone: str,
) -> dict[str, pa.Table]:
    """Hold numbers of the build beside the groups and the lives, and test orders.

    Parameters
    ----------
    cells, lifetimes : pyarrow.Table
        Tables of these names.
    comparison, survival : Comparison, Survival
        Settings.
    primary_clock : str
        Clock that decides, `hours` or `cycles`.
    time_zone : str
        IANA name of the zone of times written by people.

    Returns
    -------
    dict of str to pyarrow.Table
        Tables `covariates`, `covariate_tests`, `order_trends`.
    """
    sheet = cells.to_pylist()
    numbers = {
        covariate: _numbers(covariate, sheet, ZoneInfo(time_zone))
        for covariate in map(covariate_of, comparison.covariates)
    }
    spreads = [
        row
        for covariate, of_cell in numbers.items()
        for factor in comparison.factors
        for row in _spreads(covariate, of_cell, sheet, factor.factor, factor.control)
    ]
    sets, _ = life_sets(cells, lifetimes=lifetimes, factors=comparison.factors)
    mine = [lives for lives in sets if lives.clock == primary_clock]
    apart = {(row["covariate"], row["factor"]) for row in spreads if row["aliased"]}
    tests = [
        _tested(covariate, of_cell, lives, comparison, survival)
        | {"stands_for": _others(covariate.name, lives.factor, apart)}
        for covariate, of_cell in numbers.items()
        for lives in mine
    ]
    trends = [
        _trend(lives, comparison.ordered[lives.factor], comparison, survival)
        for lives in sets
        if lives.factor in comparison.ordered
    ]
    given = {"covariates": spreads, "covariate_tests": tests, "order_trends": trends}
    return {name: rows_table(TABLES[name], rows) for name, rows in given.items()}


def _numbers(covariate: Covariate, sheet: list[Row], zone: ZoneInfo) -> dict[str, float]:
    """Number of each included cell, NaN where the sheet does not say."""
    return {row["cell"]: value_of(covariate, row, zone) for row in sheet if row["included"]}


def _spreads(
    covariate: Covariate, of_cell: Mapping[str, float], sheet: list[Row], factor: str, control: str
) -> list[Row]:
    """Rows of one number and one factor, a group each."""
    groups: dict[str, list[float]] = {}
    for row in sheet:
        if row["cell"] in of_cell and row.get(factor):
            groups.setdefault(row[factor], []).append(of_cell[row["cell"]])
    found = {group: spread_of(np.array(values)) for group, values in groups.items()}
    against = found.get(control, spread_of(np.array([])))
    return [
        {
            "covariate": covariate.name,
            "unit": covariate.unit,
            "factor": factor,
            "group": group,
            "control": control,
            "missing_cells": len(groups[group]) - spread.cells,
            "aliased": int(group != control and aliased(spread, against)),
            "chance_apart": None if group == control else chance_apart(spread, against),
            **asdict(spread),
        }
        for group, spread in found.items()
    ]


def _others(covariate: str, factor: str, apart: set[tuple[str, str]]) -> str:
    """Other factors whose groups lie apart in a number, joined by commas."""
    return ", ".join(
        sorted(other for name, other in apart if name == covariate and other != factor)
    )


def _tested(
    covariate: Covariate,
    of_cell: Mapping[str, float],
    lives: LifeSet,
    comparison: Comparison,
    survival: Survival,
) -> Row:
    """Row of one number against the lives of one factor."""
    values = np.array([of_cell[str(cell)] for cell in lives.cell])
    known = np.isfinite(values)
    batches = comparison.stratify_by == "batch"
    batch = lives.batch if batches else np.full(len(values), "")
    stratum = np.unique(
        np.array([f"{place}\t{name}" for place, name in zip(lives.group, batch, strict=True)]),
        return_inverse=True,
    )[1]
    kept = replace(lives.of(known), batch=stratum[known])
    found = association(
        scores_of(kept), values=values[known], stratum=kept.batch, **survival.drawing
    )
    return {
        "covariate": covariate.name,
        "unit": covariate.unit,
        "endpoint": lives.endpoint,
        "clock": lives.clock,
        "factor": lives.factor,
        "within": f"{lives.factor} and batch" if batches else lives.factor,
        "cells": len(kept.cell),
        "events": int(kept.observed.sum()),
        "correlation": -found.correlation,
        **_p_of(found, NO_MOVE),
    }


def _trend(lives: LifeSet, order: list[str], comparison: Comparison, survival: Survival) -> Row:
    """Row of one factor with an order: places in the order are its levels."""
    level_of = {
        place: order.index(name) for place, name in enumerate(lives.groups) if name in order
    }
    kept = lives.of(np.isin(lives.group, list(level_of)))
    own = np.unique(kept.group)
    batches = comparison.stratify_by == "batch"
    within = kept if batches else kept.unstratified()
    found = exact_score_test(
        scores_of(within),
        group=np.searchsorted(own, kept.group),
        stratum=within.batch,
        **survival.drawing,
        level=np.array([level_of[place] for place in own], dtype=float),
    )
    return {
        "endpoint": lives.endpoint,
        "clock": lives.clock,
        "factor": lives.factor,
        "order": ", ".join(order),
        "stratified_by": "batch" if batches else "",
        "cells": len(kept.cell),
        "events": int(kept.observed.sum()),
        "statistic": found.statistic,
        "direction": _direction(found.statistic),
        **_p_of(found, ONE_GROUP),
    }


def _direction(statistic: float) -> str:
    """How lives go along the order; empty where nothing can be said."""
    if not np.isfinite(statistic):
        return ""
    if abs(statistic) < _LEVEL:
        return Direction.LEVEL.value
    return Direction.SHORTER.value if statistic > 0 else Direction.LONGER.value


def _p_of(found: Association | ExactLogRank, why_none: str) -> Row:
    """Columns of a p and its reference set."""
    names = ("p", "p_lower", "p_upper", "smallest_attainable_p", "permutations", "draws")
    reason = "" if np.isfinite(found.p) else why_none
    if found.draws and not np.isfinite(found.smallest_attainable_p):
        reason = DRAWN
    row = {name: getattr(found, name) for name in names} | {"reason": reason}
    if found.permutations > _MOST_RELABELLINGS:
        row["permutations"] = None
    return row


def work(job: Job) -> dict[str, pa.Table]:
    """Look at the build and the orders of the campaign."""
    settings = job.settings
    return run(
        **job.tables(),
        comparison=Comparison.model_validate(settings["comparison"]),
        survival=Survival.model_validate(settings["survival"]),
        primary_clock=settings["lifetime"]["primary_clock"],
        time_zone=settings["campaign"]["time_zone"],
    )
