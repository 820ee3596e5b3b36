"""Offset of a reference from known potentials, and how it drifts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from trivet.reasons import AnchorKind
from trivet.reference_checks import ReferenceCheck
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.half_cycle_measures import Halves, state_of_charge
from trivet.science.cycling.half_cycles import Rests, rests
from trivet.science.cycling.integrals import Booleans, Floats, charge_mAh, without_offset
from trivet.science.reference.checks.drift import Drifts, drift_mV_per_day
from trivet.science.reference.checks.features import graphite_offsets
from trivet.science.reference.checks.watched import (
    Anchor,
    AnchorReadings,
    PlatedSpan,
    Readings,
    Watch,
    Watched,
    graded,
    no_readings,
)
from trivet.science.reference.fitness import K, no_lithium_h
from trivet.science.reference.record import Record, TrustLimits
from trivet.science.reference.trust import Check, assess, lost_at_h

ANCHOR_WINDOW_S = 600.0
"""The anchor is the median over this last part of a rest; common practice, no source."""


def watch(cell: Watched) -> Watch:
    """Read the offset wherever a potential is known; nowhere with leads at the wrong place."""
    offsets = no_readings() if cell.wrong_leads else _anchored_offsets(cell).joined(cell.logged)

    def checks(span: PlatedSpan) -> list[Check]:
        mine = offsets.between(span.start_h, span.stop_h)
        gone_h = lost_at_h(span.found, ReferenceCheck.JUMP)
        return _anchor_checks(mine, gone_h, cell.limits)

    return checks


def _anchor_checks(offsets: AnchorReadings, gone_h: float, limits: TrustLimits) -> list[Check]:
    """Offset at every anchor, drift over those before a sudden loss.

    The limits hold for what of an offset is beyond twice the uncertainty of its anchor. An offset
    that grew beyond them belongs to its drift; one that is so far off that the wire can't be
    lithium does not.
    """
    suspect_mV, lost_mV = limits.of(ReferenceCheck.OFFSET)
    graded_offsets = []
    for time_h, value, uncertainty in zip(
        offsets.time_h, offsets.value, offsets.uncertainty, strict=True
    ):
        check = assess(
            ReferenceCheck.OFFSET,
            float(time_h),
            float(value),
            limits=(suspect_mV + K * float(uncertainty), lost_mV + K * float(uncertainty)),
        )
        graded_offsets.append(replace(check, uncertainty=float(uncertainty)))
    # Strictly after the last offset of lithium.
    gone = np.nextafter(no_lithium_h(graded_offsets, limit_mV=limits["no_lithium_mV"]), np.inf)
    sound = offsets.between(-np.inf, min(gone_h, gone))
    drifts = drift_mV_per_day(Readings(sound.time_h, sound.value))
    return [*graded_offsets, *_drift_checks(drifts, limits)]


def _drift_checks(drifts: Drifts, limits: TrustLimits) -> Iterator[Check]:
    """Every drift with its interval."""
    readings = Readings(drifts.time_h, drifts.value)
    found = graded(ReferenceCheck.DRIFT, readings, limits.of(ReferenceCheck.DRIFT))
    for check, lower, upper in zip(found, drifts.lower, drifts.upper, strict=True):
        yield replace(check, lower=float(lower), upper=float(upper))


def _anchored_offsets(cell: Watched) -> AnchorReadings:
    """Offset from the anchor of the settings wherever it holds."""
    record, halves, anchor = cell.record, cell.halves, cell.anchor
    if anchor.kind is AnchorKind.NONE:
        return no_readings()
    if anchor.kind is AnchorKind.GRAPHITE_PLATEAU:
        found = graphite_offsets(
            record,
            halves,
            cell.cycles,
            anchor_V=anchor.potential_V,
            zero_current_mA=cell.zero_current_mA,
        )
        time_h, value = found.time_h, found.value_mV
    else:
        read = _rest_offsets(record, halves, anchor, cell.zero_current_mA)
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
