"""All checks of one reference over its platings, and the trust that follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.half_cycles import rests
from trivet.science.cycling.integrals import Floats
from trivet.science.reference.checks import Anchor, Readings, common_jumps_mV, rest_noise_mV
from trivet.science.reference.features import Moves, feature_moves
from trivet.science.reference.fitness import Era, FitnessSpan, eras_of, fitness_spans, no_lithium_h
from trivet.science.reference.grading import (
    AnchorReadings,
    anchor_checks,
    anchored_offsets,
    between,
    charge_checks,
    closure_checks,
    feature_checks,
    graded,
    no_readings,
    noise_checks,
    soft_short_checks,
)
from trivet.science.reference.record import Plating, Record, TrustLimits
from trivet.science.reference.soft_short import SoftShorts, soft_shorts
from trivet.science.reference.trust import Check, TrustSpans, one_each, trust_timeline

PLATING_SETTLES_H = 1.0
"""Jumps this soon after a plating are its doing; common practice, no source."""


@dataclass(frozen=True)
class Review:
    """Checks of a reference in order, its trust over time, its platings, what it serves."""

    checks: tuple[Check, ...]
    trust: TrustSpans
    eras: tuple[Era, ...] = ()
    fitness: tuple[FitnessSpan, ...] = ()


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
    wrong_leads: bool,
    logged: AnchorReadings | None = None,
    contact_faults_h: Sequence[float] = (),
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
    wrong_leads : bool
        Whether leads look exchanged or reversed; then no anchor holds, and the trust is suspect
        at best.
    logged : AnchorReadings or None
        Offsets that a person measured.
    contact_faults_h : sequence of float
        When the log has a contact fault [h].

    Returns
    -------
    Review
    """
    offsets, moves = _known_potentials(
        record,
        halves,
        cycles,
        anchor,
        logged or no_readings(),
        wrong_leads=wrong_leads,
        zero_current_mA=zero_current_mA,
    )
    readings = _readings(record, cycles, limits, offsets, moves, zero_current_mA)
    stops = [*(plating.time_h for plating in platings), float("inf")][1:]
    checks: list[Check] = []
    for plating, stop_h in zip(platings, stops, strict=True):
        checks += _of_plating(readings, plating.time_h, stop_h, cycles, limits)
        checks += charge_checks(record, plating, stop_h, measured, channel_resistance_ohm, limits)
    kept = one_each(checks)
    span = {
        "first_h": float(record.time_s[0] / SECONDS_PER_HOUR),
        "last_h": float(record.time_s[-1] / SECONDS_PER_HOUR),
    }
    platings_h = [plating.time_h for plating in platings]
    best = "suspect" if wrong_leads else "trusted"
    trust = trust_timeline(kept, **span, platings_h=platings_h, at_best=best)
    eras = eras_of(kept, platings_h, gone_mV=limits.no_lithium_mV)
    spans = fitness_spans(
        eras,
        trust,
        **span,
        cycle_starts_h=cycles.start_h,
        cycle_ends_h=cycles.end_h,
        wrong_leads=wrong_leads,
        contact_faults_h=contact_faults_h,
    )
    return Review(kept, trust, eras, spans)


@dataclass(frozen=True)
class _AllReadings:
    """What the checks found over the whole record, before it is split by plating."""

    jumps: Readings
    noise: Readings
    offsets: AnchorReadings
    moves: Moves
    shorts: SoftShorts
    closures: tuple[Check, ...]


def _readings(
    record: Record,
    cycles: Cycles,
    limits: TrustLimits,
    offsets: AnchorReadings,
    moves: Moves,
    zero_current_mA: float,
) -> _AllReadings:
    """Read the record once for every check."""
    series = record.time_s, record.current_mA, record.cell_V, record.positive_V, record.negative_V
    found = rests(record.time_s, record.current_mA, zero_current_mA=zero_current_mA)
    return _AllReadings(
        jumps=common_jumps_mV(
            *series,
            quiet_mV=limits.jump_cell_quiet_mV,
            suspect_mV=limits.jump_suspect_mV,
            lost_mV=limits.jump_lost_mV,
            zero_current_mA=zero_current_mA,
        ),
        noise=rest_noise_mV(record.time_s, record.positive_V, found),
        offsets=offsets,
        moves=moves,
        shorts=soft_shorts(
            *series[:3],
            series[3:],
            first_row=cycles.first_row,
            last_row=cycles.last_row,
            zero_current_mA=zero_current_mA,
            near_mV=limits.soft_short_near_mV,
            smallest_response=limits.soft_short_response,
        ),
        closures=tuple(closure_checks(record, cycles, limits)),
    )


def _of_plating(
    found: _AllReadings, start_h: float, stop_h: float, cycles: Cycles, limits: TrustLimits
) -> list[Check]:
    """Checks of one plating, but for the charge left."""
    sudden = between(found.jumps, start_h + PLATING_SETTLES_H, stop_h)
    size = limits.jump_suspect_mV, limits.jump_lost_mV
    jumped = graded("jump", sudden, "mV", *size, "unknown")
    gone_h = min((c.time_h for c in jumped if c.trust == "lost"), default=float("inf"))
    anchored = anchor_checks(found.offsets.between(start_h, stop_h), gone_h, limits)
    # A wire without lithium has no offset, and curves against it are no curves.
    lithium_h = max(no_lithium_h([*jumped, *anchored], limit_mV=limits.no_lithium_mV), start_h)
    return [
        *jumped,
        *anchored,
        *feature_checks(
            _within(found.moves, start_h, min(stop_h, lithium_h)),
            limits,
            [check.time_h for check in jumped if check.trust != "unknown"],
        ),
        *noise_checks(between(found.noise, start_h, stop_h), stop_h, limits),
        *soft_short_checks(found.shorts, cycles, start_h, stop_h, limits),
        *(c for c in found.closures if start_h <= c.time_h < stop_h),
    ]


def _known_potentials(
    record: Record,
    halves: Halves,
    cycles: Cycles,
    anchor: Anchor,
    logged: AnchorReadings,
    *,
    wrong_leads: bool,
    zero_current_mA: float,
) -> tuple[AnchorReadings, Moves]:
    """Offsets from anchors and by features; none where leads are at the wrong place."""
    if wrong_leads:
        return no_readings(), Moves(np.zeros(0), np.zeros(0), np.zeros(0))
    offsets = anchored_offsets(record, halves, cycles, anchor, zero_current_mA=zero_current_mA)
    moves = feature_moves(record, halves, cycles, zero_current_mA=zero_current_mA)
    return offsets.joined(logged), moves


def _within(moves: Moves, start_h: float, stop_h: float) -> Moves:
    """Moves of one plating."""
    keep = (moves.time_h >= start_h) & (moves.time_h < stop_h)
    return Moves(moves.time_h[keep], moves.value_mV[keep], moves.error_mV[keep])
