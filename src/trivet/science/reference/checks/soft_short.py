"""Soft short of the reference to an electrode, seen by the missing response to current (R7).

A reference that touches an electrode takes its potential: that electrode then reads nearly zero
and does not answer to current, while the other one answers for the whole cell. Near zero alone
proves nothing: a lithium negative is near zero by nature, and a graphite plateau less its ohmic
drop can be. A short through a resistance, which pulls the reference only part of the way, is not
seen here but as an offset or a jump, and to a lithium negative not at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from trivet.reasons import Trust
from trivet.reference_checks import ReferenceCheck
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.half_cycles import runs
from trivet.science.cycling.integrals import Booleans, Floats, Integers
from trivet.science.reference.checks.watched import PlatedSpan, Watch, Watched
from trivet.science.reference.trust import Check, assess

LONGEST_STEP_S = 120.0
"""Rows at a step of the current lie no farther apart than this; common practice, no source."""

STEP_SHARE = 0.5
"""A step of the current is this share of the largest current of the cycle at least."""


def watch(cell: Watched) -> Watch:
    """Look at every cycle; a loss throws doubt back to the last cycle without one."""
    record, cycles, limits = cell.record, cell.cycles, cell.limits
    found = soft_shorts(
        record.time_s,
        record.current_mA,
        record.cell_V,
        (record.positive_V, record.negative_V),
        first_row=cycles.first_row,
        last_row=cycles.last_row,
        zero_current_mA=cell.zero_current_mA,
        near_mV=limits["soft_short_near_mV"],
        smallest_response=limits["soft_short_response"],
    )

    def checks(span: PlatedSpan) -> Iterator[Check]:
        sound_h = span.start_h
        for place in np.flatnonzero(span.holds(found.time_h)):
            time_h = float(found.time_h[place])
            check = assess(
                ReferenceCheck.SOFT_SHORT,
                time_h,
                float(found.lasting_h[place]),
                limits=limits.of(ReferenceCheck.SOFT_SHORT),
                doubt_from_h=sound_h,
                doubt_to_h=time_h,
            )
            if check.trust != Trust.LOST:
                sound_h = float(cycles.end_h[found.cycle[place]])
            yield check

    return checks


@dataclass(frozen=True)
class SoftShorts:
    """The check in every cycle where it can be made, shape (k,) each.

    Attributes
    ----------
    cycle : ndarray of int
        Place of the cycle.
    time_h : ndarray
        Begin of the longest time at the electrode's potential; end of the cycle where none [h].
    lasting_h : ndarray
        Longest time under current with an electrode at the reference and without response [h].
    """

    cycle: Integers
    time_h: Floats
    lasting_h: Floats


def response_shares(
    time_s: Floats,
    current_mA: Floats,
    cell_V: Floats,
    potential_V: Floats,
    *,
    first_row: Integers,
    last_row: Integers,
    smallest_mV: float,
) -> Floats:
    """Share of one electrode in the response of the cell voltage to steps of the current.

    Parameters
    ----------
    time_s, current_mA, cell_V, potential_V : ndarray, shape (n,)
        Record [s, mA, V, V].
    first_row, last_row : ndarray of int, shape (m,)
        Rows of each cycle; the row before the first is looked at too.
    smallest_mV : float
        Steps at which the cell voltage moves less than this tell nothing [mV].

    Returns
    -------
    ndarray, shape (m,)
        Median of |dE| / |dV| over the steps of each cycle [1]; NaN where there is no step.
    """
    step_mA = np.abs(np.diff(current_mA))
    moved = np.abs(np.diff(cell_V))
    # A missing value compares as false.
    usable = (np.diff(time_s) <= LONGEST_STEP_S) & (moved >= smallest_mV / 1000.0)
    usable &= np.isfinite(potential_V[:-1] + potential_V[1:])
    out = np.full(first_row.size, np.nan)
    for index, (first, last) in enumerate(zip(first_row, last_row, strict=True)):
        part = slice(max(int(first) - 1, 0), int(last))
        largest_mA = np.nanmax(np.abs(current_mA[int(first) : int(last) + 1]))
        steps = np.flatnonzero(usable[part] & (step_mA[part] >= STEP_SHARE * largest_mA))
        if steps.size:
            steps += part.start
            share = np.abs(potential_V[steps + 1] - potential_V[steps]) / moved[steps]
            out[index] = np.median(share)
    return out


def _longest(time_s: Floats, near: Booleans, first: int, last: int) -> tuple[float, float]:
    """Begin [s] and duration [s] of the longest run of rows near the reference in a cycle."""
    starts, ends = runs(near[first : last + 1])
    if not starts.size:
        return float(time_s[last]), 0.0
    lasting = time_s[first + ends] - time_s[first + starts]
    longest = int(np.argmax(lasting))
    return float(time_s[first + starts[longest]]), float(lasting[longest])


def soft_shorts(
    time_s: Floats,
    current_mA: Floats,
    cell_V: Floats,
    potentials_V: tuple[Floats, ...],
    *,
    first_row: Integers,
    last_row: Integers,
    zero_current_mA: float,
    near_mV: float,
    smallest_response: float,
) -> SoftShorts:
    """Look in each cycle for an electrode that the reference is shorted to.

    Parameters
    ----------
    time_s, current_mA, cell_V : ndarray, shape (n,)
        Record [s, mA, V].
    potentials_V : tuple of ndarray, shape (n,)
        Potentials of the electrodes against the reference [V].
    first_row, last_row : ndarray of int, shape (m,)
        Rows of each cycle.
    zero_current_mA : float
        Half width of the zero band [mA].
    near_mV : float
        Potentials up to this are at the reference [mV].
    smallest_response : float
        An electrode with a share in the response of the cell below this does not answer [1].

    Returns
    -------
    SoftShorts
        Cycles without a step of the current are left out.
    """
    flowing = np.abs(current_mA) > zero_current_mA
    begin = np.repeat(time_s[last_row][:, None], len(potentials_V), axis=1)
    lasting = np.zeros_like(begin)
    tested = np.zeros(first_row.size, dtype=bool)
    for place, potential_V in enumerate(potentials_V):
        share = response_shares(
            time_s,
            current_mA,
            cell_V,
            potential_V,
            first_row=first_row,
            last_row=last_row,
            smallest_mV=near_mV,
        )
        tested |= np.isfinite(share)
        near = flowing & (np.abs(potential_V) * 1000.0 < near_mV)
        for index in np.flatnonzero(share < smallest_response):
            rows = int(first_row[index]), int(last_row[index])
            begin[index, place], lasting[index, place] = _longest(time_s, near, *rows)
    chosen = np.argmax(lasting, axis=1) if lasting.size else np.zeros(0, dtype=np.int64)
    cycles = np.flatnonzero(tested)
    picked = cycles, chosen[cycles]
    return SoftShorts(cycles, begin[picked] / SECONDS_PER_HOUR, lasting[picked] / SECONDS_PER_HOUR)
