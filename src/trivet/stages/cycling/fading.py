"""What fades: capacity shared out at each check-up, and how half-cycles end."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.electrodes.attribution import TERMS, Attribution, Change, attribute, lost_by
from trivet.science.electrodes.end_points import EndPoint, end_point
from trivet.science.electrodes.registration import (
    CycleCurves,
    Registration,
    constant_current_curve,
    register,
)
from trivet.stages.cycling.cell import Cell
from trivet.stages.cycling.fitness import ServedCycles
from trivet.store.tables import rows_table

CHECK_UP = "check-up"
ALIKE_RATE = 0.05
"""Rates of two check-ups differ by so much at most; common practice, no source."""
HELD = 0.005
"""Share of charge at constant voltage from which on a charge ends with a hold; common practice,
no source."""
_SIDES = ("positive", "negative")
_OF_END = ("positive_V", "negative_V", "positive_slope_V_mAh", "negative_slope_V_mAh")
_WAYS = ("charge", "discharge")


@dataclass(frozen=True)
class _Rows:
    """Rows of a cell from which curves are cut."""

    cell: Cell
    halves: Halves
    found: Cycles
    exchanged: bool

    def half(self, index: int) -> tuple[np.ndarray, slice]:
        """Charge passed since the beginning of a half-cycle [mAh], and its rows with current."""
        rows = self.halves.rows
        first, last = int(rows.first_row[index]), int(rows.last_row[index])
        start = int(rows.from_row[index])
        passed = self.halves.passed[1 if rows.sign[index] > 0 else -1][start:last]
        total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(passed))])
        return total[first - start :], slice(first, last + 1)

    def curves(self, place: int) -> CycleCurves | None:
        """The four curves of a cycle at constant current; None where one is not there."""
        record, found = self.cell.record, {}
        for way in _WAYS:
            index = int(getattr(self.found, way)[place])
            passed, part = self.half(index)
            # both count from the top of charge
            charge = passed if way == "discharge" else passed[-1] - passed
            for side in _SIDES:
                potential = getattr(record, f"{side}_V")[part]
                curve = constant_current_curve(charge, potential, record.current_mA[part])
                if curve is None:
                    return None
                found[f"{side}_{way}"] = curve
        return CycleCurves(**found)


def attribution_table(
    cell: Cell, halves: Halves, found: Cycles, served: ServedCycles, *, exchanged: bool
) -> pa.Table:
    """The table `attribution`: every check-up but the first, with its reason where it has none.

    `exchanged`: leads at the wrong place, so that each curve is another's.
    """
    table = TABLES["attribution"]
    places = np.flatnonzero(found.kind == CHECK_UP)
    rows = _Rows(cell, halves, found, exchanged)
    base, base_curves = _base(rows, places, served)
    lines = []
    for place in places:
        if base is not None and place <= base:
            continue
        line = _check_up(rows, int(place), base, base_curves, served)
        lines.append({"cell": cell.name} | line)
    return rows_table(table, lines, sparse=True)


def _base(
    rows: _Rows, places: np.ndarray, served: ServedCycles
) -> tuple[int | None, CycleCurves | None]:
    """The first check-up that others can be compared with, and its curves.

    The first cycle of a cell is none: layers still form.
    """
    for place in places:
        if place == 0 or _why_not(rows, int(place), served):
            continue
        curves = rows.curves(int(place))
        if curves is not None:
            return int(place), curves
    return None, None


def _why_not(rows: _Rows, place: int, served: ServedCycles) -> str:
    """Why a check-up cannot be used; empty where it can."""
    if not rows.found.complete[place]:
        return "the check-up did not run to both its ends"
    if not rows.cell.has_electrodes:
        return "the potentials of the electrodes were not measured"
    if rows.exchanged:
        return "the leads of the electrodes look exchanged"
    if not served.shape[place]:
        return "the reference does not serve for shapes (table fitness)"
    return ""


def _check_up(
    rows: _Rows, place: int, base: int | None, earlier: CycleCurves | None, served: ServedCycles
) -> dict[str, Any]:
    """One line of the table."""
    found = rows.found
    line: dict[str, Any] = {
        "cycle": int(found.cycle[place]),
        "time_h": float(found.start_h[place]),
        "capacity_mAh": float(found.discharge_capacity_mAh[place]),
        "not_estimable": "",
        "reason": "",
    }
    why = _why_not(rows, place, served)
    if base is None or earlier is None:
        return line | {"reason": why or "there is no earlier complete check-up to compare with"}
    lost = float(found.discharge_capacity_mAh[base] - found.discharge_capacity_mAh[place])
    line |= {"base_cycle": int(found.cycle[base])}
    rate = found.c_rate[place] / found.c_rate[base]
    later = None if why else rows.curves(place)
    if later is None:
        return line | {"reason": why or "too few rows at constant current"}
    if abs(rate - 1.0) > ALIKE_RATE:
        return line | {"reason": f"its rate is {rate:.3g} of that of the first check-up"}
    registration = register(earlier, later)
    held = bool(found.constant_voltage_share[base] > HELD)
    shared = attribute(earlier, registration, lost_mAh=lost, held=held)
    faster = rows.cell.cycling.ageing_rate / float(found.c_rate[base])
    return (
        line
        | _numbers(registration, shared)
        | {
            "lost_to_resistance_at_ageing_rate_mAh": lost_by(
                earlier,
                replace(Change(), resistance_mV=shared.change.resistance_mV * faster),
                held=held,
            ),
        }
    )


def _numbers(registration: Registration, shared: Attribution) -> dict[str, Any]:
    """Columns of a check-up that could be registered."""
    change, errors = shared.change, shared.change_errors
    values, of_values = registration.values, registration.errors
    columns: dict[str, Any] = {
        "lost_mAh": shared.lost_mAh,
        "remainder_mAh": shared.remainder_mAh,
        "inventory_lost_mAh": change.inventory_mAh,
        "inventory_lost_error_mAh": errors["inventory_mAh"],
        "inventory_lost_at_most_mAh": shared.inventory_at_most_mAh,
        "capacity_ratio_change": change.negative_active / change.positive_active,
        "offset_change_mV": values["offset_mV"],
        "offset_change_error_mV": of_values["offset_mV"],
        "resistance_grown_mV": change.resistance_mV,
        "resistance_grown_error_mV": errors["resistance_mV"],
        "not_estimable": ", ".join(shared.missing),
        "reason": "" if len(shared.missing) < len(TERMS) else _misfit(registration),
    }
    for term in TERMS:
        columns[f"lost_to_{term}_mAh"] = shared.terms_mAh[term]
        columns[f"lost_to_{term}_error_mAh"] = shared.errors_mAh[term]
    for side in _SIDES:
        columns[f"{side}_active"] = values[f"{side}_active"]
        columns[f"{side}_active_error"] = of_values[f"{side}_active"]
        columns[f"{side}_shift_mAh"] = values[f"{side}_shift_discharge_mAh"]
        columns[f"{side}_shift_error_mAh"] = of_values[f"{side}_shift_discharge_mAh"]
        columns[f"{side}_misfit_mV"] = registration.misfit_mV[side]
    return columns


def _misfit(registration: Registration) -> str:
    """Why a fit told nothing."""
    worst = max(registration.misfit_mV.values())
    least = min(registration.overlap.values())
    return (
        f"the curves could not be laid upon those of the first check-up: "
        f"residuals of {worst:.3g} mV, overlap {least:.2g}"
    )


def end_point_table(
    cell: Cell, halves: Halves, found: Cycles, served: ServedCycles, *, exchanged: bool
) -> pa.Table:
    """The table `end_points`: both half-cycles of every cycle."""
    table = TABLES["end_points"]
    rows = _Rows(cell, halves, found, exchanged)
    slips = {
        way: _since_first(getattr(found, f"{way}_slippage_mAh"), found.complete.astype(bool))
        for way in _WAYS
    }
    lines = []
    for place in range(found.cycle.size):
        withheld = not served.absolute[place]
        taken_off_V = float(np.nan_to_num(served.correction_mV[place])) / 1000.0
        for way in _WAYS:
            index = int(getattr(found, way)[place])
            if index < 0:
                continue
            passed, part = rows.half(index)
            record = cell.record
            end = end_point(
                passed,
                record.positive_V[part] - taken_off_V,
                record.negative_V[part] - taken_off_V,
                record.current_mA[part],
            )
            lines.append(
                {
                    "cell": cell.name,
                    "cycle": int(found.cycle[place]),
                    "half": way,
                    "time_h": float(record.time_s[part.stop - 1]) / 3600.0,
                    "slippage_mAh": float(slips[way][place]),
                    "withheld": int(withheld),
                }
                | _shown(end, withheld=withheld, exchanged=exchanged)
            )
    return rows_table(table, lines)


def _shown(end: EndPoint, *, withheld: bool, exchanged: bool) -> dict[str, Any]:
    """Columns of an end; slopes and who ends it need no known offset, and the right leads."""
    if exchanged:
        return dict.fromkeys(_OF_END) | {"ended_by": "", "withheld": 1}
    return {
        "positive_V": None if withheld else end.positive_V,
        "negative_V": None if withheld else end.negative_V,
        "positive_slope_V_mAh": end.positive_slope_V_mAh,
        "negative_slope_V_mAh": end.negative_slope_V_mAh,
        "ended_by": str(end.ended_by),
    }


def _since_first(slips: np.ndarray, complete: np.ndarray) -> np.ndarray:
    """Sum of the slips since the first complete cycle; NaN before it and after a break [mAh]."""
    out = np.full(slips.size, np.nan)
    first = int(np.argmax(complete)) if complete.any() else slips.size
    if first < slips.size:
        known = np.concatenate([[0.0], slips[first + 1 :]])
        out[first:] = np.cumsum(known)
    return out
