"""What the checks of a reference measure: offset, jump, closure, noise, charge left.

Times count from the cell's clock start. Grading is done in `trivet.science.reference.trust`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.reasons import AnchorKind
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.half_cycles import Rests
from trivet.science.cycling.integrals import Booleans, Floats, Integers
from trivet.science.reference.plating import drained_mAh

ANCHOR_WINDOW_S = 600.0
"""The anchor is the median over this last part of a rest; common practice, no source."""

NOISE_WINDOW_S, LONGEST_NOISE_WINDOW_S, NOISE_ROWS = 60.0, 600.0, 8
"""Noise is judged over the last rows of a rest, at least so long, at most so long, at least so
many; common practice, no source."""

LIKE_SPACING = 3.0
"""Intervals between rows that differ by less may be compared; common practice, no source."""

JUMP_CLUSTER_H = 1.0
"""Jumps closer than this are one event; common practice, no source."""


@dataclass(frozen=True)
class Anchor:
    """The known potential that the reference is held against.

    Attributes
    ----------
    kind : AnchorKind
        Rest of the positive on its plateau, plateau of a graphite negative at low rate, rest of a
        lithium negative, or none.
    potential_V : float
        Potential of the plateau [V]; a lithium negative rests at 0 V.
    from_share, to_share : float
        State of charge between which the plateau of the positive holds [1].
    rest_s : float
        Rest before it is read [s].
    uncertainty_mV : float
        Standard uncertainty of the known potential [mV].
    """

    kind: AnchorKind
    potential_V: float
    from_share: float
    to_share: float
    rest_s: float
    uncertainty_mV: float = 0.0


@dataclass(frozen=True)
class Readings:
    """Values of one check in order of time, shape (k,) each.

    Attributes
    ----------
    time_h : ndarray
        When [h].
    value : ndarray
        What was found, in the unit of the check.
    """

    time_h: Floats
    value: Floats


def anchor_offsets_mV(
    time_s: Floats, potential_V: Floats, rests: Rests, *, usable: Booleans, anchor_V: float
) -> Readings:
    """Offset of the reference from its anchor at the end of rests (check R1).

    Parameters
    ----------
    time_s, potential_V : ndarray, shape (n,)
        Record of the electrode that is the anchor [s, V].
    rests : Rests
        Rests of the record.
    usable : ndarray of bool, shape (m,)
        Rests at which the anchor holds.
    anchor_V : float
        Its potential against lithium [V].

    Returns
    -------
    Readings
        Measured less expected [mV] at the last row of each rest; below zero where the
        reference lies above lithium.
    """
    hours, values = [], []
    for first, last in zip(rests.first_row[usable], rests.last_row[usable], strict=True):
        part = slice(int(first), int(last) + 1)
        late = time_s[part] >= time_s[last] - ANCHOR_WINDOW_S
        seen = potential_V[part][late & np.isfinite(potential_V[part])]
        if seen.size:
            hours.append(time_s[last] / SECONDS_PER_HOUR)
            values.append((float(np.median(seen)) - anchor_V) * 1000.0)
    return Readings(np.array(hours), np.array(values))


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
    excess = _beyond_course(np.diff(time_s), up, down, alike, quiet_mV)
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
    run_s: Floats, up_mV: Floats, down_mV: Floats, alike: Booleans, quiet_mV: float
) -> Floats:
    """What both potentials move alike beyond the pace of the steps beside [mV].

    Beside means right before or after, at the same current and like spacing; where there are two,
    both have to agree, and the smaller counts. 0 where nothing is sudden.
    """
    count = run_s.size
    found = np.full((2, count), np.nan)
    pairs = ((slice(1, None), slice(None, -1)), (slice(None, -1), slice(1, None)))
    for side, (own, other) in enumerate(pairs):
        longer = np.maximum(run_s[own], run_s[other])
        shorter = np.minimum(run_s[own], run_s[other])
        usable = alike[own] & alike[other] & (shorter > 0) & (longer <= LIKE_SPACING * shorter)
        share = run_s[own] / np.where(run_s[other] > 0, run_s[other], np.nan)
        one, two = (step[own] - share * step[other] for step in (up_mV, down_mV))
        agreed = np.where(np.abs(one - two) < quiet_mV, (one + two) / 2.0, 0.0)
        found[side, own] = np.where(usable, agreed, np.nan)
    known = np.isfinite(found)
    both = known.all(axis=0)
    filled = np.where(known, found, 0.0)
    agree = filled[0] * filled[1] > 0
    smaller = np.where(np.abs(filled[0]) < np.abs(filled[1]), filled[0], filled[1])
    single = filled.sum(axis=0)
    out = np.where(both, np.where(agree, smaller, 0.0), single)
    # One step beside, and that is sudden itself: then it is that one which jumped.
    large = both & (np.abs(out) > quiet_mV)
    beside = np.zeros(count, dtype=bool)
    beside[1:] |= large[:-1]
    beside[:-1] |= large[1:]
    return np.where(~both & beside, 0.0, out)


def rest_noise_mV(time_s: Floats, potential_V: Floats, rests: Rests) -> Readings:
    """Scatter of a potential at the end of rests, about a straight line (check R5).

    Parameters
    ----------
    time_s, potential_V : ndarray, shape (n,)
        Record [s, V].
    rests : Rests
        Rests of the record.

    Returns
    -------
    Readings
        Standard deviation of the residuals [mV], two degrees of freedom less, at the last row of
        each rest that has rows enough; the line takes out relaxation.
    """
    hours, values = [], []
    for first, last in zip(rests.first_row, rests.last_row, strict=True):
        begin = int(np.searchsorted(time_s, time_s[last] - NOISE_WINDOW_S, side="right")) - 1
        begin = max(int(first), min(begin, int(last) - NOISE_ROWS + 1))
        part = slice(begin, int(last) + 1)
        seconds, volts = time_s[part] - time_s[last], potential_V[part]
        known = np.isfinite(volts)
        span_s = float(np.ptp(seconds[known])) if known.any() else 0.0
        enough = int(known.sum()) >= NOISE_ROWS
        if not enough or not NOISE_WINDOW_S <= span_s <= LONGEST_NOISE_WINDOW_S:
            continue
        line = np.column_stack([np.ones(int(known.sum())), seconds[known]])
        fitted = line @ np.linalg.lstsq(line, volts[known], rcond=None)[0]
        spread = np.sqrt(np.sum((volts[known] - fitted) ** 2) / (known.sum() - 2))
        hours.append(float(time_s[last] / SECONDS_PER_HOUR))
        values.append(float(spread) * 1000.0)
    return Readings(np.array(hours), np.array(values))


def median_closure_mV(closure: Floats, first_row: Integers, last_row: Integers) -> Floats:
    """Median closure of each cycle (check R4).

    Parameters
    ----------
    closure : ndarray, shape (n,)
        Closure of each row [V].
    first_row, last_row : ndarray of int, shape (m,)
        First and last row of each cycle.

    Returns
    -------
    ndarray, shape (m,)
        Median [mV]; NaN where a cycle has no row with all three.
    """
    out = np.full(first_row.size, np.nan)
    for index, (first, last) in enumerate(zip(first_row, last_row, strict=True)):
        part = closure[first : last + 1]
        part = part[np.isfinite(part)]
        if part.size:
            out[index] = np.median(part) * 1000.0
    return out


def charge_left(
    time_s: Floats,
    potentials_V: tuple[Floats, ...],
    *,
    usable_mAh: float,
    resistance_ohm: float,
) -> Floats:
    """Share of the usable plated charge that the measuring channels have left (check R8).

    An upper bound: corrosion and water take more. Each measured pair drains E / R.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time from the plating on [s].
    potentials_V : tuple of ndarray, shape (n,)
        Potentials that were measured against the reference [V].
    usable_mAh : float
        Plated charge times efficiency, above zero [mAh].
    resistance_ohm : float
        Input resistance of each channel [ohm].

    Returns
    -------
    ndarray, shape (n,)
        Share left [1], not below zero.

    References
    ----------
    Ohm's law, see `drained_mAh`.
    """
    drained = drained_mAh(time_s, potentials_V, resistance_ohm=resistance_ohm)
    return np.maximum(1.0 - drained / usable_mAh, 0.0)
