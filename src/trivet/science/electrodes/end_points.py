"""Where a half-cycle ends, and which electrode ends it.

A half-cycle ends at a limit of the cell voltage. The electrode whose potential is steep there
brings it about; the other would have gone on. Slopes are taken at constant current, over the last
hundredths of the charge.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

END_SHARE = 0.02
"""Share of the charge over which the slope at the end is taken; common practice, no source."""
STEADY = 0.05
"""A current within this share of the median is constant; common practice, no source."""
DECIDES = 0.6
"""Share of the slopes from which on one electrode is said to end the half-cycle; common practice,
no source."""


class EndedBy(StrEnum):
    """Electrode that ends a half-cycle."""

    POSITIVE = "positive"
    NEGATIVE = "negative"
    BOTH = "both"
    UNKNOWN = ""


@dataclass(frozen=True)
class EndPoint:
    """End of one half-cycle.

    Attributes
    ----------
    positive_V, negative_V : float
        Potentials at the last row with current [V].
    positive_slope_V_mAh, negative_slope_V_mAh : float
        Size of the slopes there [V/mAh]; NaN where rows are too few.
    ended_by : EndedBy
        Which of the two is the steeper.
    """

    positive_V: float
    negative_V: float
    positive_slope_V_mAh: float
    negative_slope_V_mAh: float
    ended_by: EndedBy


def end_point(
    passed_mAh: Floats, positive_V: Floats, negative_V: Floats, current_mA: Floats
) -> EndPoint:
    """Look at the end of a half-cycle.

    Parameters
    ----------
    passed_mAh : ndarray, shape (n,)
        Charge passed since its beginning, rising [mAh].
    positive_V, negative_V : ndarray, shape (n,)
        Potentials against the reference [V].
    current_mA : ndarray, shape (n,)
        Current of the half-cycle, without the rows around it [mA].
    """
    if not passed_mAh.size:
        nan = float("nan")
        return EndPoint(nan, nan, nan, nan, EndedBy.UNKNOWN)
    typical = float(np.median(np.abs(current_mA)))
    steady = np.abs(np.abs(current_mA) - typical) <= STEADY * typical
    slopes = [
        _slope(passed_mAh[steady], potential[steady]) for potential in (positive_V, negative_V)
    ]
    return EndPoint(
        float(positive_V[-1]), float(negative_V[-1]), slopes[0], slopes[1], _ended_by(*slopes)
    )


def _slope(passed_mAh: Floats, potential_V: Floats) -> float:
    """Size of the slope over the last share of the charge: a straight line by least squares."""
    known = np.isfinite(potential_V) & np.isfinite(passed_mAh)
    charge, potential = passed_mAh[known], potential_V[known]
    if charge.size < 3:
        return float("nan")
    last = charge >= charge[-1] - END_SHARE * (charge[-1] - charge[0])
    if np.count_nonzero(last) < 3:
        last = np.arange(charge.size) >= charge.size - 3
    x, y = charge[last] - charge[last].mean(), potential[last]
    spread = float(x @ x)
    return abs(float(x @ y)) / spread if spread > 0.0 else float("nan")


def _ended_by(positive: float, negative: float) -> EndedBy:
    """The electrode with the larger share of both slopes, where one has it clearly."""
    together = positive + negative
    if not np.isfinite(together) or together <= 0.0:
        return EndedBy.UNKNOWN
    share = positive / together
    if share >= DECIDES:
        return EndedBy.POSITIVE
    return EndedBy.NEGATIVE if share <= 1.0 - DECIDES else EndedBy.BOTH
