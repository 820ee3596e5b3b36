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
        lost_mAh=_middle(np.array([one.lost_mAh for one in last], dtype=float)),
        shares={term: _middle(values) for term, values in told.items()},
        told_by={term: int(values.size) for term, values in told.items()},
    )


def ended_share(ended_by: Sequence[str], electrode: EndedBy) -> float:
    """Share of half-cycles that an electrode ends, of those of which it is known [1]."""
    known = [who for who in ended_by if who]
    return sum(who == electrode for who in known) / len(known) if known else float("nan")


def _middle(values: Floats) -> float:
    """Median; NaN without values."""
    return float(np.median(values)) if values.size else float("nan")
