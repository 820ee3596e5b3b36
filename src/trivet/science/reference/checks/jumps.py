"""Common-mode jumps: both potentials step together, and the cell voltage does not."""

from __future__ import annotations

import numpy as np

from trivet.reference_checks import ReferenceCheck
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.integrals import Booleans, Floats
from trivet.science.reference.checks.watched import PlatedSpan, Readings, Watch, Watched, graded
from trivet.science.reference.trust import Check

LIKE_SPACING = 3.0
"""Intervals between rows that differ by less may be compared; common practice, no source."""

JUMP_CLUSTER_H = 1.0
"""Jumps closer than this are one event; common practice, no source."""

PLATING_SETTLES_H = 1.0
"""Jumps this soon after a plating are its doing; common practice, no source."""


def watch(cell: Watched) -> Watch:
    """Look for jumps over the whole record."""
    record, limits = cell.record, cell.limits
    suspect_mV, lost_mV = limits.of(ReferenceCheck.JUMP)
    jumps = common_jumps_mV(
        record.time_s,
        record.current_mA,
        record.cell_V,
        record.positive_V,
        record.negative_V,
        quiet_mV=limits["jump_cell_quiet_mV"],
        suspect_mV=suspect_mV,
        lost_mV=lost_mV,
        zero_current_mA=cell.zero_current_mA,
    )

    def checks(span: PlatedSpan) -> list[Check]:
        sudden = span.part(jumps, from_h=span.start_h + PLATING_SETTLES_H)
        return graded(ReferenceCheck.JUMP, sudden, (suspect_mV, lost_mV))

    return checks


def common_jumps_mV(
    time_s: Floats,
    current_mA: Floats,
    cell_V: Floats,
    positive_V: Floats,
    negative_V: Floats,
    *,
    quiet_mV: float,
    suspect_mV: float,
    lost_mV: float,
    zero_current_mA: float,
) -> Readings:
    """Steps that both potentials make together without the cell voltage (check R3).

    Adjacent rows are compared. Three things are such a step: both potentials move alike while
    current and cell voltage stand still; both move alike beyond the pace that they have right
    before or after, at the same current; or their mean moves by more than half of what the cell
    voltage moved and the limit of loss. No current does that: it drives the electrodes apart, so
    that their mean moves by half of the cell's step at most, whatever the share of each. So a
    jump shows while the voltage moves, and in the relaxation after a step of the current. The
    reference moved the other way. Steps within an hour are one event: its first step beyond the
    limit of loss counts, or else its largest.

    Parameters
    ----------
    time_s, current_mA, cell_V, positive_V, negative_V : ndarray, shape (n,)
        Record [s, mA, V].
    quiet_mV : float
        The cell voltage, and the difference of the two steps, stay within this [mV].
    suspect_mV, lost_mV : float
        Steps above the first are given; see above for the second [mV].
    zero_current_mA : float
        Currents within this of each other are equal [mA].

    Returns
    -------
    Readings
        Mean of the two steps [mV] at the later row.
    """
    up, down = np.diff(positive_V) * 1000.0, np.diff(negative_V) * 1000.0
    common = (up + down) / 2.0
    alike = np.abs(np.diff(current_mA)) <= zero_current_mA
    still = (np.abs(np.diff(cell_V)) * 1000.0 < quiet_mV) & (np.abs(up - down) < quiet_mV)
    still &= alike
    driven = np.maximum(np.abs(up - down), np.abs(np.diff(cell_V)) * 1000.0) / 2.0
    together = np.abs(common) - driven > lost_mV
    excess = _beyond_course(
        np.diff(time_s), up, down, alike, quiet_mV=quiet_mV, least_mV=suspect_mV
    )
    sudden = ~still & ~together & (np.abs(excess) > suspect_mV)
    # What goes on at the same pace is no part of the jump.
    common = np.where(sudden, excess, common)
    found = np.flatnonzero((still & (np.abs(common) > suspect_mV)) | together | sudden)
    hours, values = time_s[found + 1] / SECONDS_PER_HOUR, common[found]
    if not found.size:
        return Readings(hours, values)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(hours) > JUMP_CLUSTER_H) + 1])
    kept = []
    for start, stop in zip(starts, [*starts[1:], hours.size], strict=True):
        size = np.abs(values[start:stop])
        beyond = np.flatnonzero(size > lost_mV)
        kept.append(int(start) + int(beyond[0] if beyond.size else np.argmax(size)))
    return Readings(hours[kept], values[kept])


def _beyond_course(
    run_s: Floats,
    up_mV: Floats,
    down_mV: Floats,
    alike: Booleans,
    *,
    quiet_mV: float,
    least_mV: float,
) -> Floats:
    """What both potentials move alike beyond the pace of the steps beside [mV].

    Beside means right before or after, at the same current and like spacing; where there are two,
    both have to agree, and the smaller counts. 0 where nothing is sudden, and where it can't be
    above `least_mV` or the quiet limit: most rows of a record are passed over by that.
    """
    out = np.zeros(run_s.size)
    size = np.abs(up_mV + down_mV) / 2.0
    # a step less the pace of the one beside is at most both together, spacings being alike
    enough = size > min(quiet_mV, least_mV) / (1.0 + LIKE_SPACING)
    near = enough.copy()
    near[1:] |= enough[:-1]
    near[:-1] |= enough[1:]
    own = np.flatnonzero(near)
    found = np.full((2, own.size), np.nan)
    for side, other in enumerate((own - 1, own + 1)):
        there = (other >= 0) & (other < run_s.size)
        beside_it = np.where(there, other, own)
        longer = np.maximum(run_s[own], run_s[beside_it])
        shorter = np.minimum(run_s[own], run_s[beside_it])
        usable = there & alike[own] & alike[beside_it] & (shorter > 0)
        usable &= longer <= LIKE_SPACING * shorter
        share = run_s[own] / np.where(run_s[beside_it] > 0, run_s[beside_it], np.nan)
        one, two = (step[own] - share * step[beside_it] for step in (up_mV, down_mV))
        agreed = np.where(np.abs(one - two) < quiet_mV, (one + two) / 2.0, 0.0)
        found[side] = np.where(usable, agreed, np.nan)
    known = np.isfinite(found)
    both = known.all(axis=0)
    filled = np.where(known, found, 0.0)
    agree = filled[0] * filled[1] > 0
    smaller = np.where(np.abs(filled[0]) < np.abs(filled[1]), filled[0], filled[1])
    single = filled.sum(axis=0)
    out[own] = np.where(both, np.where(agree, smaller, 0.0), single)
    # One step beside, and that is sudden itself: then it is that one which jumped.
    large = np.zeros(run_s.size, dtype=bool)
    large[own] = both & (np.abs(out[own]) > quiet_mV)
    single_side = np.zeros(run_s.size, dtype=bool)
    single_side[own] = ~both
    beside = np.zeros(run_s.size, dtype=bool)
    beside[1:] |= large[:-1]
    beside[:-1] |= large[1:]
    return np.where(single_side & beside, 0.0, out)
