"""Quadratic forms of permuted score sums: how many are extreme, and how extreme they can be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import permutations

import numpy as np

from trivet.science.survival.permutation_sums import Stratum, Sums, combined, multinomial

EQUAL = 1e-9
"""Tolerance within which two statistics are tied, relative above 1 and absolute below."""

CHUNK = 20_000


def forms(sums: np.ndarray, inverse: np.ndarray) -> np.ndarray:
    """Quadratic forms of score sums, shape (n_sums,).

    Parameters
    ----------
    sums : numpy.ndarray
        Score sums of all groups but the last, which has what is left of 0, (n_sums, n_groups - 1).
    inverse : numpy.ndarray
        Inverse covariance, shape (n_groups, n_groups).
    """
    full = np.concatenate([sums, -sums.sum(axis=1, keepdims=True)], axis=1)
    forms: np.ndarray = np.einsum("ng,gh,nh->n", full, inverse, full)
    return forms


def share_at_least(pair: tuple[Sums, Sums], inverse: np.ndarray, seen: float) -> float:
    """Share of permutations whose form is at least the one seen."""
    small, large = sorted(pair, key=lambda held: len(held.weights))
    hits = total = 0.0
    step = max(1, CHUNK * 10 // len(large.weights))
    for start in range(0, len(small.weights), step):
        block = combined(
            Sums(small.sums[start : start + step], small.weights[start : start + step]), large
        )
        at_least = forms(block.sums, inverse) >= seen - EQUAL * max(seen, 1.0)
        hits += float(np.sum(block.weights[at_least]))
        total += float(np.sum(block.weights))
    return hits / total


def smallest_p(strata: Sequence[Stratum], inverse: np.ndarray) -> float:
    """Share of the most extreme permutations.

    The form is convex, so its largest value also maximises its own tangent: in every stratum
    the groups then hold contiguous runs of the ordered scores, in one order of the groups.
    """
    groups = len(strata[0].sizes)
    best, ways = -1.0, 0
    known: set[tuple[tuple[int, ...], ...]] = set()
    for order in permutations(range(groups)):
        splits, sums, count = [], np.zeros(groups), 1
        for stratum in strata:
            for value, split in zip(stratum.values, _runs(stratum, order), strict=True):
                splits.append(split)
                sums += value * np.array(split)
                count *= multinomial(split)
        if tuple(splits) in known:
            continue
        known.add(tuple(splits))
        form = float(sums @ inverse @ sums)
        if form > best * (1 + EQUAL):
            best, ways = form, count
        elif form >= best * (1 - EQUAL):
            ways += count
    return ways / math.prod(stratum.permutations for stratum in strata)


def _runs(stratum: Stratum, order: Sequence[int]) -> list[tuple[int, ...]]:
    """Cells of each group at each score, where groups take the lowest scores in turn."""
    labels = np.repeat(np.array(order), [stratum.sizes[k] for k in order])
    ends = np.cumsum(stratum.repeats)
    parts = np.split(labels, ends[:-1])
    return [tuple(int(np.sum(part == k)) for k in range(len(order))) for part in parts]
