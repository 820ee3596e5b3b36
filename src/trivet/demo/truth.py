"""The truth beside the demo: what the model did, before noise and rounding.

The pipeline never reads these files; tests compare with them. The end of life is found here by
code of its own, from the exact capacities, by the rule that the campaign states.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from trivet.demo.cycler import FAST_MA
from trivet.demo.physics import LOWER_VOLTAGE_V, RAIL_V
from trivet.demo.plan import CellPlan
from trivet.demo.protocol import FORMATION_CYCLES, CellRun

RETENTION_BELOW = 0.8
CONSECUTIVE = 3
EFFICIENCY_BELOW = 0.8
EFFICIENCY_CONSECUTIVE = 2
CUT_OFF_BELOW = 0.05
OFFSET_LOST_MV = 20.0


@dataclass(frozen=True)
class TrueCycle:
    """One cycle of the model.

    Attributes
    ----------
    cell : str
        Cell id.
    cycle : int
        Cycle, from 1, formation included.
    kind : str
        formation, ageing or check-up; partial where not complete.
    charge_mAh, discharge_mAh : float
        Exact charge passed in either direction [mAh].
    end_h : float
        Hours since crimping of its last row with current [h].
    complete : int
        1 where the discharge reached the lower limit.
    """

    cell: str
    cycle: int
    kind: str
    charge_mAh: float
    discharge_mAh: float
    end_h: float
    complete: int


def true_cycles(run: CellRun) -> list[TrueCycle]:
    """Cycles of one cell; the current is linear between rows, so the trapezoid is exact."""
    cell_V = run.positive_V - run.negative_V
    cycles = []
    for cycle in range(1, int(run.cycle[-1]) + 1):
        rows = np.flatnonzero(run.cycle[: _whole_rows(run)] == cycle)
        time_s, current_mA = run.time_s[rows], run.current_mA[rows]
        discharging = rows[current_mA < 0.0]
        slow = np.max(np.abs(current_mA)) < 0.5 * FAST_MA
        reached = discharging.size and cell_V[discharging[-1]] <= LOWER_VOLTAGE_V + 1e-4
        cycles.append(
            TrueCycle(
                cell=run.plan.cell,
                cycle=cycle,
                kind=_kind(cycle, complete=bool(reached), slow=bool(slow)),
                charge_mAh=float(np.trapezoid(np.maximum(current_mA, 0.0), time_s)) / 3600.0,
                discharge_mAh=float(np.trapezoid(np.maximum(-current_mA, 0.0), time_s)) / 3600.0,
                end_h=float(time_s[current_mA != 0.0][-1]) / 3600.0,
                complete=int(bool(reached)),
            )
        )
    return cycles


def _whole_rows(run: CellRun) -> int:
    """Rows that stand whole in the file: one fewer where it was cut in mid-line."""
    return int(run.time_s.size) - int(run.plan.role.cut_in_mid_line)


def _kind(cycle: int, *, complete: bool, slow: bool) -> str:
    """Kind of a cycle, in the words of the table of cycles."""
    if not complete:
        return "partial"
    if cycle <= FORMATION_CYCLES:
        return "formation"
    return "check-up" if slow else "ageing"


def _first_run(flags: list[bool], length: int) -> int | None:
    """Position of the first of `length` true flags in a row; None where there are none."""
    for start in range(len(flags) - length + 1):
        if all(flags[start : start + length]):
            return start
    return None


def _rule_ends(cycles: list[TrueCycle]) -> list[tuple[TrueCycle, str]]:
    """Ends by capacity, internal short and cut-off at once, as the campaign's rules have them."""
    complete = [cycle for cycle in cycles if cycle.complete]
    ageing = [cycle for cycle in complete if cycle.kind == "ageing"]
    if not ageing:
        return []
    first_mAh = ageing[0].discharge_mAh
    share = [cycle.discharge_mAh / first_mAh for cycle in ageing]
    efficiency = [cycle.discharge_mAh / cycle.charge_mAh for cycle in complete]
    rules = [
        ("cut-off at once", ageing, [value < CUT_OFF_BELOW for value in share], CONSECUTIVE),
        (
            "internal short",
            complete,
            [value < EFFICIENCY_BELOW for value in efficiency],
            EFFICIENCY_CONSECUTIVE,
        ),
        ("capacity", ageing, [value < RETENTION_BELOW for value in share], CONSECUTIVE),
    ]
    ends = []
    for cause, judged, flags, length in rules:
        start = _first_run(flags, length)
        if start is not None:
            ends.append((judged[start], cause))
    return ends


def true_end(run: CellRun, cycles: list[TrueCycle]) -> dict[str, Any]:
    """How a cell ended: fate, cause, cycle and hours.

    Where two rules name the same cycle, the sudden one gives the cause.
    """
    plan, last_h = run.plan, float(run.time_s[_whole_rows(run) - 1]) / 3600.0
    end: dict[str, Any] = {"fate": "running", "cause": None, "end_cycle": None, "end_h": None}
    ends = _rule_ends(cycles)
    cell_V = run.positive_V - run.negative_V
    railed = np.flatnonzero(cell_V > RAIL_V - 0.1)
    if railed.size:
        opened = int(railed[0])
        end = {
            "fate": "ended",
            "cause": "open circuit",
            "end_cycle": int(run.cycle[opened]),
            "end_h": float(run.time_s[opened]) / 3600.0,
        }
    elif ends:
        cycle, cause = min(ends, key=lambda item: item[0].cycle)
        end = {
            "fate": "ended",
            "cause": cause,
            "end_cycle": cycle.cycle,
            "end_h": cycle.end_h,
        }
    elif plan.role.fate == "leak" and plan.fate_h < plan.horizon_h:
        end = {"fate": "ended", "cause": "leak", "end_cycle": None, "end_h": plan.fate_h}
    elif plan.role.fate == "stopped" and plan.fate_h < plan.horizon_h:
        end["fate"] = "stopped"
    complete = [cycle.cycle for cycle in cycles if cycle.complete]
    return end | {"last_complete_cycle": max(complete, default=0), "last_row_h": last_h}


def true_reference(plan: CellPlan, *, last_h: float) -> dict[str, Any]:
    """What became of the reference up to the last row [h since crimping]."""
    model = plan.reference
    crossed_h = float("inf")
    if model.drift_mV_per_day:
        limit_mV = np.copysign(OFFSET_LOST_MV, model.drift_mV_per_day)
        crossed_h = model.plated_h + 24.0 * (limit_mV - model.offset_mV) / model.drift_mV_per_day
    lost_h = min(model.exhausted_h, crossed_h)
    return {
        "plated_h": model.plated_h,
        "plated_mAh": model.plated_mAh,
        "charge_left_mAh": model.charge_left_mAh(last_h),
        "offset_mV": model.offset_mV,
        "drift_mV_per_day": model.drift_mV_per_day,
        "lost_h": lost_h if lost_h < last_h else None,
        "lost_by": ("exhaustion" if lost_h == model.exhausted_h else "drift")
        if lost_h < last_h
        else None,
    }


def true_cell(plan: CellPlan, *, run: CellRun | None) -> dict[str, Any]:
    """The truth about one cell, as it stands in `cells.json`."""
    named: dict[str, Any] = {
        name: getattr(plan, name) for name in ("cell", "batch", "seal", "separators")
    }
    named["life_scale_h"] = plan.ageing.life_h
    if run is None:
        return named | {"fate": "excluded", "cause": None, "rows": 0}
    end = true_end(run, true_cycles(run))
    return (
        named
        | end
        | {
            "rows": _whole_rows(run),
            "layout": plan.role.layout,
            "swapped": plan.role.swapped,
            "cut_in_mid_line": plan.role.cut_in_mid_line,
            "mesh_offset_mm": plan.role.mesh_offset_mm,
            "reference": true_reference(plan, last_h=end["last_row_h"]),
        }
    )


def true_resistances(run: CellRun) -> list[dict[str, Any]]:
    """Ohmic resistance and sum of the arcs of each electrode at each check-up [ohm]."""
    rows = []
    for check_up in run.check_ups:
        for electrode in ("positive", "negative"):
            resistances = getattr(check_up, electrode)
            rows.append(
                {
                    "cell": run.plan.cell,
                    "cycle": check_up.cycle,
                    "hours": check_up.hours,
                    "electrode": electrode,
                    **asdict(resistances),
                    "arcs_ohm": resistances.arcs_ohm,
                }
            )
    return rows
