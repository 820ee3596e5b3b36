"""What a reference serves at a time: which numbers may rest on it, by purpose.

An absolute potential needs an offset that is known; a difference within a cycle, a shape and an
impedance do not, since the offset cancels. Each needs other things: see `fitness_spans`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from trivet.reasons import Fitness, FitnessReason, Purpose, Trust
from trivet.reference_checks import ANCHOR_ERRORS, CHECKS, ReferenceCheck, Role
from trivet.science.cycling.integrals import Booleans, Floats
from trivet.science.reference.trust import Check, TrustSpans, trust_at

K = ANCHOR_ERRORS
"""Standard uncertainties by which a known potential may be off, and errors that are given."""

NEVER_LITHIUM_mV = 500.0
"""No wire with lithium on it lies so far from lithium; common practice, no source."""


@dataclass(frozen=True)
class FitnessSpan:
    """One purpose over one span of one plating.

    Attributes
    ----------
    plating : int
        Number of the plating, 1 for the first; 0 before it.
    start_h, end_h : float
        Span [h].
    purpose, fitness : Purpose, Fitness
        What for, whether.
    reason : str
        Why: a `FitnessReason`, or what the entry of a check calls it.
    """

    plating: int
    start_h: float
    end_h: float
    purpose: Purpose
    fitness: Fitness
    reason: str


@dataclass(frozen=True)
class Offsets:
    """Anchors of one plating that an offset may be interpolated between, shape (k,) each.

    Attributes
    ----------
    time_h, offset_mV, uncertainty_mV : ndarray
        When [h], measured less known potential, and its standard uncertainty [mV].
    """

    time_h: Floats
    offset_mV: Floats
    uncertainty_mV: Floats

    def at(self, time_h: Floats) -> tuple[Floats, Floats]:
        """Offset at other times and its standard error; NaN where no two anchors bracket it.

        Linear in time. The error is that of the anchors, and half of what the offset moved
        between them: how it moved is not known.
        """
        blank = np.full(np.shape(time_h), np.nan)
        if self.time_h.size < 2:
            return blank, blank.copy()
        inside = (time_h >= self.time_h[0]) & (time_h <= self.time_h[-1])
        right = np.clip(np.searchsorted(self.time_h, time_h, side="right"), 1, self.time_h.size - 1)
        left = right - 1
        run = self.time_h[right] - self.time_h[left]
        share = np.where(run > 0, (time_h - self.time_h[left]) / np.where(run > 0, run, 1.0), 0.0)
        moved = self.offset_mV[right] - self.offset_mV[left]
        value = self.offset_mV[left] + share * moved
        anchors = np.maximum(self.uncertainty_mV[left], self.uncertainty_mV[right])
        # A uniform law over a triangle of half the move, widest in the middle.
        path = np.minimum(share, 1.0 - share) * np.abs(moved) / np.sqrt(3.0)
        error = np.sqrt(anchors**2 + path**2)
        return np.where(inside, value, np.nan), np.where(inside, error, np.nan)


def no_lithium_h(checks: Iterable[Check], *, limit_mV: float) -> float:
    """When a wire stopped being lithium: a change of its potential beyond any of lithium [h].

    A drift that grows large is no such change, up to `NEVER_LITHIUM_mV`.

    Parameters
    ----------
    checks : iterable of Check
        Checks since one plating.
    limit_mV : float
        Size of a jump, or of a change between two offsets, that lithium does not make [mV].

    Returns
    -------
    float
        For a jump its time; for an offset without such a jump that of the offset before; infinite
        for never.
    """
    before_h, before_mV = -np.inf, 0.0
    for check in sorted(checks, key=lambda one: one.time_h):
        role = CHECKS[check.check].role
        if role is Role.JUMP and abs(check.value) > limit_mV:
            return check.time_h
        if role is Role.ANCHOR:
            moved = abs(check.value) > limit_mV and abs(check.value - before_mV) > limit_mV
            if moved or abs(check.value) > NEVER_LITHIUM_mV:
                return before_h
            before_h, before_mV = check.time_h, check.value
    return float("inf")


@dataclass(frozen=True)
class Era:
    """One plating: its number, its time, its checks, and what spoils it from a time on."""

    number: int
    start_h: float
    stop_h: float
    checks: tuple[Check, ...]
    offsets: Offsets
    gone_h: float


def eras_of(
    checks: Sequence[Check], platings_h: Sequence[float], *, gone_mV: float
) -> tuple[Era, ...]:
    """Split the checks of a reference by its platings.

    Parameters
    ----------
    checks : sequence of Check
        All checks.
    platings_h : sequence of float
        Platings in order of time [h].
    gone_mV : float
        See `no_lithium_h` [mV].
    """
    found = []
    stops = [*platings_h, float("inf")][1:]
    for number, (start_h, stop_h) in enumerate(zip(platings_h, stops, strict=True), start=1):
        mine = tuple(check for check in checks if start_h <= check.time_h < stop_h)
        offsets = [check for check in mine if CHECKS[check.check].role is Role.ANCHOR]
        known = Offsets(
            np.array([check.time_h for check in offsets]),
            np.array([check.value for check in offsets]),
            np.array([check.uncertainty for check in offsets]),
        )
        found.append(
            Era(
                number, start_h, stop_h, mine, known,
                max(no_lithium_h(mine, limit_mV=gone_mV), start_h),
            )
        )  # fmt: skip
    return tuple(found)


def _covered(middle_h: Floats, spans: Iterable[tuple[float, float]]) -> Booleans:
    """Which moments lie in any of the spans."""
    covered = np.zeros(middle_h.size, dtype=bool)
    for start_h, end_h in spans:
        covered |= (middle_h > start_h) & (middle_h < end_h)
    return covered


def _cycles_of(
    times_h: Iterable[float], starts_h: Floats, ends_h: Floats
) -> list[tuple[float, float]]:
    """Cycles in which something happened at a moment."""
    found = []
    for time_h in times_h:
        hit = np.flatnonzero((starts_h <= time_h) & (time_h <= ends_h))
        found += [(float(starts_h[i]), float(ends_h[i])) for i in hit]
    return found


def fitness_spans(
    eras: Sequence[Era],
    trust: TrustSpans,
    *,
    first_h: float,
    last_h: float,
    cycle_starts_h: Floats,
    cycle_ends_h: Floats,
    wrong_leads: bool,
    contact_faults_h: Sequence[float] = (),
) -> tuple[FitnessSpan, ...]:
    """What a reference serves over time, by purpose.

    Not fit for any purpose: before the plating, with leads at the wrong place, from a soft short
    on, once the wire is no lithium, while it is noisier than its limit, in a cycle with a contact
    fault of the log. Beyond that

    - an absolute potential needs an offset within its limit (a `trusted` span), or two anchors
      around it, and then is corrected; and closure;
    - a difference within a cycle and a shape need no jump in the cycle, and closure;
    - an impedance needs nothing more here: sweeps are judged by themselves.

    Parameters
    ----------
    eras : sequence of Era
        Platings.
    trust : TrustSpans
        Trust over time, which knows the offset.
    first_h, last_h : float
        First and last row [h].
    cycle_starts_h, cycle_ends_h : ndarray, shape (m,)
        Cycles [h].
    wrong_leads : bool
        Whether leads look exchanged or reversed.
    contact_faults_h : sequence of float
        Entries of the log [h].

    Returns
    -------
    tuple of FitnessSpan
        For each purpose without holes from the first to the last row; neighbours differ.
    """
    cycles = cycle_starts_h, cycle_ends_h
    # A contact fault in the rest after a cycle belongs to that cycle.
    until = np.append(cycle_starts_h[1:], last_h) if cycle_starts_h.size else cycle_ends_h
    contacts = _cycles_of(contact_faults_h, cycle_starts_h, until)
    edges = [first_h, last_h, *trust.starts_h.tolist(), *(edge for c in contacts for edge in c)]
    blocks = {}
    for era in eras:
        own = _blocks(era, cycles)
        blocks[era.number] = own
        edges += [era.start_h, *era.offsets.time_h.tolist()]
        edges += [edge for spans in own.values() for span in spans for edge in span[1:]]
    grid = np.unique(np.clip([edge for edge in edges if np.isfinite(edge)], first_h, last_h))
    middle = (grid[:-1] + grid[1:]) / 2.0
    found: list[FitnessSpan] = []
    for purpose in Purpose:
        told = [_told(float(at), purpose, eras, blocks, trust, wrong_leads) for at in middle]
        contact = _covered(middle, contacts)
        told = [
            (era, Fitness.NOT_FIT, FitnessReason.CONTACT)
            if touched and fitness is not Fitness.NOT_FIT
            else (era, fitness, reason)
            for touched, (era, fitness, reason) in zip(contact, told, strict=True)
        ]
        found += _merged(purpose, grid, told)
    return tuple(found)


Blocks = dict[Purpose, list[tuple[str, float, float]]]
"""What speaks against each purpose: reason, from when to when [h], gravest reason first."""


def _blocks(era: Era, cycles: tuple[Floats, Floats]) -> Blocks:
    """Spans of one plating in which something speaks against a purpose."""
    blocks: Blocks = {
        purpose: [(FitnessReason.NO_LITHIUM, era.gone_h, era.stop_h)] for purpose in Purpose
    }
    for check, entry in CHECKS.items():
        mine = [c for c in era.checks if c.check == check and c.trust != Trust.UNKNOWN]
        for purpose in entry.spoils:
            blocks[purpose] += [
                (entry.unfit, *span) for span in _spoilt(entry.role, mine, era.stop_h, cycles)
            ]
    return blocks


def _spoilt(
    role: Role, checks: Sequence[Check], stop_h: float, cycles: tuple[Floats, Floats]
) -> list[tuple[float, float]]:
    """Spans that bad values of one check spoil: the cycle of a jump, all since a short, doubts."""
    if role is Role.JUMP:
        return _cycles_of((check.time_h for check in checks), *cycles)
    if role is Role.SHORT:
        lost = [check.doubt_from_h for check in checks if check.trust == Trust.LOST]
        return [(min(lost), stop_h)] if lost else []
    ends = (stop_h if check.doubt_to_h is None else check.doubt_to_h for check in checks)
    return [(check.doubt_from_h, end_h) for check, end_h in zip(checks, ends, strict=True)]


Told = tuple[int, Fitness, str]


def _told(
    at_h: float,
    purpose: Purpose,
    eras: Sequence[Era],
    blocks: dict[int, Blocks],
    trust: TrustSpans,
    wrong_leads: bool,
) -> Told:
    """Plating, fitness and reason at one moment."""
    current = [era for era in eras if era.start_h <= at_h < era.stop_h]
    if not current:
        return 0, Fitness.NOT_FIT, FitnessReason.NOT_PLATED
    era = current[-1]
    if wrong_leads:
        return era.number, Fitness.NOT_FIT, FitnessReason.LEADS
    for reason, start_h, end_h in blocks[era.number][purpose]:
        if start_h < at_h < end_h:
            return era.number, Fitness.NOT_FIT, reason
    if purpose is not Purpose.ABSOLUTE:
        return era.number, Fitness.FIT, FitnessReason.NOTHING_AGAINST
    return (era.number, *_absolute(at_h, era, trust))


def _absolute(at_h: float, era: Era, trust: TrustSpans) -> tuple[Fitness, str]:
    """Whether an absolute potential is known where nothing else speaks against it."""
    state = trust_at(trust.starts_h, trust.ends_h, trust.states, at_h)
    if state == Trust.TRUSTED:
        return Fitness.FIT, FitnessReason.ANCHORED
    times = era.offsets.time_h
    before, after = times[times <= at_h], times[times > at_h]
    jumps = (check for check in era.checks if CHECKS[check.check].role is Role.JUMP)
    moved = [check for check in jumps if check.trust != Trust.UNKNOWN]
    if before.size and after.size:
        within = (check.time_h for check in moved)
        if not any(before[-1] <= time_h <= after[0] for time_h in within):
            return Fitness.CORRECTED, FitnessReason.BRACKETED
    against = [
        check
        for check in era.checks
        if check.trust in (Trust.SUSPECT, Trust.LOST) and check.time_h <= at_h
    ]
    if against:
        last = max(against, key=lambda check: (check.trust == Trust.LOST, check.time_h))
        return Fitness.NOT_FIT, CHECKS[last.check].unfit
    unbounded = CHECKS[ReferenceCheck.OFFSET].unfit
    return Fitness.NOT_FIT, unbounded if times.size else FitnessReason.NO_ANCHOR


def _merged(purpose: Purpose, grid: Floats, told: Sequence[Told]) -> list[FitnessSpan]:
    """Spans of neighbours that say the same."""
    found: list[FitnessSpan] = []
    for index, (number, fitness, reason) in enumerate(told):
        start_h, end_h = float(grid[index]), float(grid[index + 1])
        last = found[-1] if found else None
        if last and (last.plating, last.fitness, last.reason) == (number, fitness, reason):
            start_h = last.start_h
            found.pop()
        found.append(FitnessSpan(number, start_h, end_h, purpose, fitness, reason))
    return found


_WORST = {Fitness.FIT: 0, Fitness.CORRECTED: 1, Fitness.NOT_FIT: 2}


def fitness_over(
    spans: Sequence[FitnessSpan], purpose: Purpose, start_h: float, end_h: float
) -> FitnessSpan | None:
    """Worst span of a purpose that meets a time, the first of equals; None where there is none.

    Parameters
    ----------
    spans : sequence of FitnessSpan
        In order of time within each purpose.
    purpose : Purpose
        What for.
    start_h, end_h : float
        First and last moment, may be the same [h]. A moment after the last span has its state.
    """
    mine = [span for span in spans if span.purpose is purpose]
    if not mine:
        return None
    if start_h >= mine[-1].end_h:
        return mine[-1]
    met = [
        span
        for span in mine
        if span.start_h <= start_h < span.end_h or (span.start_h < end_h and span.end_h > start_h)
    ]
    return max(met, key=lambda span: _WORST[span.fitness]) if met else None
