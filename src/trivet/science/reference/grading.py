"""Every check of a reference held against its limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trivet.reasons import AnchorKind, Trust
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves, state_of_charge
from trivet.science.cycling.half_cycles import rests
from trivet.science.cycling.integrals import Floats, charge_mAh, without_offset
from trivet.science.electrodes.electrode_cycles import closure_V
from trivet.science.reference.checks import (
    Anchor,
    Readings,
    anchor_offsets_mV,
    charge_left,
    median_closure_mV,
)
from trivet.science.reference.drift import Drifts, drift_mV_per_day
from trivet.science.reference.features import Moves, feature_drift, graphite_offsets
from trivet.science.reference.fitness import K, no_lithium_h
from trivet.science.reference.record import Plating, Record, TrustLimits
from trivet.science.reference.soft_short import SoftShorts
from trivet.science.reference.trust import Check, assess

FEATURES, FEATURE_DRIFT = "features", "feature drift"
"""Checks by the features of curves."""
Z95 = 1.959964
"""Half width of a 95 % interval in standard errors."""


@dataclass(frozen=True)
class AnchorReadings:
    """Offsets from known potentials, in order of time, shape (k,) each.

    Attributes
    ----------
    time_h, value, uncertainty : ndarray
        When [h], measured less known, standard uncertainty of the known potential [mV].
    """

    time_h: Floats
    value: Floats
    uncertainty: Floats

    def between(self, start_h: float, stop_h: float) -> AnchorReadings:
        """Readings from one time on and before another."""
        keep = (self.time_h >= start_h) & (self.time_h < stop_h)
        return AnchorReadings(self.time_h[keep], self.value[keep], self.uncertainty[keep])

    def joined(self, other: AnchorReadings) -> AnchorReadings:
        """Both in order of time."""
        time_h = np.concatenate([self.time_h, other.time_h])
        order = np.argsort(time_h, kind="stable")
        value = np.concatenate([self.value, other.value])[order]
        uncertainty = np.concatenate([self.uncertainty, other.uncertainty])[order]
        return AnchorReadings(time_h[order], value, uncertainty)


def no_readings() -> AnchorReadings:
    """No anchor at all."""
    return AnchorReadings(np.zeros(0), np.zeros(0), np.zeros(0))


def anchored_offsets(
    record: Record,
    halves: Halves,
    cycles: Cycles,
    anchor: Anchor,
    *,
    zero_current_mA: float,
) -> AnchorReadings:
    """Offset from the anchor of the settings wherever it holds."""
    if anchor.kind is AnchorKind.NONE:
        return no_readings()
    if anchor.kind is AnchorKind.GRAPHITE_PLATEAU:
        found = graphite_offsets(
            record,
            halves,
            cycles,
            anchor_V=anchor.potential_V,
            zero_current_mA=zero_current_mA,
        )
        time_h, value = found.time_h, found.value_mV
    else:
        read = _rest_offsets(record, halves, anchor, zero_current_mA)
        time_h, value = read.time_h, read.value
    return AnchorReadings(time_h, value, np.full(time_h.size, anchor.uncertainty_mV))


def _rest_offsets(
    record: Record, halves: Halves, anchor: Anchor, zero_current_mA: float
) -> Readings:
    """Offset at every rest where the anchor holds."""
    found = rests(record.time_s, record.current_mA, zero_current_mA=zero_current_mA)
    usable = found.duration_s >= anchor.rest_s
    if anchor.kind is AnchorKind.NEGATIVE_REST:
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


def between(readings: Readings, start_h: float, stop_h: float) -> Readings:
    """Readings from one time on and before another."""
    keep = (readings.time_h >= start_h) & (readings.time_h < stop_h)
    return Readings(readings.time_h[keep], readings.value[keep])


def graded(
    check: str, readings: Readings, unit: str, suspect: float, lost: float, gives: str
) -> list[Check]:
    """Every reading of one check, held against its limits."""
    return [
        assess(check, float(time), float(value), unit=unit, suspect=suspect, lost=lost, gives=gives)
        for time, value in zip(readings.time_h, readings.value, strict=True)
    ]


def anchor_checks(offsets: AnchorReadings, gone_h: float, limits: TrustLimits) -> list[Check]:
    """Offset at every anchor, drift over those before a sudden loss.

    The limits hold for what of an offset is beyond twice the uncertainty of its anchor. An offset
    that grew beyond them belongs to its drift; one that is so far off that the wire can't be
    lithium does not.
    """
    graded_offsets = []
    for time_h, value, uncertainty in zip(
        offsets.time_h, offsets.value, offsets.uncertainty, strict=True
    ):
        check = assess(
            "offset",
            float(time_h),
            float(value),
            unit="mV",
            suspect=limits.offset_suspect_mV + K * float(uncertainty),
            lost=limits.offset_lost_mV + K * float(uncertainty),
            gives=Trust.TRUSTED,
        )
        graded_offsets.append(replace(check, uncertainty=float(uncertainty)))
    # Strictly after the last offset of lithium.
    gone = np.nextafter(no_lithium_h(graded_offsets, limit_mV=limits.no_lithium_mV), np.inf)
    sound = offsets.between(-np.inf, min(gone_h, gone))
    drifts = drift_mV_per_day(Readings(sound.time_h, sound.value))
    return [*graded_offsets, *_drift_checks(drifts, limits)]


def feature_checks(
    moves: Moves, limits: TrustLimits, jumps_h: Sequence[float] = ()
) -> Iterator[Check]:
    """Change of the offset by features in every slow cycle, and its drift since the last jump.

    They tell how far the reference moved, not where it stands: they give no trust and take none.
    """
    for index, (time_h, value, error) in enumerate(
        zip(moves.time_h, moves.value_mV, moves.error_mV, strict=True)
    ):
        check = assess(
            FEATURES,
            float(time_h),
            float(value),
            unit="mV",
            suspect=np.inf,
            lost=np.inf,
        )
        width = Z95 * float(error)
        yield replace(
            check, lower=float(value) - width, upper=float(value) + width,
            uncertainty=float(error), limit=limits.offset_suspect_mV,
        )  # fmt: skip
        since_h = max((at for at in jumps_h if at < time_h), default=-np.inf)
        part = slice(int(np.searchsorted(moves.time_h, since_h)), index + 1)
        so_far = Moves(moves.time_h[part], moves.value_mV[part], moves.error_mV[part])
        drift, error_of_drift = feature_drift(so_far)
        if np.isfinite(drift):
            found = assess(
                FEATURE_DRIFT, float(time_h), drift, unit="mV/d", suspect=np.inf, lost=np.inf
            )
            width = Z95 * error_of_drift
            yield replace(
                found, lower=drift - width, upper=drift + width, uncertainty=error_of_drift,
                limit=limits.drift_suspect_mV_per_day,
            )  # fmt: skip


def _drift_checks(drifts: Drifts, limits: TrustLimits) -> Iterator[Check]:
    """Every drift with its interval."""
    readings = Readings(drifts.time_h, drifts.value)
    size = limits.drift_suspect_mV_per_day, limits.drift_lost_mV_per_day
    found = graded("drift", readings, "mV/d", *size, "trusted")
    for check, lower, upper in zip(found, drifts.lower, drifts.upper, strict=True):
        yield replace(check, lower=float(lower), upper=float(upper))


def soft_short_checks(
    found: SoftShorts, cycles: Cycles, start_h: float, stop_h: float, limits: TrustLimits
) -> Iterator[Check]:
    """Soft short in every cycle; a loss throws doubt back to the last cycle without one."""
    sound_h = start_h
    for cycle, time_h, lasting_h in zip(found.cycle, found.time_h, found.lasting_h, strict=True):
        if not start_h <= time_h < stop_h:
            continue
        check = assess(
            "soft short",
            float(time_h),
            float(lasting_h),
            unit="h",
            suspect=limits.soft_short_lasting_h,
            lost=limits.soft_short_lasting_h,
            doubt_from_h=sound_h,
            doubt_to_h=float(time_h),
        )
        if check.trust != "lost":
            sound_h = float(cycles.end_h[cycle])
        yield check


def closure_checks(record: Record, cycles: Cycles, limits: TrustLimits) -> Iterator[Check]:
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


def noise_checks(noise: Readings, stop_h: float, limits: TrustLimits) -> Iterator[Check]:
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


def charge_checks(
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
