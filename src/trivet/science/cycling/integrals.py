"""Charge and energy between the rows of a series, exact for piecewise-linear records.

Between two rows the current and the potential are taken as straight lines. An interval is
integrated only where both its rows have a current and it is not longer than the longest gap.
Charge and energy are split by the sign of the *current*, at the point where the line crosses
zero, so that a potential below zero never turns a charge into a discharge.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from trivet.science.constants import SECONDS_PER_HOUR

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Booleans = NDArray[np.bool_]
Sign = Literal[-1, 1]


def without_offset(current_mA: Floats, *, zero_current_mA: float) -> Floats:
    """Currents inside the zero band as exactly zero, so that an offset is not charge.

    Parameters
    ----------
    current_mA : ndarray, shape (n,)
        Current, charge positive [mA].
    zero_current_mA : float
        Half width of the band, itself inside [mA].

    Returns
    -------
    ndarray, shape (n,)
        Current [mA]; missing values stay missing.
    """
    return np.where(np.abs(current_mA) <= zero_current_mA, 0.0, current_mA)


def long_gaps(time_s: Floats, *, longest_gap_s: float) -> Booleans:
    """Mark the intervals between two rows that are longer than the longest gap.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time, not falling [s].
    longest_gap_s : float
        Longest interval that is still integrated [s].

    Returns
    -------
    ndarray of bool, shape (n - 1,)
    """
    return np.diff(time_s) > longest_gap_s


def _crossings(current_mA: Floats, sign: Sign) -> tuple[Integers, Floats, Floats]:
    """Intervals in which the current changes sign, and the share of each with one sign.

    Given as indices, begin and end of that share; every other interval has one sign throughout.
    """
    places = np.flatnonzero(current_mA[:-1] * current_mA[1:] < 0)
    first, second = sign * current_mA[places], sign * current_mA[places + 1]
    crossing = first / (first - second)
    return places, np.where(first < 0, crossing, 0.0), np.where(first > 0, crossing, 1.0)


def charge_mAh(
    time_s: Floats, current_mA: Floats, *, sign: Sign, longest_gap_s: float = np.inf
) -> Floats:
    """Charge of one sign that passes in each interval between two rows.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time, not falling [s].
    current_mA : ndarray, shape (n,)
        Current, charge positive [mA].
    sign : {1, -1}
        1 for what is charged, -1 for what is discharged.
    longest_gap_s : float
        Longer intervals give zero [s].

    Returns
    -------
    ndarray, shape (n - 1,)
        Charge, not negative [mAh]; zero where the current of a row is missing.

    References
    ----------
    Trapezoidal rule, exact for a linear current; the zero of the line splits an interval.
    """
    flow = np.maximum(sign * current_mA, 0.0)
    duration_s = np.diff(time_s)
    charge = (flow[:-1] + flow[1:]) * duration_s * (0.5 / SECONDS_PER_HOUR)
    places, start, end = _crossings(current_mA, sign)
    charge[places] *= end - start
    charge[~(np.isfinite(charge) & (duration_s <= longest_gap_s))] = 0.0
    return charge


def energy_mWh(
    time_s: Floats,
    current_mA: Floats,
    potential_V: Floats,
    *,
    sign: Sign,
    longest_gap_s: float = np.inf,
) -> Floats:
    """Energy that passes in each interval while the current has one sign.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time, not falling [s].
    current_mA : ndarray, shape (n,)
        Current, charge positive [mA].
    potential_V : ndarray, shape (n,)
        Cell voltage, or potential of an electrode [V].
    sign : {1, -1}
        1 while charging, -1 while discharging.
    longest_gap_s : float
        Longer intervals give zero [s].

    Returns
    -------
    ndarray, shape (n - 1,)
        Energy [mWh], with the sign of the potential; NaN where charge passes while the potential
        of a row is missing, zero where no charge is counted.

    References
    ----------
    Integral of the product of two straight lines over a duration d:
    d/6 (2 i0 v0 + i0 v1 + i1 v0 + 2 i1 v1).
    """
    flow = np.maximum(sign * current_mA, 0.0)
    duration_s = np.diff(time_s)
    before, after = potential_V[:-1], potential_V[1:]
    energy = flow[:-1] * (2.0 * before + after) + flow[1:] * (before + 2.0 * after)
    places, start, end = _crossings(current_mA, sign)
    rise = after[places] - before[places]
    begin_V, end_V = before[places] + start * rise, before[places] + end * rise
    first, second = flow[places], flow[places + 1]
    parts = first * (2.0 * begin_V + end_V) + second * (begin_V + 2.0 * end_V)
    energy[places] = parts * (end - start)
    energy *= duration_s / (6.0 * SECONDS_PER_HOUR)
    # A flow that is missing compares as false, so that nothing is counted there.
    counted = (flow[:-1] + flow[1:] > 0.0) & (duration_s > 0.0) & (duration_s <= longest_gap_s)
    energy[~counted] = 0.0
    return energy


def charges_by_sign(
    time_s: Floats, current_mA: Floats, *, longest_gap_s: float = np.inf
) -> dict[Sign, Floats]:
    """Give `charge_mAh` of both signs at once.

    Parameters as in `charge_mAh`.

    Returns
    -------
    dict of int to ndarray, shape (n - 1,)
        Charge of either sign in each interval [mAh].
    """
    duration_s = np.diff(time_s)
    net = (current_mA[:-1] + current_mA[1:]) * duration_s * (0.5 / SECONDS_PER_HOUR)
    net[~(np.isfinite(net) & (duration_s <= longest_gap_s))] = 0.0
    out: dict[Sign, Floats] = {1: np.maximum(net, 0.0), -1: np.maximum(-net, 0.0)}
    crossed = _crossed(current_mA)
    for sign, values in out.items():
        split = charge_mAh(
            time_s[crossed], current_mA[crossed], sign=sign, longest_gap_s=longest_gap_s
        )
        values[crossed[::2]] = split[::2]
    return out


def energies_by_sign(
    time_s: Floats,
    current_mA: Floats,
    potential_V: Floats,
    charges: dict[Sign, Floats],
    *,
    longest_gap_s: float = np.inf,
) -> dict[Sign, Floats]:
    """Give `energy_mWh` of both signs at once.

    Parameters as in `energy_mWh`; `charges` as of `charges_by_sign` for the same record.

    Returns
    -------
    dict of int to ndarray, shape (n - 1,)
        Energy while the current has either sign [mWh].
    """
    before, after = potential_V[:-1], potential_V[1:]
    first, second = current_mA[:-1], current_mA[1:]
    net = first * (2.0 * before + after) + second * (before + 2.0 * after)
    net *= np.diff(time_s) / (6.0 * SECONDS_PER_HOUR)
    crossed = _crossed(current_mA)
    out: dict[Sign, Floats] = {}
    for sign, charge in charges.items():
        values = np.where(charge > 0.0, sign * net, 0.0)
        split = energy_mWh(
            time_s[crossed],
            current_mA[crossed],
            potential_V[crossed],
            sign=sign,
            longest_gap_s=longest_gap_s,
        )
        values[crossed[::2]] = split[::2]
        out[sign] = values
    return out


def _crossed(current_mA: Floats) -> Integers:
    """Rows before and after each change of sign, in pairs."""
    places = np.flatnonzero(current_mA[:-1] * current_mA[1:] < 0)
    return np.column_stack([places, places + 1]).ravel()


def span_sums(values: Floats, starts: Integers, ends: Integers) -> Floats:
    """Sum of interval values over spans of rows.

    Parameters
    ----------
    values : ndarray, shape (n - 1,)
        One value for each interval between two rows.
    starts, ends : ndarray of int, shape (m,)
        First and last row of each span.

    Returns
    -------
    ndarray, shape (m,)
        Sums; zero for a span of one row.
    """
    if not starts.size or not values.size:
        return np.zeros(starts.size)
    # The last interval is added by itself, since the sums below can't reach past the end.
    last = values.size - 1
    pairs = np.column_stack([np.minimum(starts, last), np.minimum(ends, last)]).ravel()
    sums = np.asarray(np.add.reduceat(values, pairs)[::2], dtype=np.float64)
    inner = np.where(starts < np.minimum(ends, last), sums, 0.0)
    return np.where((ends > last) & (starts <= last), inner + values[last], inner)


def switch_bound_mAh(
    time_s: Floats,
    current_mA: Floats,
    *,
    sign: Sign,
    longest_gap_s: float = np.inf,
    counted: Floats | None = None,
) -> Floats:
    """Largest error of each interval's charge if the current switched abruptly inside it.

    Without a row at the moment of a switch the straight line is a guess: the old current may have
    lasted up to either end of the interval. Only intervals in which the current changes sign, or
    starts, or stops, carry such an error; a row on each side of the switch takes it away.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time, not falling [s].
    current_mA : ndarray, shape (n,)
        Current, charge positive, offsets set to zero [mA].
    sign : {1, -1}
        1 for what is charged, -1 for what is discharged.
    longest_gap_s : float
        Longer intervals are not integrated and give zero [s].
    counted : ndarray, shape (n - 1,), or None
        `charge_mAh` of the same record where it is known already [mAh].

    Returns
    -------
    ndarray, shape (n - 1,)
        Bound on the error of `charge_mAh` [mAh].
    """
    if counted is None:
        counted = charge_mAh(time_s, current_mA, sign=sign, longest_gap_s=longest_gap_s)
    first, second = current_mA[:-1], current_mA[1:]
    # A missing current differs from every other, but nothing is counted there.
    switches = np.flatnonzero((np.sign(first) != np.sign(second)) & (counted > 0))
    largest_mA = np.maximum(np.maximum(sign * first[switches], sign * second[switches]), 0.0)
    possible = largest_mA * np.diff(time_s)[switches] / SECONDS_PER_HOUR
    bound = np.zeros(counted.size)
    bound[switches] = np.maximum(possible - counted[switches], counted[switches])
    return bound
