"""The middle of the slopes of all pairs: a trend that odd values do not move."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def pair_slopes(horizontal: Floats, vertical: Floats) -> Floats:
    """Slopes between all pairs of points with a distance, in order of size."""
    left, right = np.triu_indices(horizontal.size, k=1)
    run = horizontal[right] - horizontal[left]
    rise = vertical[right] - vertical[left]
    apart = run != 0.0
    return np.sort(rise[apart] / run[apart])


def robust_slope(horizontal: Floats, vertical: Floats) -> float:
    """Median of the slopes between all pairs of points.

    Parameters
    ----------
    horizontal, vertical : ndarray, shape (n,)
        Points.

    Returns
    -------
    float
        Slope, in the quotient of the two units; NaN where no pair has a distance.

    References
    ----------
    Theil (1950), Proc. K. Ned. Akad. Wet. 53; Sen (1968), J. Am. Stat. Assoc. 63, 1379.
    """
    slopes = pair_slopes(horizontal, vertical)
    return float(np.median(slopes)) if slopes.size else float("nan")
