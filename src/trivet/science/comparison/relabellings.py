"""Sums of values over all relabellings of cells within batches, or over a seeded sample of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.survival.drawn_sums import draws_of
from trivet.science.survival.permutation_forms import smallest_p
from trivet.science.survival.permutation_sums import (
    combined,
    merged,
    split_sums,
    strata_of,
)

_FORM = np.array([[1.0, 0.0], [0.0, 0.0]])
"""The square of the group's own sum, which orders relabellings as its size does."""


@dataclass(frozen=True)
class Permuted:
    """Sums over the relabelled group of values less the mean of their batch.

    Attributes
    ----------
    value_sum : numpy.ndarray
        Distinct sums of the values of relabelled groups [unit of the values], (n_sums,).
    weight : numpy.ndarray
        Share of relabellings that give each, (n_sums,) [1].
    observed_sum : float
        Sum of the values under the labels at hand [unit of the values].
    scale : float
        Sum of the sizes of all values less their batch means, for tolerances.
    smallest_p : float
        Share of the relabellings that give the largest size, never a sample's [1].
    complete : bool
        Whether these are all relabellings; else a sample with the labels at hand added.
    """

    value_sum: np.ndarray
    weight: np.ndarray
    observed_sum: float
    scale: float
    smallest_p: float
    complete: bool

    def share_as_large(self, size: float, slack: float) -> float:
        """Share of relabellings whose sum is at least as large, in either direction [1]."""
        return float(np.sum(self.weight[np.abs(self.value_sum) >= size - slack]))


def permuted_sums(
    values: np.ndarray,
    *,
    in_group: np.ndarray,
    stratum: np.ndarray,
    enumeration_limit: int,
    draws: int,
    seed: int,
) -> Permuted:
    """Sum values over every relabelling, or over a seeded sample of them.

    Parameters
    ----------
    values : numpy.ndarray
        Finite number of each cell, (n_cells,).
    in_group, stratum : numpy.ndarray
        Label and batch of each cell, (n_cells,).
    enumeration_limit : int
        Most distinct sums to hold at once; beyond it relabellings are drawn [1].
    draws : int
        Relabellings drawn otherwise [1].
    seed : int
        Seed of the draws [1].
    """
    _, number = np.unique(stratum, return_inverse=True)
    mean = np.bincount(number, weights=values) / np.bincount(number)
    score = values - mean[number]
    observed_sum, scale = float(score[in_group].sum()), float(np.abs(score).sum())
    strata = strata_of(score, group=np.where(in_group, 0, 1), stratum=number, groups=2)
    if not strata:
        return Permuted(np.zeros(1), np.ones(1), observed_sum, scale, 1.0, complete=True)
    smallest = smallest_p(strata, _FORM)
    pair = split_sums(strata, limit=enumeration_limit)
    if pair is not None and len(pair[0].weights) * len(pair[1].weights) <= enumeration_limit:
        every = merged(combined(*pair))
        weight = every.weights / every.weights.sum()
        return Permuted(every.sums[:, 0], weight, observed_sum, scale, smallest, complete=True)
    generator = np.random.default_rng(seed)
    drawn = sum((draw(generator, draws)[:, 0] for draw in draws_of(strata)), np.zeros(draws))
    value_sum = np.append(observed_sum, drawn)
    weight = np.full(value_sum.size, 1.0 / value_sum.size)
    return Permuted(value_sum, weight, observed_sum, scale, smallest, complete=False)
