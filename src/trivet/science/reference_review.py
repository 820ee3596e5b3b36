"""All checks of one reference over its platings, and the trust that follows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling import Cycles
from trivet.science.electrodes import closure_V
from trivet.science.half_cycles import rests
from trivet.science.halves import Halves, state_of_charge
from trivet.science.integrals import Booleans, Floats, charge_mAh, without_offset
from trivet.science.reference import Check, TrustSpans, assess, one_each, trust_timeline
from trivet.science.reference_checks import (
    Anchor,
    Readings,
    anchor_offsets_mV,
    charge_left,
    common_jumps_mV,
    drift_mV_per_day,
    median_closure_mV,
    rest_noise_mV,
)


@dataclass(frozen=True)
class Record:
    """Rows of a cell, shape (n,) each; missing values are NaN, time counts from the cell's start.

    `closable` marks rows whose three voltages were all measured, none derived.
    """

    time_s: Floats
    current_mA: Floats
    cell_V: Floats
    positive_V: Floats
    negative_V: Floats
    closable: Booleans


@dataclass(frozen=True)
class Plating:
    """A plating of the reference: when [h], and the usable charge [mAh] where it is known."""

    time_h: float
    usable_mAh: float | None = None


@dataclass(frozen=True)
class TrustLimits:
    """Limits of the checks, in the unit of each name."""

    offset_suspect_mV: float
    offset_lost_mV: float
    drift_suspect_mV_per_day: float
    drift_lost_mV_per_day: float
    jump_cell_quiet_mV: float
    jump_suspect_mV: float
    jump_lost_mV: float
    closure_suspect_mV: float
    closure_lost_mV: float
    noise_suspect_mV: float
    noise_lost_mV: float
    charge_left_suspect: float
    charge_left_lost: float


@dataclass(frozen=True)
class Review:
    """Checks of a reference in order, and its trust over time."""

    checks: tuple[Check, ...]
    trust: TrustSpans


def _offsets(record: Record, halves: Halves, anchor: Anchor, zero_current_mA: float) -> Readings:
    """Offset from the anchor at every rest where the anchor holds."""
    found = rests(record.time_s, record.current_mA, zero_current_mA=zero_current_mA)
    usable = found.duration_s >= anchor.rest_s
    if anchor.kind == "negative rest":
        return anchor_offsets_mV(
            record.time_s, record.negative_V, found, usable=usable, anchor_V=0.0
        )
    current = without_offset(record.current_mA, zero_current_mA=zero_current_mA)
    # What passed in gaps does not matter here: a half-cycle with a gap gives no state of charge.
    passed = charge_mAh(record.time_s, current, sign=1) - charge_mAh(
        record.time_s, current, sign=-1
    )
    net = np.concatenate([[0.0], np.cumsum(passed)])
    share = np.full(usable.size, np.nan)
    share[usable] = state_of_charge(net, halves, found.last_row[usable])
    usable = usable & (share >= anchor.from_share) & (share <= anchor.to_share)
    return anchor_offsets_mV(
        record.time_s, record.positive_V, found, usable=usable, anchor_V=anchor.potential_V
    )


def _between(readings: Readings, start_h: float, stop_h: float) -> Readings:
    """Readings from one time on and before another."""
    keep = (readings.time_h >= start_h) & (readings.time_h < stop_h)
    return Readings(readings.time_h[keep], readings.value[keep])


def _graded(
    check: str, readings: Readings, unit: str, suspect: float, lost: float, gives: str
) -> list[Check]:
    """Every reading of one check, held against its limits."""
    return [
        assess(check, float(time), float(value), unit=unit, suspect=suspect, lost=lost, gives=gives)
        for time, value in zip(readings.time_h, readings.value, strict=True)
    ]


def _anchor_checks(offsets: Readings, gone_h: float, limits: TrustLimits) -> list[Check]:
    """Offset at every anchor, drift over those before the reference was lost."""
    bad = offsets.time_h[np.abs(offsets.value) > limits.offset_lost_mV]
    sound = _between(offsets, -np.inf, min(gone_h, bad[0] if bad.size else np.inf))
    drift = limits.drift_suspect_mV_per_day, limits.drift_lost_mV_per_day
    return [
        *_graded(
            "offset",
            offsets,
            "mV",
            limits.offset_suspect_mV,
            limits.offset_lost_mV,
            "trusted",
        ),
        *_graded("drift", drift_mV_per_day(sound), "mV/d", *drift, "trusted"),
    ]


def _closure_checks(record: Record, cycles: Cycles, limits: TrustLimits) -> Iterator[Check]:
    """Median closure of every cycle; it throws doubt on that cycle only."""
    closure = closure_V(record.cell_V, record.positive_V, record.negative_V)
    closure = np.where(record.closable, closure, np.nan)
    medians = median_closure_mV(closure, cycles.first_row, cycles.last_row)
    for index in np.flatnonzero(np.isfinite(medians)):
        yield assess(
            "closure",
            float(cycles.end_h[index]),
            float(medians[index]),
            unit="mV",
            suspect=limits.closure_suspect_mV,
            lost=limits.closure_lost_mV,
            loses=False,
            doubt_from_h=float(cycles.start_h[index]),
            doubt_to_h=float(cycles.end_h[index]),
        )


def _noise_checks(noise: Readings, stop_h: float, limits: TrustLimits) -> Iterator[Check]:
    """Noise at every rest; doubt lasts until a quiet rest."""
    quiet = noise.time_h[noise.value <= limits.noise_suspect_mV]
    for time_h, value in zip(noise.time_h, noise.value, strict=True):
        later = quiet[quiet > time_h]
        yield assess(
            "noise",
            float(time_h),
            float(value),
            unit="mV",
            suspect=limits.noise_suspect_mV,
            lost=limits.noise_lost_mV,
            loses=False,
            doubt_to_h=float(later[0]) if later.size else stop_h,
        )


def _charge_checks(
    record: Record,
    plating: Plating,
    stop_h: float,
    measured: tuple[Floats, ...],
    resistance_ohm: float | None,
    limits: TrustLimits,
) -> Iterator[Check]:
    """Charge left at the last row, and where it first falls below each limit."""
    hours = record.time_s / SECONDS_PER_HOUR
    rows = np.flatnonzero((hours >= plating.time_h) & (hours < stop_h))
    if plating.usable_mAh is None or resistance_ohm is None or not rows.size:
        return
    left = charge_left(
        record.time_s[rows],
        tuple(part[rows] for part in measured),
        usable_mAh=plating.usable_mAh,
        resistance_ohm=resistance_ohm,
    )
    marks = {rows.size - 1}
    for limit in (limits.charge_left_suspect, limits.charge_left_lost):
        marks |= set(np.flatnonzero(left < limit)[:1].tolist())
    for mark in sorted(marks):
        yield assess(
            "charge left",
            float(hours[rows[mark]]),
            float(left[mark]),
            unit="1",
            suspect=limits.charge_left_suspect,
            lost=limits.charge_left_lost,
            low_is_bad=True,
            doubt_to_h=stop_h,
        )


def review(
    record: Record,
    *,
    halves: Halves,
    cycles: Cycles,
    platings: Sequence[Plating],
    anchor: Anchor,
    limits: TrustLimits,
    zero_current_mA: float,
    channel_resistance_ohm: float | None,
    measured: tuple[Floats, ...],
    swapped: bool,
) -> Review:
    """Check a reference from its first plating on.

    Parameters
    ----------
    record : Record
        Rows of the cell, at least one.
    halves, cycles : Halves, Cycles
        Its half-cycles and cycles.
    platings : sequence of Plating
        In order of time; a reference that needs none counts from the first row.
    anchor : Anchor
        What the offset is held against.
    limits : TrustLimits
        Limits of the checks.
    zero_current_mA : float
        Half width of the zero band [mA].
    channel_resistance_ohm : float or None
        Input resistance of the measuring channels [ohm]; without it no charge left.
    measured : tuple of ndarray, shape (n,)
        Potentials that a channel measured against the reference, so drains it [V].
    swapped : bool
        Whether the leads look swapped; then no anchor holds and the trust is suspect at best.

    Returns
    -------
    Review
    """
    series = record.time_s, record.current_mA, record.cell_V, record.positive_V, record.negative_V
    jumps = common_jumps_mV(
        *series,
        quiet_mV=limits.jump_cell_quiet_mV,
        suspect_mV=limits.jump_suspect_mV,
        lost_mV=limits.jump_lost_mV,
        zero_current_mA=zero_current_mA,
    )
    found = rests(record.time_s, record.current_mA, zero_current_mA=zero_current_mA)
    noise = rest_noise_mV(record.time_s, record.positive_V, found)
    anchored = anchor.kind != "none" and not swapped
    none = Readings(np.zeros(0), np.zeros(0))
    offsets = _offsets(record, halves, anchor, zero_current_mA) if anchored else none
    closures = list(_closure_checks(record, cycles, limits))
    checks: list[Check] = []
    stops = [*(plating.time_h for plating in platings), float("inf")][1:]
    for plating, stop_h in zip(platings, stops, strict=True):
        start_h = plating.time_h
        sudden = _between(jumps, start_h, stop_h)
        size = limits.jump_suspect_mV, limits.jump_lost_mV
        jumped = _graded("jump", sudden, "mV", *size, "unknown")
        gone_h = min((c.time_h for c in jumped if c.trust == "lost"), default=float("inf"))
        checks += jumped
        checks += _anchor_checks(_between(offsets, start_h, stop_h), gone_h, limits)
        checks += _noise_checks(_between(noise, start_h, stop_h), stop_h, limits)
        checks += [c for c in closures if start_h <= c.time_h < stop_h]
        checks += _charge_checks(record, plating, stop_h, measured, channel_resistance_ohm, limits)
    kept = one_each(checks)
    trust = trust_timeline(
        kept,
        first_h=float(record.time_s[0] / SECONDS_PER_HOUR),
        last_h=float(record.time_s[-1] / SECONDS_PER_HOUR),
        platings_h=[plating.time_h for plating in platings],
        at_best="suspect" if swapped else "trusted",
    )
    return Review(kept, trust)
