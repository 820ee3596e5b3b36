"""Files that can't be of their cell: wrong window, current or start; they stop the cell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead
from trivet.schema.cell_facts import CellFacts

CHECK = "file does not fit its cell"
_LOWEST_V, _HIGHEST_V = -0.5, 5.5
"""No cell of this kind lies outside; common practice, no source."""
_BEYOND_V = 0.15
_ROWS = 10
_WORTH = 0.02
"""Charge beyond a limit, as a share of the capacity basis; common practice, no source."""
_LONGEST_STEP_H = 0.25
_SHORT_V = 0.5
_MOST = 0.95
_FASTEST = 100.0
_SLOWEST = 1e-3
"""Rates of the capacity basis that no test of such a cell has [1/h]; common practice, no source."""
_EARLY_S = 3600.0
_MOST_CHARGE = 20.0
"""Charge of a half-cycle as a multiple of the capacity basis; common practice, no source."""
_STEPS = 10.0
"""A step longer than so many usual ones is a pause, and passes no charge."""


@dataclass(frozen=True)
class Expected:
    """What the settings say of every cell.

    Attributes
    ----------
    lower_V, upper_V : float
        Limits of the cell voltage [V].
    capacity_mAh : float
        Capacity basis [mA.h].
    """

    lower_V: float
    upper_V: float
    capacity_mAh: float


def stop_misfits(
    reads: Sequence[RawRead], *, facts: CellFacts, expected: Expected | None
) -> list[RawRead]:
    """Set all files of a cell aside where one of them can't be of this cell.

    Parameters
    ----------
    reads : sequence of RawRead
        Its files; current positive in charge [mA], voltages [V].
    facts : CellFacts
        The cell; its clock start is when it was built.
    expected : Expected or None
        None leaves out what needs the settings.
    """
    for culprit in reads:
        reason = next(_reasons(culprit, facts, expected), "") if len(culprit.lines) else ""
        if reason:
            name = culprit.file.relative
            message = f"'{name}' {reason}; no cycling file of the cell is used"
            return [read.refuse(CHECK, message) if len(read.lines) else read for read in reads]
    return list(reads)


def _reasons(read: RawRead, facts: CellFacts, expected: Expected | None) -> Iterator[str]:
    """What in a file can't be of its cell."""
    built_s = facts.clock_start_s
    if read.absolute and built_s is not None and read.time_s[0] < built_s - _EARLY_S:
        early_h = (built_s - read.time_s[0]) / 3600.0
        yield f"begins {early_h:.4g} h before the cell was built"
    voltage, current = read.values.get("cell voltage"), read.values.get("current")
    if voltage is None or current is None:
        return
    known = np.isfinite(voltage) & np.isfinite(current)
    time_s = read.time_s
    if not np.all(known):
        time_s, voltage, current = time_s[known], voltage[known], current[known]
    if len(voltage) < _ROWS:
        return
    yield from _absurd_voltage(voltage, expected)
    if expected is not None:
        yield from _wrong_current(voltage, current, expected)
        steps_h = np.diff(time_s, append=time_s[-1]) / 3600.0
        yield from _wrong_window(steps_h, voltage, current, expected)
        yield from _wrong_time(steps_h, voltage, current, expected)


def _absurd_voltage(voltage_V: np.ndarray, expected: Expected | None) -> Iterator[str]:
    """Voltages that no cell has, or that are right a thousand times larger or smaller."""
    if expected is not None:
        turned = (-voltage_V > expected.lower_V - 0.5) & (-voltage_V < expected.upper_V + 0.5)
        if np.mean(turned) > _MOST:
            yield (
                f"has a cell voltage of {float(np.median(voltage_V)):.4g} V, which is that of a "
                "cell with all signs reversed: it was loaded upside down in its holder, or its "
                "channel is the wrong way round. Turn the signs when exporting, or leave the file "
                "out; such a cell may have been driven beyond its limits"
            )
            return
    outside = (voltage_V < _LOWEST_V) | (voltage_V > _HIGHEST_V)
    middle = float(np.median(voltage_V))
    if np.mean(outside) > 0.5:
        factor = " a thousand times too large" if _LOWEST_V < middle / 1000 < _HIGHEST_V else ""
        yield f"has a cell voltage of {middle:.4g} V, which is{factor or ' of no such cell'}"
    if expected is not None:
        inside = voltage_V > (expected.lower_V - 0.5) / 1000
        inside &= voltage_V < (expected.upper_V + 0.5) / 1000
        swing_V = (expected.upper_V - expected.lower_V) / 4000
        if np.mean(inside) > _MOST and np.ptp(voltage_V) > swing_V:
            yield f"has a cell voltage of {middle:.4g} V, a thousand times too small"


def _wrong_current(
    voltage_V: np.ndarray, current_mA: np.ndarray, expected: Expected
) -> Iterator[str]:
    """Currents far beyond, or far below, any rate of the capacity basis."""
    typical = float(np.quantile(np.abs(current_mA), 0.9))
    rate = typical / expected.capacity_mAh
    if rate > _FASTEST:
        yield (
            f"has currents of {typical:.4g} mA, {rate:.3g} times the capacity basis per hour; "
            "is the unit right?"
        )
    swings = np.ptp(voltage_V) > (expected.upper_V - expected.lower_V) / 2
    flows = np.mean(current_mA != 0) > 0.5 and np.any(current_mA > 0) and np.any(current_mA < 0)
    if swings and flows and rate < _SLOWEST:
        yield (
            f"has currents of {typical:.4g} mA only, yet the voltage swings through its window; "
            "is the unit right?"
        )


def _wrong_window(
    steps_h: np.ndarray, voltage_V: np.ndarray, current_mA: np.ndarray, expected: Expected
) -> Iterator[str]:
    """The first charge or discharge runs far beyond the limits of the voltage.

    Only the first: later an open circuit or a short may carry a right file beyond them. And only
    where charge worth the name passes there, which no open circuit lets through.
    """
    passed_mAh = np.abs(current_mA) * np.minimum(steps_h, _LONGEST_STEP_H)
    worth_mAh = _WORTH * expected.capacity_mAh
    charge = _first(current_mA > 0)
    above = voltage_V[charge] > expected.upper_V + _BEYOND_V
    if passed_mAh[charge][above].sum() > worth_mAh:
        top = float(voltage_V[charge].max())
        yield f"charges to {top:.4g} V, beyond the limit of {expected.upper_V:g} V"
    discharge = _first(current_mA < 0)
    low = voltage_V[discharge]
    below = (low < expected.lower_V - _BEYOND_V) & (low > _SHORT_V)
    if passed_mAh[discharge][below].sum() > worth_mAh:
        yield f"discharges to {float(low.min()):.4g} V, beyond {expected.lower_V:g} V"


def _wrong_time(
    steps_h: np.ndarray, voltage_V: np.ndarray, current_mA: np.ndarray, expected: Expected
) -> Iterator[str]:
    """Half-cycles that pass many times the charge a cell holds: the unit of time is wrong.

    Two at least, each through half the window of voltage: a soft short may swallow any charge in
    one, but then no discharge gives it back.
    """
    sign = np.sign(current_mA)
    starts = np.flatnonzero(np.diff(sign, prepend=np.nan) != 0)
    flowing = sign != 0
    if not np.any(flowing) or not np.any(steps_h[flowing] > 0):
        return
    longest_h = _STEPS * float(np.median(steps_h[flowing & (steps_h > 0)]))
    charge = np.add.reduceat(np.abs(current_mA) * np.minimum(steps_h, longest_h), starts)
    swing = np.maximum.reduceat(voltage_V, starts) - np.minimum.reduceat(voltage_V, starts)
    whole = flowing[starts] & (swing > (expected.upper_V - expected.lower_V) / 2)
    if not (np.any(whole & (sign[starts] > 0)) and np.any(whole & (sign[starts] < 0))):
        return
    typical_mAh = float(np.median(charge[whole]))
    if typical_mAh > _MOST_CHARGE * expected.capacity_mAh:
        yield (
            f"passes {typical_mAh:.4g} mAh in a half-cycle, "
            f"{typical_mAh / expected.capacity_mAh:.3g} times the capacity basis of "
            f"{expected.capacity_mAh:g} mAh; are its times in a smaller unit than the layout says "
            "(ms for s), or is cycling.capacity_basis_mAh too small?"
        )


def _first(mask: np.ndarray) -> slice:
    """The first run of a mask."""
    if not np.any(mask):
        return slice(0, 0)
    start = int(np.argmax(mask))
    stop = int(np.argmin(mask[start:])) + start
    return slice(start, stop if stop > start else len(mask))
