"""Numbers of one cell that are compared between groups."""

from __future__ import annotations

import numpy as np


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
    """Slope of a straight line through all values, per 100 h.

    Parameters
    ----------
    values : numpy.ndarray
        Missing values are NaN and passed over, (n_values,).
    time_h : numpy.ndarray
        Time of each [h], (n_values,).

    Returns
    -------
    float
        Slope by least squares [unit of the values per 100 h]; NaN where fewer than two times.
    """
    known = np.isfinite(values) & np.isfinite(time_h)
    if np.unique(time_h[known]).size < 2:
        return float("nan")
    # Centred sums: slope = sum (t - mean t)(y - mean y) / sum (t - mean t)^2.
    away = time_h[known] - time_h[known].mean()
    return float(100.0 * np.sum(away * values[known]) / np.sum(away**2))
