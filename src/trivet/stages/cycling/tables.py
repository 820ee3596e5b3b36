"""Tables of the stage cycling from the results of science."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import Cycles, Excursions
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.integrals import charge_mAh
from trivet.science.cycling.phases import Phases, drawn_cycles, thinned
from trivet.science.cycling.stated_capacity import StatedCycles
from trivet.science.electrodes.mass import per_unit
from trivet.science.reference.record import Plating
from trivet.science.reference.review import Review
from trivet.science.reference.trust import TrustSpans, trust_over
from trivet.stages.cycling.cell import Cell
from trivet.stages.cycling.fitness import ServedCycles
from trivet.stages.cycling.plating import deposits
from trivet.stages.cycling.sheet import positive_area_cm2, positive_mass_g
from trivet.store.tables import empty, make_table

POINTS_DRAWN = 120
"""Points of a drawn half-cycle at most: finer than print shows."""


def trust_of_cycles(spans: TrustSpans, found: Cycles) -> list[str]:
    """Trust of the reference over each cycle."""
    return [
        trust_over(spans.starts_h, spans.ends_h, spans.states, float(start), float(end))
        for start, end in zip(found.start_h, found.end_h, strict=True)
    ]


def cycle_table(cell: Cell, found: Cycles) -> pa.Table:
    """The table `cycles`."""
    table = TABLES["cycles"]
    specific, areal = positive_mass_g(cell.facts), positive_area_cm2(cell.facts)
    columns: dict[str, Any] = {"cell": [cell.name] * found.cycle.size}
    for name, divisor in (
        ("specific_capacity{}_mAh_g", specific),
        ("areal_capacity{}_mAh_cm2", areal),
    ):
        value, uncertainty = per_unit(found.discharge_capacity_mAh, divisor)
        columns |= {name.format(""): value, name.format("_uncertainty"): uncertainty}
    columns |= {key: getattr(found, key) for key in table.names if key not in columns}
    return make_table(table, columns)


def stated_table(name: str, found: StatedCycles) -> pa.Table:
    """The table `cycles` of capacities that a raw file states; all that needs rows is missing."""
    table, count = TABLES["cycles"], found.cycle.size
    nothing = np.full(count, np.nan)
    columns: dict[str, Any] = {
        column.name: [""] * count if column.type == "text" else nothing for column in table.columns
    }
    columns |= {
        "cell": [name] * count,
        "cycle": found.cycle,
        "discharge_capacity_mAh": found.capacity_mAh,
        "retention": found.retention,
        "kind": ["ageing"] * count,
        "complete": np.ones(count, dtype=np.int64),
    }
    return make_table(table, columns)


def check_table(name: str, result: Review) -> pa.Table:
    """The table `reference_checks`."""
    keys = (
        "time_h", "check", "value", "unit", "limit", "trust", "lower", "upper", "uncertainty",
    )  # fmt: skip
    columns: dict[str, Any] = {key: [getattr(c, key) for c in result.checks] for key in keys}
    return make_table(TABLES["reference_checks"], {"cell": [name] * len(result.checks), **columns})


def plating_table(cell: Cell, plated: tuple[Plating, ...], result: Review) -> pa.Table:
    """The table `plating`."""
    found, table = deposits(cell, plated, result.trust), TABLES["plating"]
    columns: dict[str, Any] = {"cell": [cell.name] * len(found)}
    columns["plating"] = list(range(1, len(found) + 1))
    known = [plating for plating in plated if plating.known]
    columns["file"] = [plating.file for plating in known]
    columns["logged"] = [int(plating.logged) for plating in known]
    columns |= {key: [getattr(one, key) for one in found] for key in table.names[4:]}
    return make_table(table, columns)


def timeline_table(name: str, done: Phases, spans: TrustSpans) -> pa.Table:
    """The table `timeline`, with both tracks."""
    count = len(done.states), len(spans.states)
    return make_table(
        TABLES["timeline"],
        {
            "cell": [name] * sum(count),
            "track": ["phase"] * count[0] + ["reference"] * count[1],
            "state": [*done.states, *spans.states],
            "start_h": np.concatenate([done.starts_h, spans.starts_h]),
            "end_h": np.concatenate([done.ends_h, spans.ends_h]),
        },
    )


def excursion_table(name: str, found: Excursions) -> pa.Table:
    """The table `excursions`."""
    return make_table(TABLES["excursions"], {"cell": [name] * found.start_h.size, **vars(found)})


def curve_table(
    cell: Cell,
    halves: Halves,
    found: Cycles,
    trust: Sequence[str],
    served: ServedCycles,
) -> pa.Table:
    """The table `potential_curves`: some cycles, thinned, potentials as the reference serves.

    Where only the offset is unknown curves are shown as they were measured: their shape holds.
    """
    record = cell.record
    parts = [empty(TABLES["potential_curves"])]
    for place in drawn_cycles(found, count=cell.settings.report.cycles_drawn):
        for half, index in (("charge", found.charge[place]), ("discharge", found.discharge[place])):
            first, last = int(halves.rows.first_row[index]), int(halves.rows.last_row[index])
            rows = slice(first, last + 1)
            passed = charge_mAh(
                record.time_s[rows],
                cell.current_mA[rows],
                sign=1 if half == "charge" else -1,
                longest_gap_s=cell.cycling.longest_gap_s,
            )
            kept = thinned(last + 1 - first, most=POINTS_DRAWN)
            shown = bool(served.absolute[place] or served.shape[place])
            taken_off_V = float(np.nan_to_num(served.correction_mV[place])) / 1000.0
            hidden = np.full(kept.size, np.nan)
            columns: dict[str, Any] = {
                "cell": [cell.name] * kept.size,
                "cycle": np.full(kept.size, found.cycle[place]),
                "half": [half] * kept.size,
                "capacity_mAh": np.concatenate([[0.0], np.cumsum(passed)])[kept],
                "cell_V": record.cell_V[rows][kept],
                "positive_V": record.positive_V[rows][kept] - taken_off_V if shown else hidden,
                "negative_V": record.negative_V[rows][kept] - taken_off_V if shown else hidden,
                "trust": [trust[place]] * kept.size,
            }
            parts.append(make_table(TABLES["potential_curves"], columns))
    return pa.concat_tables(parts)
