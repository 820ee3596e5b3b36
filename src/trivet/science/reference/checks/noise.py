"""Noise at rest: scatter of a potential that should be quiet."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trivet.reference_checks import ReferenceCheck
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.half_cycles import Rests, rests
from trivet.science.cycling.integrals import Floats
from trivet.science.reference.checks.watched import PlatedSpan, Readings, Watch, Watched
from trivet.science.reference.trust import Check, assess

NOISE_WINDOW_S, LONGEST_NOISE_WINDOW_S, NOISE_ROWS = 60.0, 600.0, 8
"""Noise is judged over the last rows of a rest, at least so long, at most so long, at least so
many; common practice, no source."""


def watch(cell: Watched) -> Watch:
    """Measure the noise of every rest; doubt lasts until a quiet rest."""
    record = cell.record
    found = rests(record.time_s, record.current_mA, zero_current_mA=cell.zero_current_mA)
    noise = rest_noise_mV(record.time_s, record.positive_V, found)
    limits = cell.limits.of(ReferenceCheck.NOISE)

    def checks(span: PlatedSpan) -> Iterator[Check]:
        mine = span.part(noise)
        quiet = mine.time_h[mine.value <= limits[0]]
        for time_h, value in zip(mine.time_h, mine.value, strict=True):
            later = quiet[quiet > time_h]
            yield assess(
                ReferenceCheck.NOISE,
                float(time_h),
                float(value),
                limits=limits,
                doubt_to_h=float(later[0]) if later.size else span.stop_h,
            )

    return checks


def rest_noise_mV(time_s: Floats, potential_V: Floats, rests: Rests) -> Readings:
    """Scatter of a potential at the end of rests, about a straight line (check R5).

    Parameters
    ----------
    time_s, potential_V : ndarray, shape (n,)
        Record [s, V].
    rests : Rests
        Rests of the record.

    Returns
    -------
    Readings
        Standard deviation of the residuals [mV], two degrees of freedom less, at the last row of
        each rest that has rows enough; the line takes out relaxation.
    """
    hours, values = [], []
    for first, last in zip(rests.first_row, rests.last_row, strict=True):
        begin = int(np.searchsorted(time_s, time_s[last] - NOISE_WINDOW_S, side="right")) - 1
        begin = max(int(first), min(begin, int(last) - NOISE_ROWS + 1))
        part = slice(begin, int(last) + 1)
        seconds, volts = time_s[part] - time_s[last], potential_V[part]
        known = np.isfinite(volts)
        span_s = float(np.ptp(seconds[known])) if known.any() else 0.0
        enough = int(known.sum()) >= NOISE_ROWS
        if not enough or not NOISE_WINDOW_S <= span_s <= LONGEST_NOISE_WINDOW_S:
            continue
        line = np.column_stack([np.ones(int(known.sum())), seconds[known]])
        fitted = line @ np.linalg.lstsq(line, volts[known], rcond=None)[0]
        spread = np.sqrt(np.sum((volts[known] - fitted) ** 2) / (known.sum() - 2))
        hours.append(float(time_s[last] / SECONDS_PER_HOUR))
        values.append(float(spread) * 1000.0)
    return Readings(np.array(hours), np.array(values))
