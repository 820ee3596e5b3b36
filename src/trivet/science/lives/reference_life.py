"""Reference life: from plating to the first check that shows the reference as lost.

A loss is known only between two checks: `lower` is the last good one, `upper` and `duration` the
first bad one. Time and cycles count from the plating. The loss of a reference never ends a cell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trivet.reasons import Censored, Trust
from trivet.reference_checks import ANCHOR_ERRORS, ReferenceCheck
from trivet.science.lives.cell_life import BENCH_LOG, NO_DATA, RULE, Life, Span
from trivet.science.lives.cycle_record import CycleRecord
from trivet.science.lives.ends import first_run

REFERENCE_LOST = "reference lost"
CELL_ENDED_FIRST = "cell ended first"
NO_CHECK = Censored.NO_CHECK
RE_PLATED = "re-plated"


@dataclass(frozen=True)
class ReferenceChecks:
    """Checks of one reference that can lose it, in order of time; all arrays (n_checks,).

    Attributes
    ----------
    time_h : numpy.ndarray
        Hours since the cell's clock start [h].
    value_mV : numpy.ndarray
        Offset from the anchor, or size of the common-mode jump [mV].
    is_jump : numpy.ndarray
        True for a jump or a soft short, False for an offset.
    is_short : numpy.ndarray
        True for a soft short that was found, whose value is its hours under current [h].
    uncertainty_mV : numpy.ndarray or None
        Standard uncertainty of the potential that an offset is held against; twice this widens
        its limit; None for none [mV].
    """

    time_h: np.ndarray
    value_mV: np.ndarray
    is_jump: np.ndarray
    is_short: np.ndarray
    uncertainty_mV: np.ndarray | None = None

    @property
    def margin_mV(self) -> np.ndarray:
        """What of each value its anchor may be off by: twice its uncertainty [mV]."""
        if self.uncertainty_mV is None:
            return np.zeros(self.time_h.size)
        return np.asarray(ANCHOR_ERRORS * np.nan_to_num(self.uncertainty_mV))

    def between(self, start_h: float, end_h: float, /) -> ReferenceChecks:
        """Give the checks from one time [h] to another, both included."""
        keep = (self.time_h >= start_h) & (self.time_h <= end_h)
        return ReferenceChecks(
            self.time_h[keep],
            self.value_mV[keep],
            self.is_jump[keep],
            self.is_short[keep],
            None if self.uncertainty_mV is None else self.uncertainty_mV[keep],
        )


def deciding_checks(columns: Mapping[str, np.ndarray]) -> ReferenceChecks:
    """Take the checks that can lose a reference: offset, common-mode jump, soft short found.

    Parameters
    ----------
    columns : mapping of str to numpy.ndarray
        `time_h`, ascending [h], `check`, `value` in the unit of the check, and `trust` of the
        table of checks, (n_checks,) each.
    """
    check, value = columns["check"], columns["value"]
    short = (check == ReferenceCheck.SOFT_SHORT) & (columns["trust"] == "lost")
    jump = check == ReferenceCheck.JUMP
    kept = ((jump | (check == ReferenceCheck.OFFSET)) & np.isfinite(value)) | short
    sudden = jump | short
    unsure = columns.get("uncertainty")
    return ReferenceChecks(
        columns["time_h"][kept],
        value[kept],
        sudden[kept],
        short[kept],
        None if unsure is None else unsure[kept],
    )


@dataclass(frozen=True)
class Loss:
    """The loss of a reference.

    Attributes
    ----------
    time_h, lower_h : float
        First check known to be bad, last known to be good; hours since the clock start [h].
    evidence : str
        Which check, which value, which limit.
    """

    time_h: float
    lower_h: float
    evidence: str


def reference_loss(
    checks: ReferenceChecks,
    *,
    offset_limit_mV: float,
    jump_limit_mV: float,
    checks_to_lose: int,
    start_h: float,
) -> Loss | None:
    """Find the first loss: one jump, or several offsets in a row, beyond the limit.

    Parameters
    ----------
    checks : ReferenceChecks
        Checks since the plating.
    offset_limit_mV, jump_limit_mV : float
        A value of either sign beyond this is bad [mV].
    checks_to_lose : int
        Offsets in a row that must be bad; the first counts [1].
    start_h : float
        Plating, hours since the clock start: good until then where no check is good [h].
    """
    size_mV = np.abs(checks.value_mV) - checks.margin_mV
    bad = (size_mV > np.where(checks.is_jump, jump_limit_mV, offset_limit_mV)) | checks.is_short
    jumps = np.flatnonzero(bad & checks.is_jump)
    offsets = np.flatnonzero(~checks.is_jump)
    run = first_run(bad[offsets], length=checks_to_lose)
    candidates = [int(jumps[0])] if jumps.size else []
    if run is not None:
        candidates.append(int(offsets[run]))
    if not candidates:
        return None
    first = min(candidates, key=lambda index: (checks.time_h[index], index))
    before = checks.between(start_h, np.nextafter(checks.time_h[first], -np.inf))
    return Loss(
        time_h=float(checks.time_h[first]),
        lower_h=_last_good_h(before, offset_limit_mV=offset_limit_mV, start_h=start_h),
        evidence=_evidence(
            checks,
            first,
            limit_mV=jump_limit_mV
            if checks.is_jump[first]
            else offset_limit_mV + float(checks.margin_mV[first]),
            checks_to_lose=checks_to_lose,
        ),
    )


def _evidence(checks: ReferenceChecks, first: int, *, limit_mV: float, checks_to_lose: int) -> str:
    """Which check, which value, which limit, in words."""
    value, when = checks.value_mV[first], f"at {checks.time_h[first]:.2f} h"
    if checks.is_short[first]:
        return f"soft short {when}: no response to current for {value:.1f} h"
    if checks.is_jump[first]:
        return f"common-mode jump {value:.1f} mV {when}, limit {limit_mV:g} mV"
    row = f"first of {checks_to_lose} checks in a row"
    return f"offset {value:.1f} mV {when}, limit {limit_mV:g} mV, {row}"


def reference_life(
    cycles: CycleRecord,
    *,
    checks: ReferenceChecks,
    states: Sequence[str],
    cell: Life,
    plated_h: float | None,
    replated_h: float | None,
    first_h: float,
    offset_limit_mV: float,
    jump_limit_mV: float,
    checks_to_lose: int,
) -> Life:
    """Decide the life of the first plating of a cell's reference.

    Parameters
    ----------
    cycles : CycleRecord
        Cycles of the cell.
    checks : ReferenceChecks
        Checks of the offset and of common-mode jumps.
    states : sequence of str
        States of trust that the reference went through, named where no check was possible.
    cell : Life
        Life of the cell; a reference is not observed beyond it.
    plated_h, replated_h : float or None
        First plating and first re-plating, hours since the clock start [h]; None where the bench
        log has none.
    first_h : float
        First row of the cell, taken as the start where no plating is logged [h].
    offset_limit_mV, jump_limit_mV, checks_to_lose
        See `reference_loss`.

    Notes
    -----
    A reference whose offset was never checked says nothing about how long references last: unless
    a jump loses it, it is censored at its start, not at the last row, where it would count as
    good for all that time.
    """
    start_h = first_h if plated_h is None else plated_h
    stop_h = cell.hours.duration
    because = CELL_ENDED_FIRST if cell.observed else cell.censored_because
    decided_by = cell.decided_by
    if replated_h is not None and start_h < replated_h < stop_h:
        stop_h, because, decided_by = replated_h, RE_PLATED, BENCH_LOG
    seen = checks.between(start_h, stop_h)
    loss = reference_loss(
        seen,
        offset_limit_mV=offset_limit_mV,
        jump_limit_mV=jump_limit_mV,
        checks_to_lose=checks_to_lose,
        start_h=start_h,
    )
    origin = "plating" if plated_h is not None else "first row (no plating logged)"
    since = f"; counted from the {origin} at {start_h:.2f} h"
    if loss is not None:
        return _lost(cycles, loss, start_h=start_h, since=since)
    if seen.is_jump.all():
        known = [state for state in states if plated_h is None or state != Trust.NOT_PLATED]
        return _unchecked(cell, known, since)
    good_h = _last_good_h(seen, offset_limit_mV=offset_limit_mV, start_h=start_h)
    number = int((~seen.is_jump).sum())
    words = f"no loss in {number} checks of the offset up to {stop_h:.2f} h; {because}{since}"
    return _kept(
        cycles,
        start_h=start_h,
        good_h=good_h,
        stop_h=stop_h,
        because=because,
        decided_by=decided_by,
        evidence=words,
    )


def _unchecked(cell: Life, states: Sequence[str], since: str) -> Life:
    """Give the life of a reference about which nothing is known: censored at its start."""
    zero = Span(0.0, 0.0, None)
    if cell.censored_because == NO_DATA:
        return Life(zero, zero, False, "", NO_DATA, RULE, cell.evidence)
    words = f"its offset was never checked; its trust: {', '.join(states) or Trust.UNKNOWN}"
    return Life(zero, zero, False, "", NO_CHECK, RULE, words + since)


def _last_good_h(checks: ReferenceChecks, *, offset_limit_mV: float, start_h: float) -> float:
    """Last offset within its limit [h]; the start where there is none.

    A jump within its limit says that the reference moved, not that it is good.
    """
    good = ~checks.is_jump & (np.abs(checks.value_mV) <= offset_limit_mV)
    return float(checks.time_h[good][-1]) if good.any() else start_h


def _lost(cycles: CycleRecord, loss: Loss, *, start_h: float, since: str) -> Life:
    """Give a reference life whose loss was seen."""
    before = cycles.last_complete(start_h)[0]
    upper = float(max(cycles.cycle_at(loss.time_h) - before, 0))
    lower = float(max(cycles.last_complete(loss.lower_h)[0] - before, 0))
    hours = loss.time_h - start_h
    return Life(
        hours=Span(hours, loss.lower_h - start_h, hours),
        cycles=Span(upper, min(lower, upper), upper),
        observed=True,
        cause=REFERENCE_LOST,
        censored_because="",
        decided_by=RULE,
        evidence=loss.evidence + since,
    )


def _kept(
    cycles: CycleRecord,
    *,
    start_h: float,
    good_h: float,
    stop_h: float,
    because: str,
    decided_by: str,
    evidence: str,
) -> Life:
    """Give a reference life whose loss was not seen."""
    before = cycles.last_complete(start_h)[0]

    def since_start(time_h: float) -> float:
        return float(max(cycles.last_complete(time_h)[0] - before, 0))

    return Life(
        hours=Span(max(stop_h - start_h, 0.0), max(good_h - start_h, 0.0), None),
        cycles=Span(since_start(stop_h), since_start(good_h), None),
        observed=False,
        cause="",
        censored_because=because,
        decided_by=decided_by,
        evidence=evidence,
    )
