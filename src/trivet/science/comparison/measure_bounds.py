"""What withheld cells could do to a difference, and how much the cells of a group differ."""

from __future__ import annotations

import numpy as np

from trivet.science.comparison.measure_tests import hodges_lehmann
from trivet.science.lives.shared_strata import in_shared_strata


def spread_within(values: np.ndarray, /) -> float:
    """Give the standard deviation of a group, divisor n - 1 [unit of the values].

    Batches are pooled as they are, so that what sets batches apart is part of it; NaN where fewer
    than two cells have a value.

    Parameters
    ----------
    values : numpy.ndarray
        The number of each cell; NaN where missing, (n_cells,).
    """
    known = values[np.isfinite(values)]
    return float(np.std(known, ddof=1)) if known.size > 1 else float("nan")


def withheld_bounds(
    values: np.ndarray, *, withheld: np.ndarray, in_group: np.ndarray, stratum: np.ndarray
) -> tuple[float, float]:
    """How far a difference could move if the withheld cells were as extreme as any cell seen.

    Parameters
    ----------
    values : numpy.ndarray
        The number of each cell; NaN where missing, (n_cells,).
    withheld : numpy.ndarray
        True where it is missing because its reference was not trusted, (n_cells,).
    in_group : numpy.ndarray
        True for the group, False for the control, (n_cells,).
    stratum : numpy.ndarray
        Batch of each cell, (n_cells,).

    Returns
    -------
    lower, upper : float
        Hodges-Lehmann differences with the withheld cells of the group at the lowest value of all
        and those of the control at the highest, and the other way round [unit of the values].
        Both are the difference itself where nothing is withheld; NaN where no value is known or
        no batch is shared. Cells missing for another reason stay missing.
    """
    known = np.isfinite(values)
    if not known.any():
        return float("nan"), float("nan")
    lowest, highest = float(values[known].min()), float(values[known].max())
    found = []
    for of_group, of_control in ((lowest, highest), (highest, lowest)):
        filled = np.where(withheld & ~known, np.where(in_group, of_group, of_control), values)
        both = np.isfinite(filled)
        both[both] = in_shared_strata(in_group[both], stratum=stratum[both])
        if not both.any():
            return float("nan"), float("nan")
        found.append(hodges_lehmann(filled[both], in_group=in_group[both], stratum=stratum[both]))
    return found[0], found[1]
