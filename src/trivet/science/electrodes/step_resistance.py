"""Resistance from every step of the current: of the cell and both electrodes, with its error."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from trivet.reasons import StepKind
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.integrals import Booleans, Floats, Integers

SMALLEST_STEP = 0.1
"""A step changes the current by this share of the median current at least; common practice, no
source."""
STEADY = 0.02
"""Current before and after a step may move by this share of it; common practice, no source."""


@dataclass(frozen=True)
class Steps:
    """Steps of the current in order of time, shape (k,) each.

    Attributes
    ----------
    before_row, at_row : ndarray of int
        Last row before the step, and row at which potentials are read; -1 where no row fits.
    kind : tuple of StepKind
        What the step is within its half-cycle.
    half : ndarray of int
        Half-cycle that it belongs to.
    from_mA, to_mA : ndarray
        Current before and after [mA].
    delay_s, delay_bound_s : ndarray
        Delay after the step at which potentials are read, and how far it may be off, since the
        step lies anywhere between two rows [s].
    state_of_charge : ndarray
        Charge passed over that of the half-cycle, from empty 0 to full 1; NaN where the
        half-cycle is not whole [1].
    """

    before_row: Integers
    at_row: Integers
    kind: tuple[StepKind, ...]
    half: Integers
    from_mA: Floats
    to_mA: Floats
    delay_s: Floats
    delay_bound_s: Floats
    state_of_charge: Floats


def steps_of(
    time_s: Floats,
    current_mA: Floats,
    halves: Halves,
    cycles: Cycles,
    *,
    places: Integers,
    delay_s: float,
    tolerance_s: float,
) -> Steps:
    """Find the steps of the current in some cycles and the row to read each at.

    A step lies between two rows whose currents differ by more than a share of the median current
    of the cycles; before it, and from it to the row that is read, the current is steady. The row
    read is that nearest to the delay, within the tolerance wherever between its rows the step was.

    Parameters
    ----------
    time_s, current_mA : ndarray, shape (n,)
        Record, offsets of the current set to zero [s, mA].
    halves, cycles : Halves, Cycles
        Its half-cycles and cycles.
    places : ndarray of int, shape (c,)
        Places in `cycles` of the cycles whose steps are wanted.
    delay_s, tolerance_s : float
        Delay after the step and its largest deviation, itself allowed [s].

    Returns
    -------
    Steps
    """
    rows, owners = _step_rows(time_s, current_mA, halves, cycles, places)
    read = np.full(rows.size, -1, dtype=np.int64)
    for place, row in enumerate(rows):
        read[place] = _row_read(time_s, current_mA, int(row), delay_s, tolerance_s)
    known = read >= 0
    shortest = np.where(known, time_s[read] - time_s[rows + 1], np.nan)
    longest = np.where(known, time_s[read] - time_s[rows], np.nan)
    return Steps(
        before_row=rows,
        at_row=read,
        kind=tuple(
            _kind(halves, int(row), int(half)) for row, half in zip(rows, owners, strict=True)
        ),
        half=owners,
        from_mA=current_mA[rows],
        to_mA=current_mA[rows + 1],
        delay_s=(shortest + longest) / 2.0,
        delay_bound_s=(longest - shortest) / 2.0,
        state_of_charge=_states(halves, _whole(cycles, halves), rows, owners),
    )


def _step_rows(
    time_s: Floats, current_mA: Floats, halves: Halves, cycles: Cycles, places: Integers
) -> tuple[Integers, Integers]:
    """Last rows before the steps of some cycles, and the half-cycle of each step."""
    spans = halves.rows
    found, owners = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for half in np.unique(np.concatenate([cycles.charge[places], cycles.discharge[places]])):
        if half < 0:
            continue
        # from the row before its first one to the step back to rest behind its last one
        first = max(int(spans.first_row[half]) - 1, 0)
        last = min(int(spans.last_row[half]) + 1, current_mA.size - 1)
        part = current_mA[first : last + 1]
        typical_mA = float(np.nanmedian(np.abs(part[part != 0.0])))
        moved = np.flatnonzero(np.abs(np.diff(part)) > SMALLEST_STEP * typical_mA)
        # a reversal is the beginning of the next half-cycle, not the end of this one
        reversal = part[moved] * part[moved + 1] < 0.0
        moved = moved[~(reversal & (moved + first >= spans.last_row[half]))]
        found.append(moved + first)
        owners.append(np.full(moved.size, half, dtype=np.int64))
    rows, half_of = np.concatenate(found), np.concatenate(owners)
    order = np.argsort(rows, kind="stable")
    return rows[order], half_of[order]


def _row_read(
    time_s: Floats, current_mA: Floats, row: int, delay_s: float, tolerance_s: float
) -> int:
    """Row that a step is read at; -1 where none fits or the current is not steady around it."""
    step_mA = current_mA[row + 1] - current_mA[row]
    allowed_mA = STEADY * abs(step_mA)
    steady_before = row > 0 and abs(current_mA[row] - current_mA[row - 1]) <= allowed_mA
    if not steady_before:
        return -1
    stop = int(np.searchsorted(time_s, time_s[row + 1] + delay_s + tolerance_s, side="right"))
    after = np.arange(row + 1, max(stop, row + 2))
    after = after[after < time_s.size]
    moved = np.abs(current_mA[after] - current_mA[row + 1]) > allowed_mA
    if moved.any():
        after = after[: int(np.argmax(moved))]
    shortest, longest = time_s[after] - time_s[row + 1], time_s[after] - time_s[row]
    off = np.maximum(np.abs(shortest - delay_s), np.abs(longest - delay_s))
    # a hair absorbs rounding in sums of decimal times
    fits = off <= tolerance_s + 1e-6
    if not fits.any():
        return -1
    middle = np.where(fits, np.abs((shortest + longest) / 2.0 - delay_s), np.inf)
    return int(after[int(np.argmin(middle))])


def _kind(halves: Halves, row: int, half: int) -> StepKind:
    """What a step is, by where it lies in its half-cycle."""
    spans = halves.rows
    if row < spans.first_row[half]:
        return StepKind.BEGINNING
    if row >= spans.last_row[half]:
        return StepKind.END
    return StepKind.WITHIN


def _whole(cycles: Cycles, halves: Halves) -> Booleans:
    """Which half-cycles belong to complete cycles."""
    whole = np.zeros(halves.rows.sign.size, dtype=bool)
    done = cycles.complete == 1
    for index in (cycles.charge[done], cycles.discharge[done]):
        whole[index] = True
    return whole


def _states(halves: Halves, whole: Booleans, rows: Integers, owners: Integers) -> Floats:
    """State of charge at each step by the charge of its half-cycle; none where none passed."""
    out = np.full(rows.size, np.nan)
    spans = halves.rows
    for place, (row, half) in enumerate(zip(rows, owners, strict=True)):
        if not whole[half] or not halves.charge_mAh[half] > 0.0:
            continue
        charging = spans.sign[half] > 0
        passed = halves.passed[1 if charging else -1][int(spans.from_row[half]) : int(row)]
        share = float(np.nansum(passed)) / float(halves.charge_mAh[half])
        out[place] = share if charging else 1.0 - share
    return out


@dataclass(frozen=True)
class StepResistance:
    """Resistance at each step and its standard error, shape (k,) each [ohm]."""

    resistance_ohm: Floats
    error_ohm: Floats


def step_resistances(
    steps: Steps,
    potentials_V: Mapping[str, Floats],
    *,
    error_V: Mapping[str, float],
) -> dict[str, StepResistance]:
    """Change of potential over change of current at every step, for cell and electrodes.

    Parameters
    ----------
    steps : Steps
        Where the current steps.
    potentials_V : mapping of str to ndarray, shape (n,)
        Potentials by name: `cell`, `positive`, `negative` [V].
    error_V : mapping of str to float
        Standard error of a single reading of each [V].

    Returns
    -------
    dict of str to StepResistance
        The negative counts -dE/dI, so that cell = positive + negative; NaN where no row was read
        or it has no potential. The error is that of two readings, the current taken as exact.

    References
    ----------
    R = (V2 - V1) / (I2 - I1) with signed currents, at a stated delay after the step.
    """
    known = steps.at_row >= 0
    change_mA = np.where(known, steps.to_mA - steps.from_mA, np.nan)
    found = {}
    for name, potential in potentials_V.items():
        moved_V = np.where(known, potential[steps.at_row] - potential[steps.before_row], np.nan)
        slope = 1000.0 * moved_V / change_mA * (-1.0 if name == "negative" else 1.0)
        error = 1000.0 * np.sqrt(2.0) * error_V[name] / np.abs(change_mA)
        found[name] = StepResistance(slope, np.where(np.isfinite(slope), error, np.nan))
    return found
