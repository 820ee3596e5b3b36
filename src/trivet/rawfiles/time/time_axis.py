"""Times of the rows of one file: unix, local, elapsed, or two of them held against each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyarrow as pa

from trivet.rawfiles.layout.declared import FileLayout
from trivet.rawfiles.reading.raw_read import FAR_AHEAD, NO_TIME, RawRead, plural
from trivet.rawfiles.text.clock import SPREADSHEET_DAYS, elapsed_seconds, local_seconds, to_unix
from trivet.rawfiles.text.delimited import UNREADABLE
from trivet.rawfiles.text.preamble import written_step_s
from trivet.rawfiles.time.clock_outliers import lone_ahead
from trivet.rawfiles.time.coarse_dates import by_coarse_dates
from trivet.rawfiles.time.part_starts import with_start
from trivet.store.arrow_arrays import is_text, truths

BACKWARDS = "clock goes back"
PAUSE = "pause not known"
_DISAGREEMENT_S = 2.0
_PAUSE_S = 60.0
"""The calendar must run ahead of the elapsed time by more than this in one step to be a pause."""
_HOUR_S = 3600.0
_LOOKED_AT = 100


def place_rows(read: RawRead, *, layout: FileLayout) -> RawRead:
    """Give every row its time.

    Parameters
    ----------
    read : RawRead
        A file.
    layout : FileLayout
        Its layout; for times of day their format and zone.

    Returns
    -------
    RawRead
        With `time_s`: Unix time where the file has it, else elapsed time as it stands [s]. Rows
        without a time, and rows before a time already reached, are set aside.
    """
    if not len(read.lines):
        return read
    read = _elapsed_from_text(read)
    read, calendar_s = calendar_times(read, layout)
    read, calendar_s = _without_lone(read, calendar_s)
    elapsed_s = read.values.get("elapsed time")
    if calendar_s is not None and elapsed_s is not None:
        read = _held_against(replace(read, absolute=True), calendar_s, elapsed_s)
    elif calendar_s is not None:
        read = replace(read, time_s=calendar_s, absolute=True)
    elif elapsed_s is not None:
        read = with_start(_with_restarts(replace(read, time_s=elapsed_s)))
    else:
        return read.refuse("missing column", "the file has no column of time")
    read = refuse_backwards(read.keep(np.isfinite(read.time_s), reason=NO_TIME))
    # The calendar lives on in the times; a second copy of it would only fill memory.
    return replace(
        read,
        values={name: column for name, column in read.values.items() if name != "unix time"},
        texts={name: column for name, column in read.texts.items() if name != "absolute time"},
    )


def _without_lone(
    read: RawRead, calendar_s: np.ndarray | None
) -> tuple[RawRead, np.ndarray | None]:
    """Set aside single rows whose calendar or elapsed time is far ahead."""
    clocks = (calendar_s, read.values.get("elapsed time"))
    found = [
        lone for clock in clocks if clock is not None and (lone := lone_ahead(clock)) is not None
    ]
    if not found:
        return read, calendar_s
    keeps = ~np.logical_or.reduce(found)
    return (
        read.keep(keeps, reason=FAR_AHEAD),
        calendar_s[keeps] if calendar_s is not None else None,
    )


def _with_restarts(read: RawRead) -> RawRead:
    """Elapsed time that starts anew within a file goes on behind the rows before."""
    time_s = read.time_s
    start = time_s[np.isfinite(time_s)][:1]
    steps = np.diff(time_s)
    if not len(start) or not np.any(steps < 0):
        return read
    typical = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 0.0
    anew = np.flatnonzero((steps < 0) & (time_s[1:] <= start[0] + typical)) + 1
    if not len(anew):
        return read
    moved = time_s.copy()
    for row in anew:
        moved[row:] += moved[row - 1] - moved[row]
    return replace(read, time_s=moved).note(
        PAUSE,
        "caution",
        f"the elapsed time starts anew {plural(len(anew), 'time')} within the file, so the pause "
        "before it is not known",
        action="placed right behind the row before",
        line=int(read.lines[anew[0]]),
        value=float(len(anew)),
        unit="1",
    )


def refuse_backwards(read: RawRead) -> RawRead:
    """Set aside rows whose time lies before one already reached; equal times stay in order."""
    if len(read.time_s) < 2 or np.all(read.time_s[1:] >= read.time_s[:-1]):
        return read
    lone = lone_ahead(read.time_s, first_too=True)
    if lone is not None:
        read = read.keep(~lone, reason=FAR_AHEAD)
    reached = np.maximum.accumulate(read.time_s)
    back = read.time_s < reached
    if not np.any(back):
        return read
    row = int(np.argmax(back))
    count = int(back.sum())
    drop_s = float(reached[row] - read.time_s[row])
    winter = read.absolute and 0.5 * _HOUR_S < drop_s <= _HOUR_S
    hint = "; as at the end of summer time: give the layout its time zone" if winter else ""
    return read.keep(~back, reason=BACKWARDS).note(
        BACKWARDS,
        "fault",
        f"the clock goes back {drop_s:.6g} s; {count} of {len(back)} rows "
        f"lie before a time already reached{hint}",
        action="rows set aside",
        line=int(read.lines[row]),
        value=float(count),
        unit="1",
    )


def _elapsed_from_text(read: RawRead) -> RawRead:
    """Elapsed time that is written with colons, in seconds."""
    texts = read.texts.get("elapsed time")
    if texts is None:
        return read
    seconds = elapsed_seconds(texts)
    others = {name: column for name, column in read.texts.items() if name != "elapsed time"}
    read = replace(read, texts=others, values={**read.values, "elapsed time": seconds})
    return read.keep(~_unreadable(texts, seconds), reason=UNREADABLE)


def _unreadable(texts: object, seconds: np.ndarray) -> np.ndarray:
    """Rows whose text is there but is no time."""
    filled = ~truths(is_text(texts, ""))
    return np.asarray(filled & np.isnan(seconds))


def calendar_times(read: RawRead, layout: FileLayout) -> tuple[RawRead, np.ndarray | None]:
    """Unix time of the rows from a column of unix or local times [s]; None without one.

    Rows whose text is no time are set aside; missing times are NaN.
    """
    if "unix time" in read.values:
        return read, read.values["unix time"]
    texts = read.texts.get("absolute time")
    if texts is None:
        return read, None
    form = next(rule.format for rule in layout.columns if rule.quantity == "absolute time")
    local_s = local_seconds(texts, form=form)
    read = replace(read, clock_step_s=_calendar_step_s(texts, form))
    bad = _unreadable(texts, local_s)
    read, local_s = read.keep(~bad, reason=UNREADABLE), local_s[~bad]
    if "%z" in form:
        return read, local_s
    placed = to_unix(local_s, zone=layout.time_zone, elapsed_s=read.values.get("elapsed time"))
    read = read.assume(f"times of day are in {layout.time_zone}")
    return _about_clock_change(read, placed.twice, placed.never, layout.time_zone), placed.time_s


def _calendar_step_s(texts: pa.Array, form: str) -> float:
    """Smallest difference that dates show as they are written [s]; 0 for day numbers."""
    if form in SPREADSHEET_DAYS:
        return 0.0
    return min((written_step_s(text) for text in texts.slice(0, _LOOKED_AT).to_pylist() if text),
               default=0.0)  # fmt: skip


def _about_clock_change(read: RawRead, twice: np.ndarray, never: np.ndarray, zone: str) -> RawRead:
    """Say where local times are not unique, or can't be."""
    if np.any(twice):
        proof = "elapsed time" if "elapsed time" in read.values else "a clock that runs forward"
        read = read.note(
            "hour that occurs twice",
            "note",
            f"{int(twice.sum())} rows lie in the hour that {zone} has twice; placed by {proof}",
            line=int(read.lines[int(np.argmax(twice))]),
            value=float(twice.sum()),
            unit="1",
        )
    if np.any(never):
        read = read.note(
            "hour that does not occur",
            "caution",
            f"{int(never.sum())} rows have a local time that {zone} skips, so the instrument's "
            "clock keeps another zone",
            line=int(read.lines[int(np.argmax(never))]),
            value=float(never.sum()),
            unit="1",
        )
    return read


def _held_against(read: RawRead, calendar_s: np.ndarray, elapsed_s: np.ndarray) -> RawRead:
    """Start from the calendar, differences from the elapsed time, joined anew after a pause.

    The elapsed time is joined to the calendar again where it restarts, and where the calendar runs
    ahead in one step; not for a step of one hour, which is a clock set forward.
    """
    known = np.isfinite(calendar_s) & np.isfinite(elapsed_s)
    rows = None if np.all(known) else np.flatnonzero(known)
    calendar, elapsed = (
        (calendar_s, elapsed_s) if rows is None else (calendar_s[rows], elapsed_s[rows])
    )
    if not len(calendar):
        return replace(read, time_s=calendar_s.copy())
    step_s = read.clock_step_s
    joins = _joins(calendar, elapsed, step_s)
    if step_s > _DISAGREEMENT_S:
        placed = by_coarse_dates(calendar, elapsed, joins=joins, step_s=step_s)
        read = read.assume("dates give the place, elapsed time what is finer than they are")
    elif np.any(joins):
        segment = np.concatenate([[0], np.cumsum(joins)])
        starts = np.concatenate([[0], np.flatnonzero(joins) + 1])[segment]
        placed = calendar[starts] + elapsed - elapsed[starts]
    else:
        placed = calendar[0] + elapsed
        placed -= elapsed[0]
    read = _about_disagreement(read, rows, placed, calendar, joins)
    if rows is None:
        return replace(read, time_s=placed)
    time_s = calendar_s.copy()
    time_s[rows] = placed
    return replace(read, time_s=time_s)


def _joins(calendar_s: np.ndarray, elapsed_s: np.ndarray, step_s: float) -> np.ndarray:
    """Steps at which the elapsed time is joined to the calendar again, shape (n_rows - 1,).

    Dates that are written to `step_s` only run ahead by that much without any pause.
    """
    steps = np.diff(elapsed_s)
    back = steps < 0
    ahead = np.diff(calendar_s)
    ahead -= steps
    joins = back & (ahead > 0)
    jumps = ahead > max(_PAUSE_S, step_s)
    apart_s = max(_DISAGREEMENT_S, step_s if step_s <= _PAUSE_S else 0.0)
    jumps[jumps] = np.abs(ahead[jumps] - _HOUR_S) > apart_s
    return np.asarray(joins | jumps)


def _about_disagreement(
    read: RawRead,
    rows: np.ndarray | None,
    placed_s: np.ndarray,
    calendar_s: np.ndarray,
    joins: np.ndarray,
) -> RawRead:
    """Say how far the two clocks of a file differ, and where the elapsed one stood still."""
    apart_s = placed_s - calendar_s
    np.abs(apart_s, out=apart_s)
    worst = int(np.argmax(apart_s))
    lines = read.lines if rows is None else read.lines[rows]
    limit_s = max(_DISAGREEMENT_S, read.clock_step_s)
    if apart_s[worst] > limit_s:
        read = read.note(
            "two clocks disagree",
            "caution",
            f"elapsed time and calendar differ by up to {apart_s[worst]:.6g} s",
            action="elapsed time taken for differences",
            line=int(lines[worst]),
            value=float(apart_s[worst]),
            limit=limit_s,
            unit="s",
        )
    if np.any(joins):
        read = read.note(
            "elapsed time paused",
            "note",
            f"the elapsed time stands still or restarts while the calendar runs on, "
            f"{plural(int(joins.sum()), 'time')} in all",
            action="joined by the calendar",
            line=int(lines[int(np.argmax(joins)) + 1]),
            value=float(joins.sum()),
            unit="1",
        )
    return read
