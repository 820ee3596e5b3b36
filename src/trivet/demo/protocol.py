"""The invented protocol, and what stops it.

Rest after crimping; two formation cycles at C/10; then ageing at C/2 (constant current to
3.65 V, constant voltage down to C/20, constant current to 2.5 V, ten minutes of rest after each
half) and every week one check-up cycle at C/10. The charge of the second formation cycle and of
each check-up is interrupted halfway for an hour of rest and impedance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.demo.cycler import FAST_MA, SLOW_MA, CheckUp, Recorder
from trivet.demo.physics import (
    NEGATIVE_CAPACITY_MAH,
    RAIL_V,
    negative_potential_V,
    positive_potential_V,
    starvation_ohm,
)
from trivet.demo.plan import CellPlan

REST_S = 600.0
INTERRUPTION_S = 3600.0
SPECTRUM_AFTER_S = 2400.0
"""How long after the start of the interruption a spectrum starts [s]."""
WEEK_H = 168.0
FORMATION_CYCLES = 2
POOR_CYCLES = 8
"""The programme gives up after so many cycles that gave less than four fifths of the first
ageing cycle, or of their own charge."""
OPEN_S = 7200.0
"""How long the programme waits at an open circuit before it gives up [s]."""
SHARE_LEFT = 0.8


@dataclass(frozen=True)
class CellRun:
    """Everything that happened to one cell, as the model knows it.

    Attributes
    ----------
    plan : CellPlan
        The cell.
    time_s : ndarray, shape (n_rows,)
        Time since crimping [s].
    current_mA : ndarray, shape (n_rows,)
        Current, charge positive [mA].
    positive_V, negative_V : ndarray, shape (n_rows,)
        Potentials against lithium [V]; the cell voltage is their difference.
    offset_V : ndarray, shape (n_rows,)
        Potential of the reference against lithium [V].
    cycle : ndarray, shape (n_rows,)
        Cycle counter of the cycler; 0 before the first charge.
    check_ups : tuple of CheckUp
        Spectra taken.
    """

    plan: CellPlan
    time_s: np.ndarray
    current_mA: np.ndarray
    positive_V: np.ndarray
    negative_V: np.ndarray
    offset_V: np.ndarray
    cycle: np.ndarray
    check_ups: tuple[CheckUp, ...]


def simulate(plan: CellPlan) -> CellRun | None:
    """Run the protocol on one cell; None where it never got to the cycler."""
    if plan.role.fate == "excluded":
        return None
    recorder = Recorder(
        plan=plan,
        seconds=plan.cycling_started_h * 3600.0,
        positive_mAh=0.985 * plan.positive_capacity_mAh,
    )
    recorder.rest((plan.formation_h - plan.cycling_started_h) * 3600.0, spacing_s=570.0)
    opened_s = _run_cycles(recorder)
    return _as_measured(plan, recorder, opened_s)


def _last_hour(plan: CellPlan) -> float:
    """Hours since crimping after which there are no rows [h]: end of data, or a person."""
    if plan.role.fate in ("stopped", "leak"):
        return min(plan.fate_h, plan.horizon_h)
    return plan.horizon_h


def _run_cycles(recorder: Recorder) -> float | None:
    """Cycle until something ends it; the time of an open circuit [s], where that was it."""
    plan = recorder.plan
    end_h, last_check_h = _last_hour(plan), 0.0
    first_mAh, poor = None, 0
    while recorder.hours < end_h and poor < POOR_CYCLES:
        recorder.cycle += 1
        weekly = recorder.cycle > FORMATION_CYCLES and recorder.hours - last_check_h >= WEEK_H
        slow = weekly or recorder.cycle <= FORMATION_CYCLES
        check = weekly or recorder.cycle == FORMATION_CYCLES
        last_check_h = recorder.hours if check else last_check_h
        charged_mAh = _charge(recorder, slow=slow, check=check)
        if plan.role.fate == "open" and recorder.hours >= plan.fate_h:
            return _interrupt(recorder)
        discharged_mAh = _discharge(recorder, current_mA=SLOW_MA if slow else FAST_MA)
        if not slow and first_mAh is None:
            first_mAh = discharged_mAh
        least_mAh = max(charged_mAh, first_mAh or 0.0) * SHARE_LEFT
        poor = poor + 1 if discharged_mAh < least_mAh else 0
    return None


def _charge(recorder: Recorder, *, slow: bool, check: bool) -> float:
    """One charge with its rest [mAh]; a check-up rests halfway and takes a spectrum there."""
    before_mAh = recorder.passed_mAh
    current_mA = SLOW_MA if slow else FAST_MA
    duration_s = recorder.time_to_limit_s(current_mA)
    if check:
        recorder.constant_current(current_mA, duration_s=0.5 * duration_s)
        taken_h = recorder.hours + SPECTRUM_AFTER_S / 3600.0
        positive, negative = recorder.plan.ageing.resistances(taken_h)
        recorder.check_ups.append(CheckUp(recorder.cycle, taken_h, positive, negative))
        recorder.rest(INTERRUPTION_S, spacing_s=120.0)
        duration_s = recorder.time_to_limit_s(current_mA)
    if duration_s >= 1.0:
        recorder.constant_current(current_mA, duration_s=duration_s)
    if not slow:
        recorder.constant_voltage()
    recorder.rest(REST_S)
    return recorder.passed_mAh - before_mAh


def _discharge(recorder: Recorder, *, current_mA: float) -> float:
    """One discharge with its rest; the charge that it gave [mAh]."""
    dry_h = recorder.plan.ageing.dry_h
    recorder.dry = dry_h is not None and recorder.hours >= dry_h
    # A programme notices a limit one second late, so that even a dry cell passes that much.
    before_mAh = recorder.passed_mAh
    duration_s = max(recorder.time_to_limit_s(-current_mA), 1.0)
    recorder.constant_current(-current_mA, duration_s=duration_s)
    recorder.rest(REST_S)
    return before_mAh - recorder.passed_mAh


def _interrupt(recorder: Recorder) -> float:
    """A lead breaks in the middle of a discharge; time of the break [s]."""
    recorder.constant_current(-FAST_MA, duration_s=0.4 * recorder.time_to_limit_s(-FAST_MA))
    opened_s = recorder.seconds
    recorder.rest(OPEN_S, spacing_s=60.0)
    return opened_s


def _as_measured(plan: CellPlan, recorder: Recorder, opened_s: float | None) -> CellRun:
    """Potentials of all rows, up to the last row that was written."""
    rows = np.concatenate(recorder.rows, axis=1)
    rows = rows[:, rows[0] <= _last_hour(plan) * 3600.0]
    time_s, current_mA, positive_mAh, negative_mAh = rows[:4]
    content = positive_mAh / plan.positive_capacity_mAh
    # Without current the direction does not matter: the extra resistance carries nothing.
    extra_ohm = starvation_ohm(content, charging=current_mA > 0.0)
    positive_V = positive_potential_V(content) + current_mA * (rows[4] + extra_ohm) / 1000.0
    negative_V = (
        negative_potential_V(negative_mAh / NEGATIVE_CAPACITY_MAH) - current_mA * rows[5] / 1000.0
    )
    if opened_s is not None:
        broken = (time_s >= opened_s) & (current_mA == 0.0)
        positive_V = np.where(broken, RAIL_V + negative_V, positive_V)
    return CellRun(
        plan=plan,
        time_s=time_s,
        current_mA=current_mA,
        positive_V=positive_V,
        negative_V=negative_V,
        offset_V=plan.reference.offset_V(time_s / 3600.0),
        cycle=rows[6].astype(np.int64),
        check_ups=tuple(check for check in recorder.check_ups if check.hours <= _last_hour(plan)),
    )
