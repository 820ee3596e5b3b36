"""Power of a campaign as the build sheet plans it, before there are data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.inference import Comparison, Factor
from trivet.science.comparison.contrast import equivalence_confidence
from trivet.science.comparison.design_power import Design, design_power
from trivet.science.comparison.planning import Power, equivalence_power
from trivet.stages.planning.design import Calendar, design_of

RATIOS = (1.25, 1.5, 2.0)
"""Time ratios at which a plan is judged."""
SIMULATIONS = 400


@dataclass(frozen=True)
class PlanPower:
    """What a plan could show of one contrast.

    Attributes
    ----------
    factor, group, control : str
        The contrast.
    cells, control_cells : int
        Included cells of each [1].
    difference : dict of float to Power
        Chance to show a difference, by the true time ratio.
    same : Power
        Chance to show equivalence where lives are the same.
    looks : int
        Looks at which a difference may be shown [1].
    """

    factor: str
    group: str
    control: str
    cells: int
    control_cells: int
    difference: dict[float, Power]
    same: Power
    looks: int


def power_before_data(
    cells: Sequence[CellFacts], *, comparison: Comparison, calendar: Calendar, seed: int
) -> list[PlanPower]:
    """Say what a plan could show, by its own rule, of the spread and censoring it expects.

    Parameters
    ----------
    cells : sequence of CellFacts
        All cells of the build sheet.
    comparison : Comparison
        Settings.
    calendar : Calendar
        When the campaign is looked at.
    seed : int
        Seed of the simulations.
    """
    found = []
    included = [cell for cell in cells if cell.included]
    for factor in comparison.factors:
        own = [cell for cell in included if cell.values.get(factor.factor)]
        names = sorted({cell.values[factor.factor] for cell in own} - {factor.control})
        places = {name: place for place, name in enumerate((factor.control, *names))}
        group = np.array([places[cell.values[factor.factor]] for cell in own], dtype=int)
        if not names or not np.any(group == 0):
            continue
        starts = [cell.clock_start_s for cell in own]
        design = design_of(
            group,
            batch=np.array([cell.batch for cell in own]),
            start_s=np.array([np.nan if start is None else start for start in starts]),
            comparison=comparison,
            calendar=calendar,
        )
        found += [
            _contrast(design, place, factor, name, comparison, seed)
            for place, name in enumerate(names, start=1)
        ]
    return found


def _contrast(
    design: Design, place: int, factor: Factor, name: str, comparison: Comparison, seed: int
) -> PlanPower:
    """What a design could show of one group."""
    sizes = np.bincount(design.group)
    common: dict[str, Any] = {
        "spread": comparison.planned_spread,
        "censored": comparison.planned_censored_share,
        "simulations": SIMULATIONS,
        "seed": seed,
    }
    same = equivalence_power(
        int(min(sizes[0], sizes[place])),
        ratio=1.0,
        margin=comparison.equivalence_margin,
        confidence=equivalence_confidence(comparison.confidence, contrasts=len(sizes) - 1),
        **common,
    )
    return PlanPower(
        factor=factor.factor,
        group=name,
        control=factor.control,
        cells=int(sizes[place]),
        control_cells=int(sizes[0]),
        difference={
            ratio: design_power(design, place=place, ratio=ratio, **common) for ratio in RATIOS
        },
        same=same,
        looks=len(design.looks),
    )
