"""Cells that can be compared within their stratum."""

from __future__ import annotations

import numpy as np


def in_shared_strata(group: np.ndarray, *, stratum: np.ndarray) -> np.ndarray:
    """Whether the stratum of each cell holds cells of another group too, shape (n_cells,).

    Parameters
    ----------
    group : numpy.ndarray
        Number of the group, or whether a cell is of it, shape (n_cells,) [1].
    stratum : numpy.ndarray
        Number or label of the stratum, shape (n_cells,).
    """
    labels, number = np.unique(stratum, return_inverse=True)
    groups, place = np.unique(group, return_inverse=True)
    pairs = np.unique(number * len(groups) + place)
    held = np.bincount(pairs // max(len(groups), 1), minlength=len(labels))
    return held[number] > 1
