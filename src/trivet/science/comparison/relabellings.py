"""All relabellings of cells within batches, or a seeded sample of them, as sums of values."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import chain, combinations

import numpy as np


@dataclass(frozen=True)
class Permuted:
    """Sums over the relabelled group of values less the mean of their batch.

    Attributes
    ----------
    value_sum : numpy.ndarray
        Sum of the values of each relabelled group [unit of the values], (n_permutations,).
    observed_sum : float
        Sum of the values under the labels at hand [unit of the values].
    scale : float
        Sum of the sizes of all values less their batch means, for tolerances.
    complete : bool
        Whether these are all relabellings; else a sample with the labels at hand added.
    """

    value_sum: np.ndarray
    observed_sum: float
    scale: float
    complete: bool


def number_of_permutations(*, in_group: np.ndarray, stratum: np.ndarray) -> int:
    """Count the relabellings within batches.

    Parameters
    ----------
    in_group : numpy.ndarray
        True for the group, (n_cells,).
    stratum : numpy.ndarray
        Batch of each cell, (n_cells,).
    """
    return math.prod(
        math.comb(int((stratum == name).sum()), int(in_group[stratum == name].sum()))
        for name in dict.fromkeys(stratum)
    )


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
        All relabellings are taken up to this number [1].
    draws : int
        Relabellings drawn otherwise [1].
    seed : int
        Seed of the draws [1].
    """
    complete = number_of_permutations(in_group=in_group, stratum=stratum) <= enumeration_limit
    random = np.random.default_rng(seed)
    value_sum = np.zeros(1 if complete else draws + 1)
    observed_sum = scale = 0.0
    for name in dict.fromkeys(stratum):
        own = stratum == name
        labels = in_group[own]
        size = int(labels.sum())
        score = values[own] - values[own].mean()
        observed_sum += float(score[labels].sum())
        scale += float(np.abs(score).sum())
        if complete:
            chosen = _every_choice(labels.size, size)
            value_sum = np.add.outer(value_sum, score[chosen].sum(axis=1)).ravel()
        else:
            chosen = np.vstack(
                [np.flatnonzero(labels), _drawn_choices(random, labels.size, size, draws)]
            )
            value_sum = value_sum + score[chosen].sum(axis=1)
    return Permuted(value_sum, observed_sum, scale, complete)


def _every_choice(number: int, size: int) -> np.ndarray:
    """All choices of cells of a batch, as indices, (n_choices, size)."""
    count = math.comb(number, size)
    flat = chain.from_iterable(combinations(range(number), size))
    return np.fromiter(flat, dtype=np.intp, count=count * size).reshape(count, size)


def _drawn_choices(random: np.random.Generator, number: int, size: int, draws: int) -> np.ndarray:
    """Choices of cells of a batch drawn evenly, as indices, (draws, size)."""
    return np.argsort(random.random((draws, number)), axis=1)[:, :size]
