"""Sums of scores under labels drawn at random: from lists of all sums where these are short."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from trivet.science.survival.permutation_sums import (
    Stratum,
    Sums,
    combined,
    distinct_allocations,
    merged,
    stratum_sums,
)

MOST_LISTED = 4096
"""Sums in a list that is drawn from: to find one takes less than to shuffle some labels."""
Draw = Callable[[np.random.Generator, int], np.ndarray]
"""Gives sums of so many permutations, shape (number, n_groups - 1) [1]."""


def picked(cumulative: np.ndarray, generator: np.random.Generator, number: int) -> np.ndarray:
    """Places drawn by their chances.

    Parameters
    ----------
    cumulative : numpy.ndarray
        Cumulative chances, shape (n,); rounding may leave the last a little below 1 [1].
    generator : numpy.random.Generator
        Source of one number a draw.
    number : int
        Draws [1].

    Returns
    -------
    numpy.ndarray
        Shape (number,).
    """
    places = np.searchsorted(cumulative, generator.random(number), side="right")
    inside: np.ndarray = np.minimum(places, len(cumulative) - 1)
    return inside


@dataclass(frozen=True)
class _List:
    """All sums of some strata together, with the cumulative chances of each."""

    sums: np.ndarray
    cumulative: np.ndarray

    def __call__(self, generator: np.random.Generator, number: int) -> np.ndarray:
        """Draw sums."""
        sums: np.ndarray = self.sums[picked(self.cumulative, generator, number)]
        return sums


@dataclass(frozen=True)
class _Labels:
    """A stratum with more sums than can be listed, whose labels are shuffled."""

    stratum: Stratum

    def __call__(self, generator: np.random.Generator, number: int) -> np.ndarray:
        """Shuffle labels and sum."""
        stratum = self.stratum
        scores = np.repeat(stratum.values, stratum.repeats)
        labels = np.repeat(np.arange(len(stratum.sizes), dtype=np.int8), stratum.sizes)
        shuffled = generator.permuted(np.tile(labels, (number, 1)), axis=1)
        width = len(stratum.sizes) - 1
        return np.stack([(shuffled == k) @ scores for k in range(width)], axis=1)


def draws_of(strata: Sequence[Stratum]) -> tuple[Draw, ...]:
    """What to draw from, so that one draw of each adds up to the sums of a permutation.

    Parameters
    ----------
    strata : sequence of Stratum
        Scores and sizes of each.

    Returns
    -------
    tuple of callable
        Each takes a generator and a number of permutations, and gives their sums, shape
        (number, n_groups - 1) [1]; short lists of several strata are one.
    """
    lists: list[Sums] = []
    labels: list[Draw] = []
    for stratum in strata:
        if distinct_allocations(stratum, limit=MOST_LISTED) > MOST_LISTED:
            labels.append(_Labels(stratum))
            continue
        held = stratum_sums(stratum)
        if lists and len(lists[-1].weights) * len(held.weights) <= MOST_LISTED:
            lists[-1] = merged(combined(lists[-1], held))
        else:
            lists.append(held)
    chances = (np.cumsum(held.weights / held.weights.sum()) for held in lists)
    listed = (_List(held.sums, own) for held, own in zip(lists, chances, strict=True))
    return (*labels, *listed)
