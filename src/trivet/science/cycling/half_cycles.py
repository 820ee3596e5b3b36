"""Half-cycles and rests from the signed current with a zero band.

A half-cycle runs from the first to the last row of one sign of the current; rests and missing
currents between rows of the same sign belong to it, and so does a constant-voltage tail. The
instrument's own counters are not used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.cycling.integrals import Booleans, Floats, Integers


@dataclass(frozen=True)
class HalfCycles:
    """Half-cycles in order of time; their signs alternate.

    Attributes
    ----------
    sign : ndarray of int, shape (m,)
        1 for a charge, -1 for a discharge.
    first_row, last_row : ndarray of int, shape (m,)
        First and last row that carry its current.
    from_row, to_row : ndarray of int, shape (m,)
        Last row of the half-cycle before and first row of the one after (or the ends of the
        record): all current of this sign between them belongs to this half-cycle.
    """

    sign: Integers
    first_row: Integers
    last_row: Integers
    from_row: Integers
    to_row: Integers


@dataclass(frozen=True)
class Rests:
    """Runs of rows without current, in order of time.

    Attributes
    ----------
    first_row, last_row : ndarray of int, shape (m,)
        First and last row of each run.
    duration_s : ndarray, shape (m,)
        Time between them [s].
    """

    first_row: Integers
    last_row: Integers
    duration_s: Floats


def signs(current_mA: Floats, *, zero_current_mA: float) -> Integers:
    """Sign of the current of each row.

    Parameters
    ----------
    current_mA : ndarray, shape (n,)
        Current, charge positive [mA].
    zero_current_mA : float
        Half width of the zero band, itself inside [mA].

    Returns
    -------
    ndarray of int, shape (n,)
        1, -1, or 0 inside the band and where the current is missing.
    """
    charging = current_mA > zero_current_mA
    discharging = current_mA < -zero_current_mA
    return charging.astype(np.int64) - discharging.astype(np.int64)


def half_cycles(current_mA: Floats, *, zero_current_mA: float) -> HalfCycles:
    """Find the half-cycles of a record.

    Parameters
    ----------
    current_mA : ndarray, shape (n,)
        Current, charge positive [mA]; missing values are NaN.
    zero_current_mA : float
        Half width of the zero band [mA].

    Returns
    -------
    HalfCycles
        Empty where no current flows.
    """
    sign = signs(current_mA, zero_current_mA=zero_current_mA)
    rows = np.flatnonzero(sign)
    if not rows.size:
        none = np.zeros(0, dtype=np.int64)
        return HalfCycles(none, none, none, none, none)
    turns = np.flatnonzero(np.diff(sign[rows])) + 1
    starts = np.concatenate([[0], turns])
    ends = np.concatenate([turns, [rows.size]]) - 1
    first, last = rows[starts], rows[ends]
    return HalfCycles(
        sign=sign[first],
        first_row=first,
        last_row=last,
        from_row=np.concatenate([[0], last[:-1]]),
        to_row=np.concatenate([first[1:], [current_mA.size - 1]]),
    )


def runs(mask: Booleans) -> tuple[Integers, Integers]:
    """First and last index of each run of true values.

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)

    Returns
    -------
    first, last : ndarray of int, shape (m,)
    """
    edges = np.diff(np.concatenate([[0], mask.astype(np.int8), [0]]))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1


def rests(time_s: Floats, current_mA: Floats, *, zero_current_mA: float) -> Rests:
    """Find the rests of a record.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time, not falling [s].
    current_mA : ndarray, shape (n,)
        Current, charge positive [mA]; a missing current is not a rest.
    zero_current_mA : float
        Half width of the zero band [mA].

    Returns
    -------
    Rests
    """
    first, last = runs(np.abs(current_mA) <= zero_current_mA)
    return Rests(first, last, time_s[last] - time_s[first])
