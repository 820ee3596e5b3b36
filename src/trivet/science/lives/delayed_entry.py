"""Cells whose observation starts later than their clock."""

from __future__ import annotations

import numpy as np


def checked_entry(entry: np.ndarray | None, times: np.ndarray) -> np.ndarray:
    """Times from which cells were under observation; before any time where from the start.

    Parameters
    ----------
    entry : numpy.ndarray or None
        Time of entry, 0 where observed from the start, shape (n_cells,) [unit of the durations];
        None: all from the start.
    times : numpy.ndarray
        Durations, shape (n_cells,).

    Raises
    ------
    ValueError
        Shapes differ, an entry is negative, missing, or not before the duration.
    """
    if entry is None:
        return np.full(len(times), -1.0)
    given = np.asarray(entry, dtype=float)
    if given.shape != times.shape:
        raise ValueError(f"entries {given.shape} must be as many as durations {times.shape}")
    if not np.all(given >= 0) or np.any((given > 0) & (given >= times)):
        raise ValueError("an entry is negative, missing, or not before its duration")
    return np.where(given > 0, given, -1.0)
