"""The instrument's own counters of charge, held against the integral of the current."""

from __future__ import annotations

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead

_SHARE = 0.01
"""Counter and integral may differ by this share; common practice, no source."""
_SIGNS = {"charge counter": 1.0, "discharge counter": -1.0}


def about_counters(read: RawRead) -> RawRead:
    """Say when a counter resets, and how far it is from the integral of the current.

    Parameters
    ----------
    read : RawRead
        A file with current [mA], charge positive, times [s] and counters [mA.h].

    Returns
    -------
    RawRead
        With what was found; the counters change no result.
    """
    for quantity, sign in _SIGNS.items():
        counter = read.values.get(quantity)
        if counter is None or len(read.lines) < 2 or "current" not in read.values:
            continue
        counted = counted_mAh(counter)
        integral = integral_mAh(read.time_s, sign * read.values["current"])
        kind = reset_kind(counter, current_mA=read.values["current"])
        read = read.assume(
            f"{quantity} {kind}: {counted:.6g} mAh by the counter, {integral:.6g} mAh by the "
            "integral of the rows"
        )
        gap = abs(counted - integral)
        if gap > _SHARE * max(counted, integral):
            read = read.note(
                "counter and integral",
                "caution",
                f"{quantity} gives {counted:.6g} mAh, the integral of the current over the rows "
                f"{integral:.6g} mAh; rows may be missing where the current switches",
                action="integral used, the difference bounds its error",
                line=int(read.lines[0]),
                value=gap,
                limit=_SHARE * max(counted, integral),
                unit="mA.h",
            )
    return read


def counted_mAh(counter: np.ndarray) -> float:
    """Charge that a counter counted, whatever its resets [mA.h]."""
    known = np.abs(counter[np.isfinite(counter)])
    if not len(known):
        return 0.0
    steps = np.diff(known)
    after_reset = np.where(steps < 0, known[1:], 0.0)
    return float(np.sum(np.where(steps > 0, steps, after_reset)))


def integral_mAh(time_s: np.ndarray, current_mA: np.ndarray) -> float:
    """Positive part of the piecewise linear current, integrated [mA.h]."""
    known = np.isfinite(current_mA)
    time_s, current_mA = time_s[known], current_mA[known]
    if len(time_s) < 2:
        return 0.0
    first, second = current_mA[:-1], current_mA[1:]
    width = np.diff(time_s)
    high, low = np.maximum(first, second), np.minimum(first, second)
    crossing = (high > 0) & (low < 0)
    span = np.where(crossing, high - low, 1.0)
    area = np.where(crossing, high * high / (2 * span), (first + second) / 2)
    return float(np.sum(width * np.maximum(area, 0.0)) / 3600.0)


def reset_kind(counter: np.ndarray, *, current_mA: np.ndarray) -> str:
    """When a counter falls back, in words."""
    known = np.isfinite(counter)
    counter, sign = np.abs(counter[known]), np.sign(current_mA[known])
    falls = np.flatnonzero(np.diff(counter) < 0) + 1
    if not len(falls):
        return "never resets"
    changes = np.flatnonzero(np.diff(sign) != 0) + 1
    if not set(falls.tolist()) <= set(changes.tolist()):
        return "resets by a programme of its own"
    starts = [row for row in changes.tolist() if sign[row] > 0]
    return "resets at each cycle" if set(falls.tolist()) <= set(starts) else "resets at each step"
