"""Whether groups were built alike in what was measured of them, or differ altogether."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

NAN = float("nan")


@dataclass(frozen=True)
class Spread:
    """What a group has of a number.

    Attributes
    ----------
    cells : int
        Cells with the number [1].
    median, lowest, highest : float
        Of these [unit of the number]; NaN where no cell has it.
    """

    cells: int
    median: float
    lowest: float
    highest: float


def spread_of(values: np.ndarray, /) -> Spread:
    """Number of cells, median and range of a group.

    Parameters
    ----------
    values : numpy.ndarray
        Number of each cell, NaN where not known, shape (n_cells,) [any unit].
    """
    known = values[np.isfinite(values)]
    if not known.size:
        return Spread(0, NAN, NAN, NAN)
    return Spread(len(known), float(np.median(known)), float(known.min()), float(known.max()))


def aliased(group: Spread, control: Spread) -> bool:
    """Whether a group can't be told from a number: no value of one lies in the range of the other.

    Numbers that are the same within each group and differ between them are a case of this; the
    same number everywhere is none.

    Parameters
    ----------
    group, control : Spread
        Of both groups.
    """
    if not group.cells or not control.cells:
        return False
    return group.lowest > control.highest or group.highest < control.lowest


def chance_apart(group: Spread, control: Spread) -> float:
    """Probability that ranges of groups of this size lie apart by chance [1].

    Of all ways to choose the cells of the group among both, two leave it wholly above or below.

    Parameters
    ----------
    group, control : Spread
        Of both groups; NaN where one has no cell.

    References
    ----------
    Smallest two-sided p of the rank-sum test: Hollander and Wolfe, Nonparametric Statistical
    Methods, section 4.1 (from memory).
    """
    if not group.cells or not control.cells:
        return NAN
    ways = math.comb(group.cells + control.cells, group.cells)
    return min(1.0, 2.0 / ways)
