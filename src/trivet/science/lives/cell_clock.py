"""The clock of a cell: where its hours lie on the calendar and whether its rows reach the cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class CellClock:
    """How the hours of a cell lie on the calendar and where its rows begin and end.

    Attributes
    ----------
    zero_s : float or None
        Unix time at which the hours start [s]; None where the rows have no calendar time.
    first_h, last_h : float or None
        First and last row, hours since the clock start [h]; None where there is no row.
    running : bool or None
        Whether the last row lies near the data cut; None where that can't be told.
    """

    zero_s: float | None
    first_h: float | None
    last_h: float | None
    running: bool | None

    def hours(self, time_s: float, /) -> float | None:
        """Hours since the clock start [h] of a Unix time [s]; None where it can't be placed."""
        return None if self.zero_s is None else (time_s - self.zero_s) / 3600.0


def cell_clock(
    *,
    first_time_s: np.ndarray,
    last_time_s: np.ndarray,
    absolute: bool,
    clock_start_s: float | None,
    cut_s: float | None,
    running_within_h: float,
) -> CellClock:
    """Find the clock of a cell from its cycling files.

    Parameters
    ----------
    first_time_s, last_time_s : numpy.ndarray
        First and last row used of each file [s], (n_files,).
    absolute : bool
        Whether all of these are Unix times.
    clock_start_s : float or None
        Unix time at which the hours should start [s].
    cut_s : float or None
        Data cut as Unix time [s].
    running_within_h : float
        A last row within this of the cut belongs to a running cell [h].

    Notes
    -----
    Hours count from the first row where the clock start is not known, or where the rows have no
    calendar time; such rows can't be held against the cut either.
    """
    if not first_time_s.size:
        return CellClock(clock_start_s, None, None, None)
    first_s, last_s = float(first_time_s.min()), float(last_time_s.max())
    if not absolute:
        return CellClock(None, 0.0, (last_s - first_s) / 3600.0, None)
    zero_s = first_s if clock_start_s is None else clock_start_s
    running = None if cut_s is None else last_s >= cut_s - running_within_h * 3600.0
    return CellClock(zero_s, (first_s - zero_s) / 3600.0, (last_s - zero_s) / 3600.0, running)


def latest_time_s(last_time_s: np.ndarray, *, absolute: np.ndarray) -> float | None:
    """Last time in the data as Unix time [s], which is the data cut by default.

    Parameters
    ----------
    last_time_s : numpy.ndarray
        Last row used of each file; NaN where there is none [s], (n_files,).
    absolute : numpy.ndarray
        Whether it is a Unix time, (n_files,).
    """
    times = last_time_s[absolute & np.isfinite(last_time_s)]
    return float(times.max()) if times.size else None
