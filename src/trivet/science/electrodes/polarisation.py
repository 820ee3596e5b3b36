"""Hysteresis at half of the charge, the electrodes' shares in polarisation, lithium deposition."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trivet.science.cycling.half_cycle_measures import extremes
from trivet.science.cycling.half_cycles import HalfCycles
from trivet.science.cycling.integrals import Floats, Integers, Sign


def potential_at_half_V(
    potential_V: Floats, rows: HalfCycles, *, passed: dict[Sign, Floats]
) -> Floats:
    """Potential at which half of the charge of each half-cycle has passed.

    Parameters
    ----------
    potential_V : ndarray, shape (n,)
        Record [V].
    rows : HalfCycles
        Where the half-cycles are.
    passed : dict of int to ndarray, shape (n - 1,)
        Charge of both signs between the rows [mAh].

    Returns
    -------
    ndarray, shape (m,)
        Potential [V], linear in charge between two rows; NaN where a row beside is missing.
    """
    out = np.full(rows.sign.size, np.nan)
    for sign, charge in passed.items():
        total = np.concatenate([[0.0], np.cumsum(charge)])
        mine = np.flatnonzero(rows.sign == sign)
        start, end = total[rows.from_row[mine]], total[rows.to_row[mine]]
        half = (start + end) / 2.0
        after = np.clip(np.searchsorted(total, half, side="left"), 1, total.size - 1)
        width = total[after] - total[after - 1]
        known = (end > start) & (width > 0.0)
        share = np.where(known, (half - total[after - 1]) / np.where(known, width, 1.0), np.nan)
        rise = potential_V[after] - potential_V[after - 1]
        out[mine] = potential_V[after - 1] + share * rise
    return out


def polarisation_share(own_V: Floats, other_V: Floats) -> Floats:
    """Share of one electrode in the polarisation of the cell, as hystereses of mean potentials.

    Parameters
    ----------
    own_V, other_V : ndarray, shape (m,)
        Hysteresis of the electrode and of the other one [V].

    Returns
    -------
    ndarray, shape (m,)
        Share [1]; the two add to 1. NaN where their sum is not above zero.
    """
    both = own_V + other_V
    usable = both > 0.0
    return np.where(usable, own_V / np.where(usable, both, 1.0), np.nan)


def corrected_minimum_V(
    current_mA: Floats,
    potential_V: Floats,
    *,
    first_row: Integers,
    last_row: Integers,
    ohmic_ohm: float,
) -> Floats:
    """Lowest potential of the negative in each cycle without its ohmic part.

    Parameters
    ----------
    current_mA, potential_V : ndarray, shape (n,)
        Record [mA, V].
    first_row, last_row : ndarray of int, shape (m,)
        Rows of each cycle.
    ohmic_ohm : float
        Ohmic resistance between the negative and the reference; 0 corrects nothing [ohm].

    Returns
    -------
    ndarray, shape (m,)
        Potential [V]; a charging current lowers the measured one by I R.
    """
    return extremes(potential_V + current_mA * ohmic_ohm / 1000.0, first_row, last_row)[0]


def minimum_error_mV(
    *,
    offset_error_mV: Floats,
    noise_mV: float,
    ohmic_error_ohm: float,
    current_mA: Floats,
) -> Floats:
    """Standard error of the lowest corrected potential of the negative.

    Parameters
    ----------
    offset_error_mV : ndarray, shape (m,)
        Standard error of the reference's offset in each cycle, with that of the known potential
        that it was read by [mV].
    noise_mV : float
        Standard deviation of the noise of one row [mV].
    ohmic_error_ohm : float
        Standard error of the ohmic part; an error of it counts with the current [ohm].
    current_mA : ndarray, shape (m,)
        Current of each cycle [mA].

    Returns
    -------
    ndarray, shape (m,)
        Error [mV]: independent parts, added as squares.

    References
    ----------
    Law of propagation of uncertainty for independent quantities: GUM (JCGM 100), equation 10.
    """
    parts = np.square(offset_error_mV) + noise_mV**2
    return np.sqrt(parts + np.square(ohmic_error_ohm * current_mA))


def lithium_deposition(
    minimum_V: Floats, *, uncertainty_mV: float, near_mV: float
) -> NDArray[np.object_]:
    """Whether lithium could deposit on a negative that is not lithium.

    A negative below 0 V against lithium makes deposition possible, it does not prove it.

    Parameters
    ----------
    minimum_V : ndarray, shape (m,)
        Lowest corrected potential [V].
    uncertainty_mV : float
        Uncertainty of the reference [mV].
    near_mV : float
        Potentials below this are near [mV].

    Returns
    -------
    ndarray of str, shape (m,)
        `possible` below 0 less the uncertainty, `near` below the second limit, else `no`; empty
        where there is no potential.
    """
    out = np.full(minimum_V.size, "", dtype=object)
    known = np.isfinite(minimum_V)
    out[known] = "no"
    out[known & (minimum_V * 1000.0 < near_mV)] = "near"
    out[known & (minimum_V * 1000.0 < -uncertainty_mV)] = "possible"
    return out
