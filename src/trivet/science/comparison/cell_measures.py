"""Numbers of one cell that are compared between groups."""

from __future__ import annotations

import numpy as np

from trivet.science.cycling.robust_slope import robust_slope

MOST_POINTS = 300
"""Most points of a slope of all pairs."""


def first_value(values: np.ndarray, /) -> float:
    """Give the first value [unit of the values]; NaN where there is none.

    Parameters
    ----------
    values : numpy.ndarray
        In order of time, (n_values,).
    """
    return float(values[0]) if values.size else float("nan")


def mean_of_first(values: np.ndarray, *, number: int) -> float:
    """Mean of the first values, all of which must be there.

    Parameters
    ----------
    values : numpy.ndarray
        In order of time; missing values are NaN and passed over, (n_values,).
    number : int
        Values that the mean is made of [1].

    Returns
    -------
    float
        Mean [unit of the values]; NaN where fewer are there, since a mean over fewer cycles is
        another quantity.
    """
    known = values[np.isfinite(values)]
    return float(known[:number].mean()) if known.size >= number else float("nan")


def rise_per_100_h(values: np.ndarray, *, time_h: np.ndarray) -> float:
    """Middle of the slopes of all pairs of values, per 100 h: one odd value does not move it.

    Parameters
    ----------
    values : numpy.ndarray
        Missing values are NaN and passed over, (n_values,).
    time_h : numpy.ndarray
        Time of each [h], (n_values,).

    Returns
    -------
    float
        Slope [unit of the values per 100 h]; NaN where fewer than two times.

    References
    ----------
    H. Theil, Indag. Math. 12 (1950) 85; P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379.
    """
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(time_h))
    if np.unique(time_h[known]).size < 2:
        return float("nan")
    if known.size > MOST_POINTS:
        # evenly over life: pairs grow with the square of the points, their middle hardly moves
        known = known[np.unique(np.linspace(0, known.size - 1, MOST_POINTS).astype(int))]
    return 100.0 * robust_slope(time_h[known], values[known])


def up_to_end(time_h: np.ndarray, *, end_h: float) -> np.ndarray:
    """Which times lie in the life of a cell, shape (n_times,); those that are missing do.

    Parameters
    ----------
    time_h : numpy.ndarray
        Times [h].
    end_h : float
        End of the cell [h]; infinite where it was not seen. What a dead cell does is no measure.
    """
    inside: np.ndarray = ~(time_h > end_h * (1.0 + 1e-12))
    return inside
