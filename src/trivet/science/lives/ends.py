"""The rules that end a cell: loss of capacity, internal short, cut-off at once, open circuit.

Each rule looks at the cycles of one cell and gives the end that it sees, or none. A cycle number
given as an end is the first cycle that was no longer good; the number before it was the last
good one. The limits are the user's; the defaults are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.lives.cycle_record import CycleRecord

CAPACITY = "capacity"
INTERNAL_SHORT = "internal short"
CUT_OFF = "cut-off at once"
OPEN_CIRCUIT = "open circuit"

_SPECIFIC_FIRST = (OPEN_CIRCUIT, CUT_OFF, INTERNAL_SHORT, CAPACITY)
"""Order of two ends in one cycle: a sudden end also takes the capacity away."""


@dataclass(frozen=True)
class EndRules:
    """Limits of the rules.

    Attributes
    ----------
    retention_below : float
        A cell ends when its retention is below this [1].
    consecutive : int
        Ageing cycles in a row that must be below [1].
    short_efficiency_below : float
        Internal short: coulombic efficiency below this [1].
    short_consecutive : int
        Complete cycles in a row that must be below [1].
    open_circuit_lasting_s : float
        Open circuit: voltage beyond its limits for at least this long [s].
    cut_off_capacity_below : float
        Cut-off at once: share of the reference capacity [1].
    cut_off_consecutive : int
        Last recorded cycles that must be below [1].
    """

    retention_below: float
    consecutive: int
    short_efficiency_below: float
    short_consecutive: int
    open_circuit_lasting_s: float
    cut_off_capacity_below: float
    cut_off_consecutive: int


@dataclass(frozen=True)
class End:
    """The end of a cell as one rule sees it.

    Attributes
    ----------
    cause : str
        Which end.
    cycle, lower_cycle : int
        First cycle no longer good; last cycle known to be good [1].
    time_h, lower_h : float
        The same as hours since the cell's clock start [h].
    evidence : str
        Which cycle, which value, which limit.
    known_h : float
        When the end was known: with the last of the cycles that the rule asks for [h].
    """

    cause: str
    cycle: int
    lower_cycle: int
    time_h: float
    lower_h: float
    evidence: str
    known_h: float


def first_run(low: np.ndarray, *, length: int) -> int | None:
    """Index at which the first run of enough true values in a row begins.

    Parameters
    ----------
    low : numpy.ndarray
        True where a value is beyond its limit, (n_values,).
    length : int
        Values in a row that are needed [1].
    """
    count = 0
    for index, is_low in enumerate(low):
        count = count + 1 if is_low else 0
        if count == length:
            return index - length + 1
    return None


def capacity_end(cycles: CycleRecord, *, rules: EndRules) -> End | None:
    """End by capacity: the first of several ageing cycles in a row below the limit.

    Only complete ageing cycles with a retention are judged. Check-ups, rate tests, formation and
    partial cycles are passed over: they neither count nor break the row.
    """
    judged = np.flatnonzero(
        (cycles.kind == "ageing") & cycles.complete & np.isfinite(cycles.retention)
    )
    run = first_run(cycles.retention[judged] < rules.retention_below, length=rules.consecutive)
    if run is None:
        return None
    first = judged[run]
    previous = judged[run - 1] if run else None
    return End(
        cause=CAPACITY,
        cycle=int(cycles.cycle[first]),
        lower_cycle=0 if previous is None else int(cycles.cycle[previous]),
        time_h=float(cycles.end_h[first]),
        lower_h=0.0 if previous is None else float(cycles.end_h[previous]),
        evidence=(
            f"capacity: cycle {cycles.cycle[first]}, retention "
            f"{cycles.retention[first]:.4f} below {rules.retention_below:g} (1), "
            f"first of {rules.consecutive} ageing cycles in a row"
        ),
        known_h=float(cycles.end_h[judged[run + rules.consecutive - 1]]),
    )


def internal_short(cycles: CycleRecord, *, rules: EndRules) -> End | None:
    """Internal short: coulombic efficiency below the limit in several complete cycles in a row.

    Rate tests are passed over, since charge and discharge at unlike rates give a low quotient in
    a sound cell.
    """
    judged = np.flatnonzero(
        cycles.complete & (cycles.kind != "rate test") & np.isfinite(cycles.coulombic_efficiency)
    )
    low = cycles.coulombic_efficiency[judged] < rules.short_efficiency_below
    run = first_run(low, length=rules.short_consecutive)
    if run is None:
        return None
    first = judged[run]
    previous = judged[run - 1] if run else None
    return End(
        cause=INTERNAL_SHORT,
        cycle=int(cycles.cycle[first]),
        lower_cycle=0 if previous is None else int(cycles.cycle[previous]),
        time_h=float(cycles.end_h[first]),
        lower_h=0.0 if previous is None else float(cycles.end_h[previous]),
        evidence=(
            f"internal short: cycle {cycles.cycle[first]}, coulombic efficiency "
            f"{cycles.coulombic_efficiency[first]:.4f} below "
            f"{rules.short_efficiency_below:g} (1), first of {rules.short_consecutive} "
            "complete cycles in a row"
        ),
        known_h=float(cycles.end_h[judged[run + rules.short_consecutive - 1]]),
    )


def cut_off_at_once(cycles: CycleRecord, *, rules: EndRules) -> End | None:
    """Cut-off at once: the last recorded cycles passed no charge worth the name.

    Partial cycles count here, since such a cell completes nothing, but only where the charge was
    as small as the discharge: a charge that is under way is not an end. Rate tests are passed
    over. A cell that recovers has not ended, so the row must reach the last cycle.
    """
    reference = cycles.reference_capacity_mAh()
    if reference is None:
        return None
    limit = rules.cut_off_capacity_below * reference
    judged = np.flatnonzero(cycles.kind != "rate test")
    discharge = np.nan_to_num(cycles.discharge_capacity_mAh[judged])
    charge = np.nan_to_num(cycles.charge_capacity_mAh[judged])
    low = (discharge < limit) & (cycles.complete[judged] | (charge < limit))
    good = np.flatnonzero(~low)
    run = int(good[-1]) + 1 if good.size else 0
    if low.size - run < rules.cut_off_consecutive:
        return None
    first = judged[run]
    begun = float(cycles.start_h[first])
    lower_cycle, lower_h = cycles.last_complete(begun)
    return End(
        cause=CUT_OFF,
        cycle=int(cycles.cycle[first]),
        lower_cycle=lower_cycle,
        time_h=float(cycles.end_h[first]),
        lower_h=lower_h,
        evidence=(
            f"cut-off at once: cycle {cycles.cycle[first]}, discharge capacity "
            f"{discharge[run]:.4g} mAh below {limit:.4g} mAh "
            f"({rules.cut_off_capacity_below:g} of {reference:.4g} mAh), and so to the last of "
            f"{low.size - run} cycles"
        ),
        known_h=float(cycles.end_h[judged[run + rules.cut_off_consecutive - 1]]),
    )


def open_circuit(
    cycles: CycleRecord,
    *,
    excursion_start_h: np.ndarray,
    excursion_end_h: np.ndarray,
    extreme_voltage_V: np.ndarray,
    rules: EndRules,
) -> End | None:
    """Open circuit: voltage beyond its limits for long enough, and no complete cycle afterwards.

    Parameters
    ----------
    cycles : CycleRecord
        Cycles of the cell.
    excursion_start_h, excursion_end_h : numpy.ndarray
        Spans beyond the limits, hours since the cell's clock start [h], (n_excursions,).
    extreme_voltage_V : numpy.ndarray
        Voltage farthest beyond the limit in each [V], (n_excursions,).
    rules : EndRules
        Limits.
    """
    lasting_s = (excursion_end_h - excursion_start_h) * 3600.0
    _, last_good_h = cycles.last_complete()
    # A span of exactly the limit must not be lost to the rounding of hours.
    long_enough = lasting_s >= rules.open_circuit_lasting_s * (1.0 - 1e-9)
    ending = np.flatnonzero(long_enough & (excursion_start_h >= last_good_h))
    if not ending.size:
        return None
    first = ending[np.argmin(excursion_start_h[ending])]
    time_h = float(excursion_start_h[first])
    lower_cycle, lower_h = cycles.last_complete(time_h)
    number = cycles.cycle_at(time_h)
    return End(
        cause=OPEN_CIRCUIT,
        cycle=number,
        lower_cycle=lower_cycle,
        time_h=time_h,
        lower_h=lower_h,
        evidence=(
            f"open circuit: cycle {number}, {extreme_voltage_V[first]:.3f} V for "
            f"{lasting_s[first]:.0f} s, limit {rules.open_circuit_lasting_s:g} s; no complete "
            "cycle afterwards"
        ),
        known_h=time_h + rules.open_circuit_lasting_s / 3600.0,
    )


def rule_end(
    cycles: CycleRecord,
    *,
    excursion_start_h: np.ndarray,
    excursion_end_h: np.ndarray,
    extreme_voltage_V: np.ndarray,
    rules: EndRules,
) -> End | None:
    """Give the end that comes first by any rule; of ends in one cycle the sudden one.

    Parameters as in `open_circuit`.
    """
    ends = (
        capacity_end(cycles, rules=rules),
        internal_short(cycles, rules=rules),
        cut_off_at_once(cycles, rules=rules),
        open_circuit(
            cycles,
            excursion_start_h=excursion_start_h,
            excursion_end_h=excursion_end_h,
            extreme_voltage_V=extreme_voltage_V,
            rules=rules,
        ),
    )
    seen = [end for end in ends if end is not None]
    if not seen:
        return None
    return min(seen, key=lambda end: (end.cycle, _SPECIFIC_FIRST.index(end.cause), end.time_h))
