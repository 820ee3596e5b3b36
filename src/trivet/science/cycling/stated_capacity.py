"""Cycles known by a capacity that somebody else's table states, without rows to integrate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class StatedCycles:
    """Cycles in the order of the table, shape (m,) each.

    Attributes
    ----------
    cycle : numpy.ndarray of int
        Number of the cycle as the table states it [1].
    capacity_mAh : numpy.ndarray
        Capacity as it states it [mAh].
    retention : numpy.ndarray
        Capacity over the first one [1]; NaN where that is not positive.
    """

    cycle: np.ndarray
    capacity_mAh: np.ndarray
    retention: np.ndarray


def stated_cycles(cycle: np.ndarray, capacity_mAh: np.ndarray) -> StatedCycles:
    """Take the first statement of each cycle, and relate it to the first of all.

    Parameters
    ----------
    cycle : numpy.ndarray, shape (n,)
        Numbers of cycles in the order of the table.
    capacity_mAh : numpy.ndarray, shape (n,)
        Capacities stated beside them [mAh].
    """
    numbers, first = np.unique(cycle.astype(np.int64), return_index=True)
    capacity = capacity_mAh[first]
    basis = float(capacity[0]) if capacity.size and capacity[0] > 0 else np.nan
    return StatedCycles(numbers, capacity, capacity / basis)
