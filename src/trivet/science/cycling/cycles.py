"""Cycles of a cell: a charge and the discharge after it, with their numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.reasons import Beginning
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.efficiencies import (
    c_rate,
    constant_voltage_start,
    coulombic_efficiency,
    endpoint_slippage_mAh,
    energy_efficiency,
    inefficiency_per_h,
    kind_of_cycle,
    retention,
)
from trivet.science.cycling.half_cycle_measures import CycleRules, Halves, extremes, without_spikes
from trivet.science.cycling.half_cycles import HalfCycles, runs
from trivet.science.cycling.integrals import Booleans, Floats, Integers, without_offset


@dataclass(frozen=True)
class Cycles:
    """Cycles in order of time, shape (m,) each; fields as the columns of the table `cycles`.

    `charge` and `discharge` point to the half-cycles, -1 where there is none; `first_row` and
    `last_row` are the first and last row that carry current.
    """

    charge: Integers
    discharge: Integers
    first_row: Integers
    last_row: Integers
    cycle: Integers
    start_h: Floats
    end_h: Floats
    charge_capacity_mAh: Floats
    discharge_capacity_mAh: Floats
    charge_energy_mWh: Floats
    discharge_energy_mWh: Floats
    coulombic_efficiency: Floats
    energy_efficiency: Floats
    mean_charge_voltage_V: Floats
    mean_discharge_voltage_V: Floats
    c_rate: Floats
    kind: NDArray[np.object_]
    complete: Integers
    retention: Floats
    constant_voltage_share: Floats
    charge_slippage_mAh: Floats
    discharge_slippage_mAh: Floats
    inefficiency_per_h: Floats
    lowest_voltage_V: Floats
    highest_voltage_V: Floats


def pick(values: Floats, index: Integers) -> Floats:
    """Take values by index; NaN where the index is -1."""
    if not values.size:
        return np.full(index.size, np.nan)
    return np.where(index >= 0, values[index], np.nan)


def _pairs(sign: Integers) -> tuple[Integers, Integers, Integers]:
    """Number of each cycle, its charge and its discharge, -1 where missing.

    The first charge starts cycle 1; a discharge before it is cycle 0.
    """
    charge = np.flatnonzero(sign > 0)
    discharge = np.where(charge + 1 < sign.size, charge + 1, -1)
    number = np.arange(1, charge.size + 1)
    if sign.size and sign[0] < 0:
        charge, discharge = np.concatenate([[-1], charge]), np.concatenate([[0], discharge])
        number = np.concatenate([[0], number])
    return number, charge, discharge


def _complete(
    halves: Halves, charge: Integers, discharge: Integers, beginning: Beginning | None
) -> Booleans:
    """Whether both half-cycles are there, seen from their beginning, unbroken and ended."""
    count = halves.rows.sign.size
    ended = halves.reached_limit | (np.arange(count) < count - 1)
    whole = ended & ~halves.broken
    if count:
        seen = beginning is not None and beginning is not Beginning.NOT_KNOWN
        whole[0] &= seen or bool(halves.rows.first_row[0] > 0)
    both = (charge >= 0) & (discharge >= 0)
    return both & whole[charge] & whole[discharge] if count else both


def _slips(stored: Floats, given: Floats, complete: Booleans) -> tuple[Floats, Floats]:
    """Slippage of both ends since the cycle before; NaN unless both cycles are complete."""
    known = np.concatenate([[False], complete[1:] & complete[:-1]])[: complete.size]
    of_charge, of_discharge = (
        np.concatenate([[np.nan], slip])[: complete.size]
        for slip in endpoint_slippage_mAh(stored, given)
    )
    return np.where(known, of_charge, np.nan), np.where(known, of_discharge, np.nan)


def _per_hour(efficiency: Floats, complete: Booleans, hours: tuple[Floats, Floats]) -> Floats:
    """Inefficiency of complete cycles per hour between their first and last row [1/h]."""
    per_h = inefficiency_per_h(efficiency, duration_h=hours[1] - hours[0])
    return np.where(complete, per_h, np.nan)


def _median_currents(current_mA: Floats, rows: HalfCycles) -> Floats:
    """Median current of the rows that carry it, by half-cycle [mA]."""
    out = np.full(rows.sign.size, np.nan)
    for index, (first, last) in enumerate(zip(rows.first_row, rows.last_row, strict=True)):
        part = current_mA[first : last + 1] * rows.sign[index]
        out[index] = np.median(part[part > 0.0])
    return out


def constant_voltage_share(
    current_mA: Floats, cell_V: Floats, halves: Halves, rules: CycleRules
) -> Floats:
    """Share of each charge that passed while the voltage was held at its limit.

    Parameters
    ----------
    time_s, current_mA, cell_V : ndarray, shape (n,)
        Record [s, mA, V].
    halves : Halves
        Its half-cycles.
    rules : CycleRules
        Upper limit and band.

    Returns
    -------
    ndarray, shape (m,)
        Share [1]; NaN for discharges and where no charge passed.
    """
    out = np.full(halves.charge_mAh.size, np.nan)
    current = without_offset(current_mA, zero_current_mA=rules.zero_current_mA)
    passed, rows = halves.passed[1], halves.rows
    for index in np.flatnonzero((rows.sign > 0) & (halves.charge_mAh > 0)):
        first, last = int(rows.first_row[index]), int(rows.last_row[index])
        held = first + constant_voltage_start(
            current[first : last + 1],
            cell_V[first : last + 1],
            upper_voltage_V=rules.upper_voltage_V,
            constant_voltage_band_V=rules.constant_voltage_band_V,
        )
        # Only the rows of the charge itself: the switch to what follows is not held voltage.
        out[index] = passed[held:last].sum() / halves.charge_mAh[index]
    return out


def cycles(
    time_s: Floats,
    current_mA: Floats,
    cell_V: Floats,
    halves: Halves,
    rules: CycleRules,
    *,
    beginning: Beginning | None = None,
) -> Cycles:
    """Pair half-cycles to cycles and give each its numbers.

    A cycle is complete where its charge and its discharge are both there, each ended at its
    voltage limit or by the opposite half-cycle, no current was lost to a gap, and the record
    shows its beginning. Efficiencies are given for complete cycles only.

    Parameters
    ----------
    time_s, current_mA, cell_V : ndarray, shape (n,)
        Record; time counts from the cell's clock start [s, mA, V].
    halves : Halves
        Its half-cycles.
    rules : CycleRules
        Rates, limits and tolerances.
    beginning : Beginning or None
        How the beginning of the first half-cycle is known; None: only by a row before it.

    Returns
    -------
    Cycles
    """
    number, charge, discharge = _pairs(halves.rows.sign)
    complete = _complete(halves, charge, discharge, beginning)
    first_row = halves.rows.first_row[np.where(charge >= 0, charge, discharge)]
    last_row = halves.rows.last_row[np.where(discharge >= 0, discharge, charge)]
    low, high = extremes(without_spikes(cell_V, halves.rows), first_row, last_row)
    stored, given = pick(halves.charge_mAh, charge), pick(halves.charge_mAh, discharge)
    taken, returned = pick(halves.energy_mWh, charge), pick(halves.energy_mWh, discharge)
    median_mA = _median_currents(current_mA, halves.rows)
    rate = pick(c_rate(median_mA, capacity_basis_mAh=rules.capacity_basis_mAh), discharge)
    kinds = kind_of_cycle(
        rate,
        complete,
        ageing_rate=rules.ageing_rate,
        check_up_rate=rules.check_up_rate,
        rate_tolerance=rules.rate_tolerance,
    )
    efficiency = coulombic_efficiency(stored_mAh=stored, given_mAh=given)
    energy_share = energy_efficiency(stored_mWh=taken, given_mWh=returned)
    slips = _slips(stored, given, complete)
    hours = time_s[first_row] / SECONDS_PER_HOUR, time_s[last_row] / SECONDS_PER_HOUR
    shares = constant_voltage_share(current_mA, cell_V, halves, rules)
    return Cycles(
        charge=charge,
        discharge=discharge,
        first_row=first_row,
        last_row=last_row,
        cycle=number,
        start_h=hours[0],
        end_h=hours[1],
        charge_capacity_mAh=stored,
        discharge_capacity_mAh=given,
        charge_energy_mWh=taken,
        discharge_energy_mWh=returned,
        coulombic_efficiency=np.where(complete, efficiency, np.nan),
        energy_efficiency=np.where(complete, energy_share, np.nan),
        mean_charge_voltage_V=pick(halves.mean_V, charge),
        mean_discharge_voltage_V=pick(halves.mean_V, discharge),
        c_rate=rate,
        kind=kinds,
        complete=complete.astype(np.int64),
        retention=retention(given, kinds),
        constant_voltage_share=pick(shares, charge),
        charge_slippage_mAh=slips[0],
        discharge_slippage_mAh=slips[1],
        inefficiency_per_h=_per_hour(efficiency, complete, hours),
        lowest_voltage_V=low,
        highest_voltage_V=high,
    )


@dataclass(frozen=True)
class Excursions:
    """Spans with the cell voltage beyond its limits, shape (m,) each.

    Attributes
    ----------
    start_h, end_h : ndarray
        First and last row beyond the limit [h].
    extreme_voltage_V, limit_V : ndarray
        Voltage farthest beyond, and the limit with its margin [V].
    """

    start_h: Floats
    end_h: Floats
    extreme_voltage_V: Floats
    limit_V: Floats


def excursions(
    time_s: Floats,
    cell_V: Floats,
    *,
    upper_voltage_V: float,
    lower_voltage_V: float,
    margin_V: float,
) -> Excursions:
    """Find the spans of rows with the cell voltage beyond a limit by more than a margin.

    Rows without a voltage are passed over: they neither end a span nor make one.

    Parameters
    ----------
    time_s, cell_V : ndarray, shape (n,)
        Record; time counts from the cell's clock start [s, V].
    upper_voltage_V, lower_voltage_V, margin_V : float
        Limits, and how far beyond them the voltage must lie [V].

    Returns
    -------
    Excursions
    """
    seen = np.flatnonzero(np.isfinite(cell_V))
    volts, hours = cell_V[seen], time_s[seen] / SECONDS_PER_HOUR
    above, below = upper_voltage_V + margin_V, lower_voltage_V - margin_V
    # A nanovolt keeps rounding in limit plus margin from making an excursion.
    first_up, last_up = runs(volts > above + 1e-9)
    first_down, last_down = runs(volts < below - 1e-9)
    highest = extremes(volts, first_up, last_up)[1]
    lowest = extremes(volts, first_down, last_down)[0]
    starts = hours[np.concatenate([first_up, first_down])]
    # Rows at the same moment may lie beyond both limits; one span a moment is enough.
    starts, kept = np.unique(starts, return_index=True)
    return Excursions(
        start_h=starts,
        end_h=hours[np.concatenate([last_up, last_down])][kept],
        extreme_voltage_V=np.concatenate([highest, lowest])[kept],
        limit_V=np.repeat([above, below], [highest.size, lowest.size])[kept],
    )
