"""What ends the cells of a group, and what took their capacity: middle values over its cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.electrodes.attribution import TERMS
from trivet.science.electrodes.end_points import EndedBy

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LastCheckUp:
    """What the last check-up of one cell that could be registered says.

    Attributes
    ----------
    lost_mAh : float
        Capacity lost since its first one [mAh].
    terms_mAh : dict of str to float
        Loss by each of `TERMS` alone [mAh]; NaN where not estimable.
    """

    lost_mAh: float
    terms_mAh: dict[str, float]


@dataclass(frozen=True)
class LossOverTime:
    """Capacity lost at the check-ups of one cell, in order of time; shape (n_check_ups,) each.

    Attributes
    ----------
    time_h : ndarray
        When, hours since the cell's clock start [h].
    lost_mAh : ndarray
        Capacity lost since its first check-up [mAh].
    """

    time_h: Floats
    lost_mAh: Floats


@dataclass(frozen=True)
class GroupFading:
    """What took the capacity of a group.

    Attributes
    ----------
    cells : int
        Cells with a check-up that could be registered.
    lost_mAh : float
        Middle loss at the last one [mAh]; NaN without cells.
    shares : dict of str to float
        Middle share of each of `TERMS` in the loss [1]; NaN where no cell tells.
    told_by : dict of str to int
        Cells that tell each share.
    """

    cells: int
    lost_mAh: float
    shares: dict[str, float]
    told_by: dict[str, int]


def group_fading(last: Sequence[LastCheckUp]) -> GroupFading:
    """Put the last check-ups of the cells of a group together.

    A share is asked only of cells that have lost something: of nothing there is no share.
    """
    losing = [one for one in last if one.lost_mAh > 0.0]
    shares = {
        term: np.array([one.terms_mAh[term] / one.lost_mAh for one in losing], dtype=float)
        for term in TERMS
    }
    told = {term: values[np.isfinite(values)] for term, values in shares.items()}
    return GroupFading(
        cells=len(last),
        lost_mAh=middle(np.array([one.lost_mAh for one in last], dtype=float)),
        shares={term: middle(values) for term, values in told.items()},
        told_by={term: int(values.size) for term, values in told.items()},
    )


def like_time_h(groups: Sequence[Sequence[LossOverTime]]) -> float:
    """Latest time that half of the cells of every group were followed to.

    Parameters
    ----------
    groups : sequence of sequence of LossOverTime
        Cells by group; groups without any do not count.

    Returns
    -------
    float
        Time at which groups can be compared [h]; NaN without cells.

    Notes
    -----
    Of the last times of a group the lower middle one, so that at least half of its cells reach it;
    over the groups the earliest. Common practice, no source.
    """
    lasts = [np.sort([cell.time_h[-1] for cell in cells]) for cells in groups if cells]
    return float(min((own[(own.size - 1) // 2] for own in lasts), default=np.nan))


def losses_at(time_h: float, cells: Sequence[LossOverTime]) -> Floats:
    """Capacity that cells had lost by a time, linear between their check-ups.

    Parameters
    ----------
    time_h : float
        The time [h].
    cells : sequence of LossOverTime
        Cells of a group.

    Returns
    -------
    ndarray, shape (n_followed,)
        Loss of each cell with check-ups on both sides of the time, or at it [mAh].
    """
    followed = [cell for cell in cells if cell.time_h[0] <= time_h <= cell.time_h[-1]]
    return np.array([np.interp(time_h, cell.time_h, cell.lost_mAh) for cell in followed])


def middle(values: Floats) -> float:
    """Median; NaN without values."""
    return float(np.median(values)) if values.size else float("nan")


def ended_share(ended_by: Sequence[str], electrode: EndedBy) -> float:
    """Share of half-cycles that an electrode ends, of those of which it is known [1]."""
    known = [who for who in ended_by if who]
    return sum(who == electrode for who in known) / len(known) if known else float("nan")
