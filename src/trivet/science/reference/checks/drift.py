"""Drift of a reference: a robust slope through its offsets, with an exact interval."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trivet.science.constants import HOURS_PER_DAY
from trivet.science.cycling.integrals import Floats
from trivet.science.cycling.robust_slope import pair_slopes, robust_slope
from trivet.science.reference.checks.watched import Readings

DRIFT_VALUES, LONGEST_DRIFT_VALUES = 3, 100
"""Offsets that a drift needs, over a day at least, and the most that enter it (the latest)."""

DRIFT_CONFIDENCE = 0.95
"""Confidence of the interval of a drift."""


@dataclass(frozen=True)
class Drifts:
    """Drift at each offset that has enough before it, shape (k,) each.

    Attributes
    ----------
    time_h : ndarray
        When [h].
    value, lower, upper : ndarray
        Drift and the limits of its interval [mV/d]; NaN limits where there are too few offsets
        for the confidence.
    """

    time_h: Floats
    value: Floats
    lower: Floats
    upper: Floats


@lru_cache(maxsize=128)
def _left_out(points: int, confidence: float) -> int:
    """How many slopes at each end lie beyond the interval, less one; -1 where none can.

    The number of slopes below the true one is that of the inversions of a random order.
    """
    chance = np.ones(1)
    for size in range(2, points + 1):
        chance = np.convolve(chance, np.full(size, 1.0 / size))
    # A hair keeps rounding from taking one slope too many or too few.
    return int(np.count_nonzero(np.cumsum(chance) <= (1.0 - confidence) / 2.0 + 1e-12)) - 1


def slope_interval(
    horizontal: Floats, vertical: Floats, *, confidence: float
) -> tuple[float, float]:
    """Distribution-free interval of a slope, exact for points at different places.

    Parameters
    ----------
    horizontal, vertical : ndarray, shape (n,)
        Points.
    confidence : float
        Least chance that it covers the slope, where the errors of all points are alike [1].

    Returns
    -------
    lower, upper : float
        In the quotient of the two units; NaN where so few points allow no such interval (four
        or fewer at 0.95), or where places coincide.

    References
    ----------
    Sen (1968), J. Am. Stat. Assoc. 63, 1379: inversion of Kendall's test.
    """
    out = _left_out(horizontal.size, confidence) if horizontal.size > 1 else -1
    if out < 0 or np.unique(horizontal).size < horizontal.size:
        return float("nan"), float("nan")
    slopes = pair_slopes(horizontal, vertical)
    return float(slopes[out]), float(slopes[-1 - out])


def drift_mV_per_day(offsets: Readings) -> Drifts:
    """Robust drift of the offset, at each offset from the third on (check R2).

    Parameters
    ----------
    offsets : Readings
        Offsets since the plating, before any loss [mV].

    Returns
    -------
    Drifts
        Over all offsets so far, at most the last `LONGEST_DRIFT_VALUES`; none while they span
        less than a day.
    """
    found = []
    for stop in range(DRIFT_VALUES, offsets.time_h.size + 1):
        part = slice(max(0, stop - LONGEST_DRIFT_VALUES), stop)
        days, values = offsets.time_h[part] / HOURS_PER_DAY, offsets.value[part]
        if days[-1] - days[0] >= 1.0:
            limits = slope_interval(days, values, confidence=DRIFT_CONFIDENCE)
            found.append((offsets.time_h[stop - 1], robust_slope(days, values), *limits))
    columns = np.array(found, dtype=np.float64).reshape(-1, 4).T
    return Drifts(*columns)
