"""Single rows whose clock is far ahead of the rows on both sides."""

from __future__ import annotations

import numpy as np

_FAR = 10.0
"""So many times the step from the row before to the row behind; common practice, no source."""


def lone_ahead(time_s: np.ndarray, *, first_too: bool = False) -> np.ndarray | None:
    """Rows whose time is far ahead, where the two rows behind go on from the row before.

    Parameters
    ----------
    time_s : numpy.ndarray, shape (n_rows,)
        Times in the order of the file [s]; NaN where unknown.
    first_too : bool
        Whether the first row counts too, which has no row before it.

    Returns
    -------
    numpy.ndarray of bool, shape (n_rows,), or None
        The rows; None where there is none.
    """
    if len(time_s) < 3 or np.all(time_s[1:] >= time_s[:-1]):
        return None
    known = np.flatnonzero(np.isfinite(time_s))
    times = time_s[known]
    drops = np.flatnonzero(times[1:] < times[:-1])
    drops = drops[drops + 2 < len(times)]
    drops = drops if first_too else drops[drops > 0]
    here, behind, second = times[drops], times[drops + 1], times[drops + 2]
    before = np.where(drops > 0, times[drops - 1], behind)
    goes_on = (before <= behind) & (behind <= second) & (second < here)
    far = here - before > _FAR * (second - before)
    lone = known[drops[goes_on & far]]
    if not len(lone):
        return None
    mask = np.zeros(len(time_s), dtype=bool)
    mask[lone] = True
    return mask
