"""Order of rows that share one time, by how the current goes on from the rows around them."""

from __future__ import annotations

import numpy as np

from trivet.science.cycling.integrals import Floats, Integers


def tie_order(time_s: Floats, current_mA: Floats, *, zero_current_mA: float) -> Integers:
    """Order the rows of each moment at which the current was switched.

    A moment with several rows tells what was before a switch and what came after it, whichever
    way they were written: the row nearest in current to the row before comes first, the one
    nearest to the row after comes last, the others in between.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time, not falling [s].
    current_mA : ndarray, shape (n,)
        Current [mA].
    zero_current_mA : float
        Moments whose currents differ by no more than this are left as they are [mA].

    Returns
    -------
    ndarray of int, shape (n,)
        Rows in order; a moment with a missing current is left as it is.
    """
    order = np.arange(time_s.size)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(time_s) != 0.0) + 1])
    if not time_s.size or starts.size == time_s.size:
        return order
    lowest = np.minimum.reduceat(current_mA, starts)
    highest = np.maximum.reduceat(current_mA, starts)
    # A missing current makes the range missing, which compares as false.
    switched = np.flatnonzero(highest - lowest > zero_current_mA)
    ends = np.append(starts[1:], time_s.size)
    for first, end in zip(starts[switched], ends[switched], strict=True):
        before = current_mA[order[first - 1]] if first else np.nan
        after = current_mA[end] if end < time_s.size else np.nan
        order[first:end] = first + _one_moment(current_mA[first:end], before, after)
    return order


def _one_moment(current_mA: Floats, before_mA: float, after_mA: float) -> Integers:
    """Order of the rows of one moment, by the currents of the rows before and after it."""
    rows = np.argsort(-current_mA, kind="stable")
    from_before = np.abs(current_mA[rows] - before_mA)
    from_after = np.abs(current_mA[rows] - after_mA)
    if np.isnan(before_mA) and np.isnan(after_mA):
        return np.arange(current_mA.size)
    if np.isnan(before_mA):
        return rows[np.argsort(-from_after, kind="stable")]
    if np.isnan(after_mA):
        return rows[np.argsort(from_before, kind="stable")]
    first = int(np.argmin(from_before))
    rest = np.delete(rows, first)
    last = int(np.argmin(np.delete(from_after, first)))
    between = np.delete(rest, last)
    between = between[np.argsort(np.abs(current_mA[between] - before_mA), kind="stable")]
    return np.concatenate([[rows[first]], between, [rest[last]]])
