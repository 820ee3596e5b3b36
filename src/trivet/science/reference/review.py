"""All checks of one reference over its platings, and the trust that follows."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from trivet.reference_checks import CHECKS
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.integrals import Floats
from trivet.science.reference.checks.watched import (
    Anchor,
    AnchorReadings,
    PlatedSpan,
    Watch,
    Watched,
    no_readings,
)
from trivet.science.reference.fitness import Era, FitnessSpan, eras_of, fitness_spans
from trivet.science.reference.record import Plating, Record, TrustLimits
from trivet.science.reference.trust import Check, TrustSpans, one_each, trust_timeline

MODULES = tuple(dict.fromkeys(entry.module for entry in CHECKS.values()))
"""Modules of the checks in the order they run: a check sees what those before it found."""


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
    cell = Watched(
        record,
        halves,
        cycles,
        anchor,
        logged or no_readings(),
        limits,
        zero_current_mA,
        channel_resistance_ohm,
        measured,
        wrong_leads,
    )
    watches = [watch_of(module)(cell) for module in MODULES]
    stops = [*(plating.time_h for plating in platings), float("inf")][1:]
    checks: list[Check] = []
    for plating, stop_h in zip(platings, stops, strict=True):
        mine: tuple[Check, ...] = ()
        for watch in watches:
            mine += tuple(watch(PlatedSpan(plating, stop_h, mine)))
        checks += mine
    kept = one_each(checks)
    span = {
        "first_h": float(record.time_s[0] / SECONDS_PER_HOUR),
        "last_h": float(record.time_s[-1] / SECONDS_PER_HOUR),
    }
    platings_h = [plating.time_h for plating in platings]
    best = "suspect" if wrong_leads else "trusted"
    trust = trust_timeline(kept, **span, platings_h=platings_h, at_best=best)
    eras = eras_of(kept, platings_h, gone_mV=limits["no_lithium_mV"])
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


def watch_of(module: str) -> Callable[[Watched], Watch]:
    """Give the function of a check's module that reads the whole record."""
    found: Callable[[Watched], Watch] = importlib.import_module(
        f"trivet.science.reference.checks.{module}"
    ).watch
    return found
