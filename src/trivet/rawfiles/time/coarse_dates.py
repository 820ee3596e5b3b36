"""Elapsed time placed by dates that are coarser than it, such as dates to the minute or the day."""

from __future__ import annotations

from itertools import pairwise

import numpy as np


def by_coarse_dates(
    calendar_s: np.ndarray, elapsed_s: np.ndarray, *, joins: np.ndarray, step_s: float
) -> np.ndarray:
    """Unix times of rows whose elapsed time is finer than their dates.

    A date that is cut to its step says that a row lies within one step behind it. Of all starts
    that every row of a stretch allows, the earliest is taken.

    Parameters
    ----------
    calendar_s, elapsed_s : numpy.ndarray, shape (n_rows,)
        Dates as Unix times, and elapsed times [s].
    joins : numpy.ndarray of bool, shape (n_rows - 1,)
        Steps at which the elapsed time is joined to the dates anew.
    step_s : float
        Smallest difference that the dates show [s].

    Returns
    -------
    numpy.ndarray, shape (n_rows,)
        Unix times [s]. A stretch that seems to begin before the one before it ends, by less than a
        step, follows on. Where no start fits all dates of a stretch, its first date is taken.
    """
    placed = np.empty(len(elapsed_s))
    edges = [0, *(np.flatnonzero(joins) + 1).tolist(), len(elapsed_s)]
    reached_s = -np.inf
    for first, stop in pairwise(edges):
        offsets_s = calendar_s[first:stop] - elapsed_s[first:stop]
        earliest_s = float(np.max(offsets_s))
        fits = earliest_s < float(np.min(offsets_s)) + step_s
        part = elapsed_s[first:stop] + (earliest_s if fits else float(offsets_s[0]))
        if 0 < reached_s - part[0] < step_s:
            part += reached_s - part[0]
        placed[first:stop] = part
        reached_s = float(part[-1])
    return placed
