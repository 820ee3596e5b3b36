"""Times of the rows of one file: unix, local, elapsed, or two of them held against each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyarrow.compute as pc

from trivet.io.clock import elapsed_seconds, local_seconds, to_unix
from trivet.io.delimited import UNREADABLE
from trivet.io.layouts import FileLayout
from trivet.io.raw_read import NO_TIME, RawRead, plural

BACKWARDS = "clock goes back"
PAUSE = "pause not known"
_DISAGREEMENT_S = 2.0
_PAUSE_S = 60.0
"""The calendar must run ahead of the elapsed time by more than this in one step to be a pause."""
_HOUR_S = 3600.0


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
    elapsed_s = read.values.get("elapsed time")
    if calendar_s is not None and elapsed_s is not None:
        read = _held_against(replace(read, absolute=True), calendar_s, elapsed_s)
    elif calendar_s is not None:
        read = replace(read, time_s=calendar_s, absolute=True)
    elif elapsed_s is not None:
        read = _with_restarts(replace(read, time_s=elapsed_s))
    else:
        return read.refuse("missing column", "the file has no column of time")
    return refuse_backwards(read.keep(np.isfinite(read.time_s), reason=NO_TIME))


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
    if len(read.time_s) < 2:
        return read
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
    filled = pc.not_equal(texts, "").to_numpy(zero_copy_only=False)
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
    bad = _unreadable(texts, local_s)
    read, local_s = read.keep(~bad, reason=UNREADABLE), local_s[~bad]
    if "%z" in form:
        return read, local_s
    placed = to_unix(local_s, zone=layout.time_zone, elapsed_s=read.values.get("elapsed time"))
    read = read.assume(f"times of day are in {layout.time_zone}")
    return _about_clock_change(read, placed.twice, placed.never, layout.time_zone), placed.time_s


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
    both = np.flatnonzero(np.isfinite(calendar_s) & np.isfinite(elapsed_s))
    time_s = calendar_s.copy()
    if not len(both):
        return replace(read, time_s=time_s)
    calendar, elapsed = calendar_s[both], elapsed_s[both]
    steps = np.diff(elapsed)
    ahead = np.diff(calendar) - steps
    joins = (steps < 0) & (ahead > 0)
    joins |= (ahead > _PAUSE_S) & (np.abs(ahead - _HOUR_S) > _DISAGREEMENT_S)
    if not np.any(joins):
        time_s[both] = calendar[0] + elapsed - elapsed[0]
        return _about_disagreement(
            replace(read, time_s=time_s), both, time_s[both] - calendar, joins
        )
    segment = np.concatenate([[0], np.cumsum(joins)])
    starts = np.concatenate([[0], np.flatnonzero(joins) + 1])[segment]
    time_s[both] = calendar[starts] + elapsed - elapsed[starts]
    read = replace(read, time_s=time_s)
    return _about_disagreement(read, both, time_s[both] - calendar, joins)


def _about_disagreement(
    read: RawRead, rows: np.ndarray, difference_s: np.ndarray, joins: np.ndarray
) -> RawRead:
    """Say how far the two clocks of a file differ, and where the elapsed one stood still."""
    worst = int(np.argmax(np.abs(difference_s)))
    if abs(difference_s[worst]) > _DISAGREEMENT_S:
        read = read.note(
            "two clocks disagree",
            "caution",
            f"elapsed time and calendar differ by up to {abs(difference_s[worst]):.6g} s",
            action="elapsed time taken for differences",
            line=int(read.lines[rows[worst]]),
            value=float(abs(difference_s[worst])),
            limit=_DISAGREEMENT_S,
            unit="s",
        )
    if np.any(joins):
        read = read.note(
            "elapsed time paused",
            "note",
            f"the elapsed time stands still or restarts while the calendar runs on, "
            f"{plural(int(joins.sum()), 'time')} in all",
            action="joined by the calendar",
            line=int(read.lines[rows[int(np.argmax(joins)) + 1]]),
            value=float(joins.sum()),
            unit="1",
        )
    return read
