"""Cell life: how long a cell lasted, whether its end was seen, why, and who decided.

An end that was seen has `duration` = `upper`, the first moment (or cycle) known to be bad, and
`lower`, the last known to be good. A censored life has `duration` = `lower`, the last sight of
the cell, and no `upper`. The number of cycles of a censored life counts up to the last complete
cycle, since only that one is known to be good.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trivet.reasons import STATED_REASONS, Censored, StopReason
from trivet.science.lives.cycle_record import CycleRecord
from trivet.science.lives.ends import End

RULE = "rule"
BENCH_LOG = "bench log"
ROW, SPECTRUM = "row", "spectrum"

RUNNING = Censored.RUNNING
STOPPED = Censored.STOPPED
REMOVED = Censored.REMOVED
PAUSED = Censored.PAUSED
NO_DATA = Censored.NO_DATA
UNEXPLAINED = Censored.UNEXPLAINED

_STATUS: dict[str, str] = {
    RUNNING: "running",
    STOPPED: "stopped",
    REMOVED: "removed",
    PAUSED: "paused",
}
_PERSON: dict[str, Censored] = {"stopped": STOPPED, "removed": REMOVED}


@dataclass(frozen=True)
class BenchEvent:
    """What a person did to a cell.

    Attributes
    ----------
    event : str
        `failed`, `stopped`, `removed`, `paused`, `resumed`, or another word, which is ignored.
    time_h : float
        Hours since the cell's clock start [h].
    cause : str
        Cause of a failure.
    reason : str
        Why it was stopped, one of `STATED_REASONS`; empty where no one said.
    """

    event: str
    time_h: float
    cause: str = ""
    reason: str = ""


@dataclass(frozen=True)
class Span:
    """A life on one clock.

    Attributes
    ----------
    duration : float
        Time to the end or to the last sight of it, on the clock [h or 1].
    lower : float
        Last time known to be good [h or 1].
    upper : float or None
        First time known to be bad [h or 1]; None where not reached.
    """

    duration: float
    lower: float
    upper: float | None


@dataclass(frozen=True)
class Life:
    """One life on both clocks.

    Attributes
    ----------
    hours, cycles : Span
        The life on the clock of hours and on the clock of cycles.
    observed : bool
        Whether the end was seen.
    cause : str
        Cause of the end; empty where censored.
    censored_because : str
        Why the end was not seen; empty where it was.
    decided_by : str
        `rule` or `bench log`.
    evidence : str
        Which cycle, which value, which limit.
    stop_reason : StopReason
        Why observation was stopped; empty where the end was seen, or the cell is running.
    known_h : float or None
        Hours at which the end was known; None where it was not seen [h].
    """

    hours: Span
    cycles: Span
    observed: bool
    cause: str
    censored_because: str
    decided_by: str
    evidence: str
    stop_reason: StopReason = StopReason.NONE
    known_h: float | None = None


def cell_life(
    cycles: CycleRecord,
    *,
    end: End | None,
    bench: Sequence[BenchEvent],
    last_h: float | None,
    running: bool | None,
    seen: str = ROW,
) -> Life:
    """Decide the life of one cell; the bench log outranks the rules.

    Parameters
    ----------
    cycles : CycleRecord
        Cycles of the cell.
    end : End or None
        The end that the rules see.
    bench : sequence of BenchEvent
        What people did, in order of time, up to the data cut.
    last_h : float or None
        Last row of the cell, hours since its clock start [h]; None where there is no row.
    running : bool or None
        Whether the last row lies near the data cut; None where the rows have no calendar time.
    seen : str
        What the cell was seen by last: a `ROW` of cycling, or a `SPECTRUM` where it was never
        cycled.

    Notes
    -----
    In this order: `failed` in the bench log is the end; an end by rule counts unless a person
    stopped or removed the cell before it; `stopped` and `removed` censor; a cell whose last row
    lies near the data cut is running; a cell that was paused and not resumed is censored as
    paused; else the data end without an explanation.
    """
    failed = next((event for event in bench if event.event == "failed"), None)
    if failed is not None:
        return _failed(cycles, failed, end=end, last_h=last_h, seen=seen)
    if last_h is None and cycles.cycle.size:
        return _counted(cycles, end)
    if last_h is None:
        zero = Span(0.0, 0.0, None)
        return Life(zero, zero, False, "", NO_DATA, RULE, "no row of this cell was read")
    stop = final_stop(bench)
    if end is not None and (stop is None or end.time_h <= stop.time_h):
        return _ended(end)
    if stop is not None:
        said = f", {stop.reason}" if stop.reason else ""
        words = f"bench log: {stop.event} at {stop.time_h:.2f} h{said}"
        if end is not None:
            words += f"; the rule saw, after that, {end.evidence}"
        return censored(
            cycles,
            time_h=stop.time_h,
            because=_PERSON[stop.event],
            decided_by=BENCH_LOG,
            evidence=words,
            stop_reason=stated_reason(stop),
        )
    because, evidence = _open_end(bench, last_h=last_h, running=running, seen=seen)
    return censored(
        cycles,
        time_h=last_h,
        because=because,
        decided_by=BENCH_LOG if because == PAUSED else RULE,
        evidence=evidence,
        stop_reason=_open_reason(bench, because, running=running),
    )


def stated_reason(event: BenchEvent) -> StopReason:
    """Why a person stopped a cell, where they said so."""
    return StopReason(event.reason) if event.reason in STATED_REASONS else StopReason.NOT_STATED


def _open_reason(bench: Sequence[BenchEvent], because: str, *, running: bool | None) -> StopReason:
    """Why a cell that neither a rule nor a person ended was followed no longer.

    Where rows have no calendar time nobody can tell whether it still runs: that is no stop.
    """
    if because == PAUSED:
        paused = next(event for event in reversed(bench) if event.event == "paused")
        return stated_reason(paused)
    if because == UNEXPLAINED and running is not None:
        return StopReason.NOT_EXPLAINED
    return StopReason.NONE


def censored(
    cycles: CycleRecord,
    *,
    time_h: float,
    because: str,
    decided_by: str,
    evidence: str,
    stop_reason: StopReason = StopReason.NONE,
) -> Life:
    """Give a life whose end was not seen by a time, hours since the cell's clock start [h]."""
    good = float(cycles.last_complete(time_h)[0])
    hours = max(time_h, 0.0)
    return Life(
        hours=Span(hours, hours, None),
        cycles=Span(good, good, None),
        observed=False,
        cause="",
        censored_because=because,
        decided_by=decided_by,
        evidence=evidence,
        stop_reason=stop_reason,
    )


def final_stop(bench: Sequence[BenchEvent], /) -> BenchEvent | None:
    """Give the first stop or removal that was not taken back by a later `resumed`."""
    resumed = [event.time_h for event in bench if event.event == "resumed"]
    for event in bench:
        if event.event in _PERSON and not any(time_h > event.time_h for time_h in resumed):
            return event
    return None


def _ended(end: End) -> Life:
    """Give a life that a rule ended."""
    return Life(
        hours=Span(end.time_h, min(end.lower_h, end.time_h), end.time_h),
        cycles=Span(float(end.cycle), float(end.lower_cycle), float(end.cycle)),
        observed=True,
        cause=end.cause,
        censored_because="",
        decided_by=RULE,
        evidence=end.evidence,
        known_h=end.known_h,
    )


def _counted(cycles: CycleRecord, end: End | None) -> Life:
    """Give a life whose cycles have no times: on the clock of cycles only, zero hours seen."""
    good = float(cycles.cycle[cycles.complete][-1]) if cycles.complete.any() else 0.0
    if end is not None:
        return replace(_ended(end), hours=Span(0.0, 0.0, None))
    return Life(
        hours=Span(0.0, 0.0, None),
        cycles=Span(good, good, None),
        observed=False,
        cause="",
        censored_because=UNEXPLAINED,
        decided_by=RULE,
        evidence=f"capacities are stated up to cycle {good:g}, without times; no rule saw an end",
    )


def _failed(
    cycles: CycleRecord, failed: BenchEvent, *, end: End | None, last_h: float | None, seen: str
) -> Life:
    """Give a life that the bench log ended; what the rule saw stays in the evidence."""
    hours = max(failed.time_h, 0.0)
    lower_cycle, lower_h = cycles.last_complete(failed.time_h)
    number = cycles.cycle_at(failed.time_h)
    if seen == SPECTRUM and last_h is not None and last_h <= failed.time_h:
        lower_h = last_h
    if end is not None and end.time_h <= failed.time_h:
        lower_cycle, lower_h = end.lower_cycle, end.lower_h
    if end is not None:
        rule = f"the rule saw {end.evidence}"
    else:
        rule = "no row of this cell was read" if last_h is None else "the rule saw no end"
    return Life(
        hours=Span(hours, min(max(lower_h, 0.0), hours), hours),
        cycles=Span(float(number), float(min(lower_cycle, number)), float(number)),
        observed=True,
        cause=failed.cause or "other",
        censored_because="",
        decided_by=BENCH_LOG,
        evidence=f"bench log: failed at {failed.time_h:.2f} h, cause {failed.cause or 'other'}; "
        + rule,
        known_h=hours,
    )


def _open_end(
    bench: Sequence[BenchEvent], *, last_h: float, running: bool | None, seen: str
) -> tuple[str, str]:
    """Reason and evidence of a cell that neither a rule nor a person ended."""
    last_seen = f"last {seen} at {last_h:.2f} h"
    if running:
        return RUNNING, f"{last_seen}, near the data cut; no rule saw an end"
    last = next(
        (event for event in reversed(bench) if event.event in {"paused", "resumed"}),
        None,
    )
    if last is not None and last.event == "paused":
        return PAUSED, f"bench log: paused at {last.time_h:.2f} h; {last_seen}"
    if running is None:
        return UNEXPLAINED, f"{last_seen}; the rows have no calendar time"
    return UNEXPLAINED, f"{last_seen}, long before the data cut; no entry says why"


def status(life: Life | None, *, included: bool) -> str:
    """Give the status of a cell in the words of the report.

    Parameters
    ----------
    life : Life or None
        Life of the cell; None only for a cell that does not count.
    included : bool
        Whether the cell counts in the statistics.

    Returns
    -------
    str
        `excluded`, `ended (cause)`, `running`, `stopped`, `removed`, `paused`, `no data` or
        `data end, not explained`.
    """
    if not included or life is None:
        return "excluded"
    if life.observed:
        return f"ended ({life.cause})"
    return _STATUS.get(life.censored_because, life.censored_because)
