"""The table of steps of the current: resistances of cell and electrodes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from trivet.reasons import StepKind
from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.electrodes.step_resistance import Steps, step_resistances, steps_of
from trivet.stages.cycling.cell import Cell
from trivet.stages.cycling.fitness import ServedCycles
from trivet.store.tables import make_table

_SLOW = ("formation", "check-up")
_ELECTRODES = ("positive", "negative")


def step_table(
    cell: Cell, halves: Halves, found: Cycles, served: ServedCycles, *, exchanged: bool
) -> pa.Table:
    """The table `step_resistances`: steps that could be read, of slow and interrupted cycles."""
    record, given, table = cell.record, cell.cycling, TABLES["step_resistances"]
    steps = steps_of(
        record.time_s,
        cell.current_mA,
        halves,
        found,
        places=np.arange(found.cycle.size),
        delay_s=given.dc_delay_s,
        tolerance_s=given.dc_delay_tolerance_s,
    )
    place = _places(halves, found)[steps.half]
    kept = np.flatnonzero((steps.at_row >= 0) & _wanted(steps, place, found)[place])
    named = ("cell", *_ELECTRODES) if cell.has_electrodes else ("cell",)
    potentials = {name: cell.potentials_V[name] for name in named}
    values = step_resistances(steps, potentials, error_V=cell.reading_errors_V)
    shown = served.difference[place] & (not exchanged)
    columns: dict[str, Any] = {
        "cell": [cell.name] * kept.size,
        "cycle": found.cycle[place[kept]],
        "half": np.where(halves.rows.sign[steps.half[kept]] > 0, "charge", "discharge").tolist(),
        "step": [steps.kind[index].value for index in kept],
        "time_h": record.time_s[steps.before_row[kept]] / 3600.0,
        "withheld": (~shown[kept]).astype(np.int64),
    }
    for name in ("from_mA", "to_mA", "delay_s", "delay_bound_s", "state_of_charge"):
        columns[name] = getattr(steps, name)[kept]
    for name in ("cell", *_ELECTRODES):
        one = values.get(name)
        for what in ("resistance_ohm", "error_ohm"):
            column = f"{name}_ohm" if what == "resistance_ohm" else f"{name}_error_ohm"
            number = np.full(kept.size, np.nan) if one is None else getattr(one, what)[kept]
            columns[column] = number if name == "cell" else np.where(shown[kept], number, np.nan)
    return make_table(table, columns)


def _places(halves: Halves, found: Cycles) -> np.ndarray:
    """Cycle that each half-cycle belongs to."""
    out = np.zeros(halves.rows.sign.size, dtype=np.int64)
    for index in (found.charge, found.discharge):
        known = index >= 0
        out[index[known]] = np.flatnonzero(known)
    return out


def _wanted(steps: Steps, place: np.ndarray, found: Cycles) -> np.ndarray:
    """Cycles whose steps are listed: slow ones, and those with a step within a half-cycle."""
    wanted = np.isin(found.kind.astype(str), _SLOW)
    inside = np.array([kind is StepKind.WITHIN for kind in steps.kind], dtype=bool)
    wanted[place[inside & (steps.at_row >= 0)]] = True
    return wanted
