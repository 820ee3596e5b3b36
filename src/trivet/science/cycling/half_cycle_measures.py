"""Half-cycles of a record with their charge, energy, mean voltage and state of ending."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.cycling.efficiencies import mean_voltage_V
from trivet.science.cycling.half_cycles import HalfCycles, half_cycles
from trivet.science.cycling.integrals import (
    Booleans,
    Floats,
    Integers,
    Sign,
    charges_by_sign,
    energies_by_sign,
    long_gaps,
    span_sums,
    switch_bound_mAh,
    without_offset,
)

FEWEST_ROWS_MASKED = 4
"""A half-cycle of so many rows beyond its first can spare that one; common practice, no source."""
SMALLEST_COVERAGE = 0.99
"""Share of a half-cycle's charge that must have a potential for a mean; common practice, no
source."""


@dataclass(frozen=True)
class CycleRules:
    """What half-cycles, ends and kinds of cycles are held against.

    Attributes
    ----------
    capacity_basis_mAh : float
        Capacity that rates refer to [mAh].
    zero_current_mA : float
        Half width of the zero band [mA].
    ageing_rate, check_up_rate : float
        Rates of the protocol [1/h].
    rate_tolerance : float
        Relative deviation up to which a rate is that rate [1].
    upper_voltage_V, lower_voltage_V : float
        Limits of the cell voltage [V].
    longest_gap_s : float
        No integration across a longer interval [s].
    constant_voltage_band_V : float
        Distance from a limit that still counts as reaching it [V].
    """

    capacity_basis_mAh: float
    zero_current_mA: float
    ageing_rate: float
    check_up_rate: float
    rate_tolerance: float
    upper_voltage_V: float
    lower_voltage_V: float
    longest_gap_s: float
    constant_voltage_band_V: float


@dataclass(frozen=True)
class Halves:
    """Half-cycles with their numbers, shape (m,) each.

    Attributes
    ----------
    rows : HalfCycles
        Where they are.
    charge_mAh, charge_bound_mAh : ndarray
        Charge passed, and the largest error of it from switches between rows [mAh].
    energy_mWh, mean_V : ndarray
        Energy [mWh] and charge-weighted mean cell voltage [V]; NaN where not known.
    reached_limit : ndarray of bool
        Whether the cell voltage reached the limit at which such a half-cycle ends.
    broken : ndarray of bool
        Whether current flowed into a gap or into rows without a current.
    passed : dict of int to ndarray, shape (n - 1,)
        Charge of both signs between the rows of the record [mAh].
    """

    rows: HalfCycles
    charge_mAh: Floats
    charge_bound_mAh: Floats
    energy_mWh: Floats
    mean_V: Floats
    reached_limit: Booleans
    broken: Booleans
    passed: dict[Sign, Floats]


def potential_sums(
    time_s: Floats,
    current_mA: Floats,
    potential_V: Floats,
    rows: HalfCycles,
    longest_gap_s: float,
    passed: dict[Sign, Floats] | None = None,
) -> tuple[Floats, Floats]:
    """Energy and charge-weighted mean of any potential over half-cycles.

    Parameters
    ----------
    time_s, current_mA, potential_V : ndarray, shape (n,)
        Record, offsets of the current set to zero [s, mA, V].
    rows : HalfCycles
        Where the half-cycles are.
    longest_gap_s : float
        Longest interval that is integrated [s].
    passed : dict of int to ndarray, shape (n - 1,), or None
        Charge of both signs in each interval, where it is known already [mAh].

    Returns
    -------
    energy_mWh, mean_V : ndarray, shape (m,)
        Energy [mWh], NaN where any charge lacks a potential; mean [V] over the charge that has
        one, NaN where that is less than `SMALLEST_COVERAGE` of it.
    """
    energy, mean = np.full(rows.sign.size, np.nan), np.full(rows.sign.size, np.nan)
    if passed is None:
        passed = charges_by_sign(time_s, current_mA, longest_gap_s=longest_gap_s)
    products = energies_by_sign(
        time_s, current_mA, potential_V, passed, longest_gap_s=longest_gap_s
    )
    for sign, product in products.items():
        mine, charge = rows.sign == sign, passed[sign]
        span = rows.from_row[mine], rows.to_row[mine]
        total = covered = span_sums(charge, *span)
        lacking = np.zeros(total.size, dtype=bool)
        known = np.isfinite(product)
        if not known.all():
            product = np.where(known, product, 0.0)  # noqa: PLW2901 (the same without what lacks)
            covered = span_sums(np.where(known, charge, 0.0), *span)
            lacking = span_sums((~known).astype(np.float64), *span) > 0
        summed = span_sums(product, *span)
        energy[mine] = np.where(lacking, np.nan, summed)
        enough = covered >= SMALLEST_COVERAGE * total
        mean[mine] = np.where(enough, mean_voltage_V(energy_mWh=summed, charge_mAh=covered), np.nan)
    return energy, mean


def extremes(values: Floats, first: Integers, last: Integers) -> tuple[Floats, Floats]:
    """Lowest and highest value of each span of rows.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Values; missing ones are NaN and do not count.
    first, last : ndarray of int, shape (m,)
        First and last row of each span, both included.

    Returns
    -------
    lowest, highest : ndarray, shape (m,)
        In the unit of the values; NaN where all of a span are missing.
    """
    if not first.size:
        return np.zeros(0), np.zeros(0)
    padded = np.append(values, np.nan)
    pairs = np.column_stack([first, last + 1]).ravel()
    return np.fmin.reduceat(padded, pairs)[::2], np.fmax.reduceat(padded, pairs)[::2]


def without_spikes(values: Floats, rows: HalfCycles) -> Floats:
    """Values without the first row of each half-cycle, where a switch of range leaves a spike.

    For extremes only, never for integrals. Half-cycles of few rows keep theirs.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Values by row.
    rows : HalfCycles
        Half-cycles of the record.

    Returns
    -------
    ndarray, shape (n,)
        NaN in the rows that are left out.
    """
    out = values.copy()
    long = rows.last_row - rows.first_row >= FEWEST_ROWS_MASKED
    out[rows.first_row[long]] = np.nan
    return out


def _last_known(current_mA: Floats) -> Floats:
    """Each current, or where it is missing the last one before it."""
    place = np.where(np.isnan(current_mA), 0, np.arange(current_mA.size))
    return current_mA[np.maximum.accumulate(place)]


def _broken(
    time_s: Floats, current_mA: Floats, rows: HalfCycles, reached: Booleans, longest_gap_s: float
) -> Booleans:
    """Whether charge was lost to a gap or to missing currents, by half-cycle.

    A gap after the last row of a half-cycle that reached its limit loses nothing, and neither does
    a gap after a row without current.
    """
    out = np.zeros(rows.sign.size, dtype=bool)
    lost = long_gaps(time_s, longest_gap_s=longest_gap_s)
    lost |= np.isnan(current_mA[:-1]) | np.isnan(current_mA[1:])
    flowing = lost & ~(_last_known(current_mA)[:-1] == 0.0)
    for row in np.flatnonzero(flowing):
        owner = int(np.searchsorted(rows.first_row, row, side="right")) - 1
        if owner < 0:
            out[:1] = True
            continue
        if row < rows.last_row[owner] or not reached[owner]:
            out[owner] = True
        if row == rows.last_row[owner] and owner + 1 < out.size:
            out[owner + 1] |= row + 1 == rows.first_row[owner + 1]
    return out


def measure_halves(time_s: Floats, current_mA: Floats, cell_V: Floats, rules: CycleRules) -> Halves:
    """Find and measure the half-cycles of a record.

    Parameters
    ----------
    time_s, current_mA, cell_V : ndarray, shape (n,)
        Record; missing values are NaN [s, mA, V].
    rules : CycleRules
        Zero band, gap and voltage limits.

    Returns
    -------
    Halves
    """
    rows = half_cycles(current_mA, zero_current_mA=rules.zero_current_mA)
    current = without_offset(current_mA, zero_current_mA=rules.zero_current_mA)
    gap_s = rules.longest_gap_s
    charge, bound = np.zeros(rows.sign.size), np.zeros(rows.sign.size)
    passed = charges_by_sign(time_s, current, longest_gap_s=gap_s)
    for sign, counted in passed.items():
        mine = rows.sign == sign
        span = rows.from_row[mine], rows.to_row[mine]
        charge[mine] = span_sums(counted, *span)
        bounds = switch_bound_mAh(time_s, current, sign=sign, longest_gap_s=gap_s, counted=counted)
        bound[mine] = span_sums(bounds, *span)
    energy, mean = potential_sums(time_s, current, cell_V, rows, gap_s, passed)
    low, high = extremes(without_spikes(cell_V, rows), rows.first_row, rows.last_row)
    band_V = rules.constant_voltage_band_V
    reached = np.where(
        rows.sign > 0, high >= rules.upper_voltage_V - band_V, low <= rules.lower_voltage_V + band_V
    )
    broken = _broken(time_s, current, rows, reached, gap_s)
    return Halves(rows, charge, bound, energy, mean, reached, broken, passed)


def state_of_charge(net_charge_mAh: Floats, halves: Halves, at_row: Integers) -> Floats:
    """State of charge by counting from the last full discharge.

    A full discharge ended at the lower voltage limit, after a charge that reached the upper one;
    its charge is the divisor. Unknown before the first one, and while charge was lost to a gap
    in a half-cycle since then.

    Parameters
    ----------
    net_charge_mAh : ndarray, shape (n,)
        Charge less discharge since the first row [mAh].
    halves : Halves
        Half-cycles of the record.
    at_row : ndarray of int, shape (k,)
        Rows to give it at.

    Returns
    -------
    ndarray, shape (k,)
        Share of the discharge capacity [1]; NaN where unknown.
    """
    rows = halves.rows
    after_full = np.concatenate([[False], halves.reached_limit[:-1] & (rows.sign[:-1] > 0)])
    emptied = (rows.sign < 0) & halves.reached_limit & ~halves.broken
    whole = emptied & after_full[: emptied.size] & (halves.charge_mAh > 0)
    out = np.full(at_row.size, np.nan)
    broken = np.concatenate([[0], np.cumsum(halves.broken)])
    for index, row in enumerate(at_row):
        begun = int(np.searchsorted(rows.first_row, row, side="right"))
        full, zero = np.flatnonzero(whole[:begun]), np.flatnonzero(emptied[:begun])
        if not full.size or broken[begun] != broken[int(zero[-1]) + 1]:
            continue
        stored = net_charge_mAh[row] - net_charge_mAh[rows.last_row[zero[-1]]]
        out[index] = stored / halves.charge_mAh[full[-1]]
    return out
