"""Trust of a reference: what its checks mean together, as a timeline.

Only a good anchor (offset, with its drift) gives trust. Closure, jumps, noise and charge left can
take it away, never give it: the reference cancels in the closure, and a quiet reference can be
wrong. A value equal to its limit is still on the good side.

Between two good anchors the reference is `trusted`, between a good one and a bad one `suspect`
(it went somewhere in between), from a bad one on `lost`. After a common-mode jump, a soft short or
charge used up it is lost exactly from then on. A lost reference stays lost until it is plated
again. From plating to the first anchor it is `trusted` if that first one is good, else `unknown`;
after the last anchor its state goes on.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from trivet.reasons import Trust
from trivet.reference_checks import AT_ONCE, CHECKS, ReferenceCheck, Role, checks_of
from trivet.science.cycling.integrals import Booleans, Floats, Integers

TRUST_ORDER = ("trusted", "suspect", "unknown", "not plated", "lost")
"""Trust from best to worst: of a span of time the worst counts."""

_GIVE_TRUST = (Role.ANCHOR, Role.ANCHOR_DRIFT)
_RANK = {state: rank for rank, state in enumerate(TRUST_ORDER)}


@dataclass(frozen=True)
class Check:
    """One check of one reference; fields as the columns of the table `reference_checks`.

    `trust` is what follows from this check alone; `unknown` where it gives none. A suspect check
    throws doubt on the time from `doubt_from_h` to `doubt_to_h`; without an end until the next
    good anchor. `lower` and `upper` are the limits of an interval of the value, where it has one;
    `uncertainty` is the standard uncertainty of the potential that an offset is held against.
    """

    time_h: float
    check: ReferenceCheck
    value: float
    unit: str
    limit: float
    trust: str
    doubt_from_h: float
    doubt_to_h: float | None = None
    lower: float | None = None
    upper: float | None = None
    uncertainty: float = 0.0


@dataclass(frozen=True)
class TrustSpans:
    """Trust over time, without holes, in order; shape (k,) each.

    Attributes
    ----------
    starts_h, ends_h : ndarray
        Begin and end of each span [h].
    states : tuple of str
        Trust in each span.
    """

    starts_h: Floats
    ends_h: Floats
    states: tuple[str, ...]


def assess(
    check: ReferenceCheck,
    time_h: float,
    value: float,
    *,
    limits: tuple[float, float],
    doubt_from_h: float | None = None,
    doubt_to_h: float | None = None,
) -> Check:
    """Hold one value against its two limits.

    Parameters
    ----------
    check : ReferenceCheck
        The check, whose entry says what it can do.
    time_h : float
        When [h].
    value : float
        What was found, of either sign [unit of the check].
    limits : tuple of float
        A size beyond the first makes suspect, beyond the second lost, or suspect still where the
        check can't lose a reference [unit of the check].
    doubt_from_h, doubt_to_h : float or None
        Time on which a suspect value throws doubt [h]; from the check on where not given.

    Returns
    -------
    Check
        With the limit that was passed last, or the first one where none was.
    """
    entry = CHECKS[check]
    size = -value if entry.falls else abs(value)
    first, second = (-limits[0], -limits[1]) if entry.falls else limits
    # A hair absorbs rounding, so that a value equal to its limit is on the good side.
    size -= 1e-9 * abs(value)
    worst = Trust.SUSPECT if entry.role is Role.DOUBT else Trust.LOST
    good = Trust.TRUSTED if entry.role in _GIVE_TRUST else Trust.UNKNOWN
    trust = worst if size > second else Trust.SUSPECT if size > first else good
    return Check(
        time_h=time_h,
        check=check,
        value=value,
        unit=entry.unit,
        limit=limits[1] if size > second else limits[0],
        trust=trust.value,
        doubt_from_h=time_h if doubt_from_h is None else doubt_from_h,
        doubt_to_h=doubt_to_h,
    )


def lost_at_h(checks: Iterable[Check], *which: ReferenceCheck) -> float:
    """First time at which any of some checks found the reference lost [h]; infinite for never."""
    found = (c.time_h for c in checks if c.trust == Trust.LOST and c.check in which)
    return min(found, default=float("inf"))


def one_each(checks: Iterable[Check]) -> tuple[Check, ...]:
    """Keep the worst of checks of one name at one time; in order of time and name."""
    best: dict[tuple[float, ReferenceCheck], Check] = {}
    for check in checks:
        key = (check.time_h, check.check)
        if key not in best or _RANK[check.trust] > _RANK[best[key].trust]:
            best[key] = check
    return tuple(best[key] for key in sorted(best))


def _anchors(checks: Sequence[Check]) -> tuple[Floats, Integers]:
    """Times of the offsets, and their rank with the drift at the same time."""
    rank: dict[float, int] = {}
    for check in checks:
        if CHECKS[check.check].role is Role.ANCHOR:
            rank[check.time_h] = max(rank.get(check.time_h, 0), _RANK[check.trust])
    for check in checks:
        if CHECKS[check.check].role is Role.ANCHOR_DRIFT and check.time_h in rank:
            rank[check.time_h] = max(rank[check.time_h], _RANK[check.trust])
    times = sorted(rank)
    return np.array(times), np.array([rank[time] for time in times], dtype=np.int64)


def _era(middle_h: Floats, checks: Sequence[Check]) -> Integers:
    """Rank of each moment between one plating and the next."""
    gone_h = lost_at_h(checks, *checks_of(*AT_ONCE))
    times, ranks = _anchors([c for c in checks if c.time_h < gone_h])
    bad = np.flatnonzero(ranks == _RANK["lost"])
    if bad.size:
        gone_h = float(times[bad[0]])
        times, ranks = times[: bad[0] + 1], ranks[: bad[0] + 1]
    out = np.full(middle_h.size, _RANK["unknown"], dtype=np.int64)
    if times.size:
        known = np.minimum(ranks, _RANK["suspect"])
        begin = _RANK["trusted" if ranks[0] == _RANK["trusted"] else "unknown"]
        between = np.maximum(known[:-1], known[1:])
        steps = np.concatenate([[begin], between, [known[-1]]])
        out = steps[np.searchsorted(times, middle_h)]
    good = times[ranks == _RANK["trusted"]]
    for check in checks:
        if check.trust in ("suspect", "lost") and CHECKS[check.check].role not in _GIVE_TRUST:
            later = good[good > check.time_h]
            until = later[0] if later.size else np.inf
            until = until if check.doubt_to_h is None else check.doubt_to_h
            doubted = (middle_h > check.doubt_from_h) & (middle_h < until)
            out = np.where(doubted, np.maximum(out, _RANK["suspect"]), out)
    return np.where(middle_h > gone_h, _RANK["lost"], out)


def trust_timeline(
    checks: Sequence[Check],
    *,
    first_h: float,
    last_h: float,
    platings_h: Sequence[float],
    at_best: str = "trusted",
) -> TrustSpans:
    """Trust of a reference from the first to the last row of its cell.

    Parameters
    ----------
    checks : sequence of Check
        Its checks.
    first_h, last_h : float
        First and last row [h].
    platings_h : sequence of float
        Platings in order of time [h]; a cell whose reference needs none counts from its first row.
    at_best : str
        Trust that is never passed, e.g. `suspect` where leads look swapped.

    Returns
    -------
    TrustSpans
        Neighbours differ; empty where the rows span no time.
    """
    places = [first_h, last_h, *platings_h]
    for check in checks:
        places += [check.time_h, check.doubt_from_h]
        places += [] if check.doubt_to_h is None else [check.doubt_to_h]
    edges = np.unique(np.clip(places, first_h, last_h))
    middle = (edges[:-1] + edges[1:]) / 2.0
    rank = np.full(middle.size, _RANK["not plated"], dtype=np.int64)
    starts = sorted(platings_h)
    for start, stop in zip(starts, [*starts, np.inf][1:], strict=True):
        inside = (middle > start) & (middle < stop)
        mine = [check for check in checks if start <= check.time_h < stop]
        rank[inside] = np.maximum(_era(middle[inside], mine), _RANK[at_best])
    changes = np.flatnonzero(np.diff(rank)) + 1
    begin = np.concatenate([[0], changes]) if middle.size else changes
    end = np.concatenate([changes, [middle.size]]) if middle.size else changes
    return TrustSpans(edges[begin], edges[end], tuple(TRUST_ORDER[rank[i]] for i in begin))


def trust_at(starts_h: Floats, ends_h: Floats, states: Sequence[str], time_h: float) -> str:
    """Trust at one moment.

    Parameters
    ----------
    starts_h, ends_h : ndarray, shape (k,)
        Spans in order of time [h]; a span has its start and not its end.
    states : sequence of str
        Trust in each.
    time_h : float
        Moment [h].

    Returns
    -------
    str
        `unknown` before the first span and where a hole is; after the last span its state.
    """
    index = int(np.searchsorted(starts_h, time_h, side="right")) - 1
    if index < 0:
        return "unknown"
    inside = time_h < ends_h[index] or index == len(states) - 1
    return states[index] if inside else "unknown"


def trust_over(
    starts_h: Floats, ends_h: Floats, states: Sequence[str], start_h: float, end_h: float
) -> str:
    """Worst trust over a span of time.

    Parameters
    ----------
    starts_h, ends_h, states
        As in `trust_at`.
    start_h, end_h : float
        First and last moment [h]; the last one itself does not count unless both are the same.

    Returns
    -------
    str
        Worst state in the order of `TRUST_ORDER`.
    """
    found = [trust_at(starts_h, ends_h, states, start_h)]
    met: Booleans = (starts_h < end_h) & (ends_h > start_h)
    found += [state for state, counts in zip(states, met, strict=True) if counts]
    return max(found, key=lambda state: _RANK[state])


def is_withheld(trust: str) -> bool:
    """Whether a number that rests on the reference is withheld: at any trust but `trusted`."""
    return trust != "trusted"
