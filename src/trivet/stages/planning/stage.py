"""Say what the groups at hand could have shown, and how many cells the next campaign needs."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from trivet.campaign.life_sets import LifeSet, life_sets
from trivet.schema.settings.inference import Comparison
from trivet.schema.tables.dictionary import TABLES
from trivet.science.comparison.contrast import equivalence_confidence
from trivet.science.comparison.design_power import Design, design_power
from trivet.science.comparison.planning import Power, equivalence_power
from trivet.science.survival.parametric import time_ratio
from trivet.stages.job import Job
from trivet.stages.planning.design import Calendar, design_of, design_of_size
from trivet.store.tables import rows_table

CELLS = (3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32, 40)
"""Cells of each group that are tried."""
RATIOS = (1.25, 1.5, 2.0, 3.0)
"""Time ratios at which the groups at hand are judged."""
SIMULATIONS = 1000
SIMULATIONS_TRIED = 500
"""Campaigns simulated at hand, and for each number of cells that is tried."""

AT_HAND = "difference, cells at hand"
DIFFERENCE = "difference, cells planned"
EQUIVALENCE = "equivalence, cells planned"
NEEDED = {
    DIFFERENCE: "cells needed for the difference",
    EQUIVALENCE: "cells needed for equivalence",
}
NO_SPREAD = "the spread of lives is not known: "

Row = dict[str, Any]


def run(
    *,
    cells: pa.Table,
    lifetimes: pa.Table,
    comparison: Comparison,
    primary_clock: str,
    seed: int,
    calendar: Calendar,
) -> pa.Table:
    """Plan for the primary endpoint and clock, each factor and group.

    Parameters
    ----------
    cells, lifetimes : pyarrow.Table
        Tables of these names.
    comparison : Comparison
        Settings.
    primary_clock : str
        Clock that decides, `hours` or `cycles`.
    seed : int
        Seed of the simulations.
    calendar : Calendar
        When the campaign is looked at.
    """
    sets, _ = life_sets(cells, lifetimes=lifetimes, factors=comparison.factors)
    rows: list[Row] = []
    for lives in sets:
        if (lives.endpoint, lives.clock) != (comparison.primary_endpoint, primary_clock):
            continue
        design = _design(lives, comparison, calendar)
        for place in range(1, len(lives.groups)):
            rows += _contrast(lives, place, design, comparison, seed)
    return rows_table(TABLES["planning"], rows, sparse=True)


def _design(lives: LifeSet, comparison: Comparison, calendar: Calendar) -> Design:
    """The design at hand: looks where they would be planned."""
    looked = lives.clock == "hours" and not lives.between_checks
    entry = None
    if lives.delayed:
        mean = float(lives.duration.mean())
        entry = lives.entry / mean if mean > 0 else None
    return design_of(
        lives.group,
        batch=lives.batch,
        start_s=lives.start_s,
        comparison=comparison,
        calendar=calendar if looked else Calendar(None, calendar.time_zone),
        entry=entry,
    )


def _contrast(
    lives: LifeSet, place: int, design: Design, comparison: Comparison, seed: int
) -> list[Row]:
    """Rows of one group against the control."""
    own = (lives.group == place) | (lives.group == 0)
    group = (lives.group[own] == place).astype(int)
    batch = lives.batch[own] if comparison.stratify_by == "batch" else np.zeros(len(group))
    observed = lives.observed[own]
    base = {**lives.about(lives.groups[place]), "control": lives.groups[0]}
    base["power_wanted"] = comparison.planned_power
    ratio = time_ratio(lives.duration[own], observed=observed, group=group, stratum=batch)
    counts = {"cells": int(group.sum()), "control_cells": int((group == 0).sum())}
    if not np.isfinite(ratio.spread):
        reason = NO_SPREAD + (ratio.reason or "not estimable")
        return [{**base, **counts, "purpose": AT_HAND, "time_ratio": comparison.planned_time_ratio,
                 "reason": reason}]  # fmt: skip
    ends, locations = int(observed.sum()), 1 + len(np.unique(batch))
    # the most likely spread is too small by about this factor, as in a regression
    spread = ratio.spread * float(np.sqrt(ends / max(ends - locations, 1)))
    base |= {"spread": spread, "censored_share": 1 - ends / len(group)}
    common: dict[str, Any] = {
        "spread": spread,
        "censored": 1 - ends / len(group),
        "seed": seed,
    }
    rows = []
    for tried in sorted({*RATIOS, comparison.planned_time_ratio}):
        power = design_power(design, place=place, ratio=tried, simulations=SIMULATIONS, **common)
        rows.append({**base, **counts, "purpose": AT_HAND, "time_ratio": tried, **_values(power)})
    return rows + _planned(base, comparison, common | {"simulations": SIMULATIONS_TRIED}, design)


def _planned(
    base: Row, comparison: Comparison, common: dict[str, Any], design: Design
) -> list[Row]:
    """Rows for numbers of cells that could be built, and the first that is enough."""
    contrasts = int(design.group.max())
    confidence = equivalence_confidence(comparison.confidence, contrasts=contrasts)
    powers: dict[str, list[Row]] = {DIFFERENCE: [], EQUIVALENCE: []}
    for cells in CELLS:
        shown = design_power(
            design_of_size(design, cells), place=1, ratio=comparison.planned_time_ratio, **common
        )
        same = equivalence_power(
            cells, ratio=1.0, margin=comparison.equivalence_margin, confidence=confidence, **common
        )
        for purpose, power, ratio in (
            (DIFFERENCE, shown, comparison.planned_time_ratio),
            (EQUIVALENCE, same, 1.0),
        ):
            powers[purpose].append(
                {**base, "purpose": purpose, "cells": cells, "control_cells": cells,
                 "time_ratio": ratio, **_values(power)}
            )  # fmt: skip
    rows = []
    for purpose, tried in powers.items():
        rows += tried
        enough = [row for row in tried if row["power"] >= comparison.planned_power]
        best = enough[0] if enough else tried[-1]
        reason = "" if enough else f"more than {CELLS[-1]} a group; the power there stands here"
        rows.append({**best, "purpose": NEEDED[purpose], "reason": reason})
    return rows


def _values(power: Power) -> Row:
    """Power as columns."""
    return {
        "power": power.power,
        "lower": power.lower,
        "upper": power.upper,
        "simulations": power.simulations,
        "reason": "",
    }


def work(job: Job) -> dict[str, pa.Table]:
    """Plan from the lives at hand."""
    planned = run(
        **job.tables(),
        comparison=Comparison.model_validate(job.settings["comparison"]),
        primary_clock=job.settings["lifetime"]["primary_clock"],
        seed=job.settings["survival"]["seed"],
        calendar=Calendar(**job.settings["campaign"]),
    )
    return {"planning": planned}
