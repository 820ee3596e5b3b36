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


@dataclass(frozen=True)
class _List:
    """All sums of some strata together, drawn as often as permutations give each."""

    held: Sums

    def __call__(self, generator: np.random.Generator, number: int) -> np.ndarray:
        """Draw sums."""
        cumulative = np.cumsum(self.held.weights / self.held.weights.sum())
        picked = np.searchsorted(cumulative, generator.random(number), side="right")
        sums: np.ndarray = self.held.sums[np.minimum(picked, len(cumulative) - 1)]
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
    return (*labels, *(_List(held) for held in lists))
