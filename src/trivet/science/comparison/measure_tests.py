"""Per-cell numbers and their exact comparison between two groups within batches.

The test permutes the labels within batches and holds the sum of the group's ranks, taken within
batches, against all its values; the estimate is the shift at which that sum has its mean, and the
limits are the shifts that the test just does not reject. So test, estimate and interval say one
thing, and a single odd cell, of which small groups of hand-built cells have many, moves none of
them far.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trivet.science.comparison.relabellings import Permuted, permuted_sums
from trivet.science.lives.shared_strata import in_shared_strata

_TIE = 1e-9
"""Relative tolerance within which two sums count as equal; rounding alone is far smaller."""
_LAWS_KEPT = 8
"""Laws without ties kept for the next measure, one a contrast; each may hold millions of sums."""


@dataclass(frozen=True)
class Difference:
    """Difference of a per-cell number between a group and its control.

    Attributes
    ----------
    cells, control_cells : int
        Cells of each with a value [1].
    missing_cells : int
        Cells of both without a value [1].
    difference : float
        Hodges-Lehmann difference within batches, group less control [unit of the values]; NaN
        where not estimable.
    lower, upper : float
        Limits by inverting the exact test of ranks [unit of the values]; NaN where there are none.
    p : float
        Two-sided p [1]; NaN where not estimable.
    smallest_attainable_p : float
        Smallest p that these values could give under any labels [1].
    reason : str
        Why a value is missing; empty otherwise.
    """

    cells: int
    control_cells: int
    missing_cells: int
    difference: float
    lower: float
    upper: float
    p: float
    smallest_attainable_p: float
    reason: str


def permutation_difference(
    values: np.ndarray,
    *,
    in_group: np.ndarray,
    stratum: np.ndarray,
    confidence: float,
    enumeration_limit: int,
    draws: int,
    seed: int,
) -> Difference:
    """Compare a per-cell number between a group and its control.

    Parameters
    ----------
    values : numpy.ndarray
        The number of each cell; NaN where missing, (n_cells,).
    in_group : numpy.ndarray
        True for the group, False for the control, (n_cells,).
    stratum : numpy.ndarray
        Batch of each cell, within which labels are permuted, (n_cells,).
    confidence : float
        Confidence of the interval [1].
    enumeration_limit : int
        All permutations are taken up to this number, else they are drawn [1].
    draws : int
        Permutations drawn otherwise [1].
    seed : int
        Seed of the draws [1].

    Returns
    -------
    Difference
        With NaN and a reason where something is not estimable.

    References
    ----------
    Statistic: sum over batches of the group's rank sum (mean ranks for ties) less its mean, over
    one more than the cells of the batch, van Elteren, Bull. Inst. Int. Statist. 37 (1960) 351; in
    one batch the test of Mann and Whitney, Ann. Math. Statist. 18 (1947) 50; two-sided on its
    size. Drawn permutations count the labels at hand as one more: Phipson and Smyth, Stat. Appl.
    Genet. Mol. Biol. 9 (2010) 39. Estimate: Hodges and Lehmann, Ann. Math. Statist. 34 (1963) 598.
    """
    known = np.isfinite(values)
    group = in_group & known
    control = ~in_group & known
    cells, control_cells, missing = int(group.sum()), int(control.sum()), int((~known).sum())
    both = known.copy()
    both[known] = in_shared_strata(in_group[known], stratum=stratum[known])
    if not both.any():
        none = float("nan")
        why = _not_estimable(cells, control_cells)
        return Difference(cells, control_cells, missing, none, none, none, none, none, why)
    _, number = np.unique(stratum[both], return_inverse=True)
    how = {"enumeration_limit": enumeration_limit, "draws": draws, "seed": seed}
    ranks = ranked(values[both], stratum=number)
    permuted = permuted_sums(ranks, in_group=in_group[both], stratum=number, **how)
    p, smallest_p = _two_sided_p(permuted)
    # Under a shift values are tied by chance only, so the limits use the law without ties.
    untied = _untied(tuple(in_group[both].tolist()), tuple(number.tolist()), **how)
    pairs, weights = _pairs(values[both], in_group=in_group[both], stratum=stratum[both])
    lower, upper, reason = _inverted(pairs, weights, untied, alpha=1.0 - confidence)
    lone = cells + control_cells - int(both.sum())
    if lone:
        words = f"{lone} cells lie in batches without a partner and do not enter"
        reason = f"{reason}; {words}" if reason else words
    difference = hodges_lehmann(values[both], in_group=in_group[both], stratum=stratum[both])
    return Difference(
        cells, control_cells, missing, difference, lower, upper, p, smallest_p, reason
    )


@lru_cache(maxsize=_LAWS_KEPT)
def _untied(
    in_group: tuple[bool, ...],
    stratum: tuple[int, ...],
    *,
    enumeration_limit: int,
    draws: int,
    seed: int,
) -> Permuted:
    """Rank sums without ties: the same for every measure that has a value of the same cells."""
    batches = np.array(stratum)
    return permuted_sums(
        ranked(np.arange(batches.size), stratum=batches),
        in_group=np.array(in_group, dtype=bool),
        stratum=batches,
        enumeration_limit=enumeration_limit,
        draws=draws,
        seed=seed,
    )


def _not_estimable(cells: int, control_cells: int) -> str:
    """Why there is nothing to compare."""
    if not cells or not control_cells:
        side = "the group" if not cells else "the control"
        return f"not estimable: no cell of {side} has a value"
    return "not estimable: group and control with a value share no batch"


def _two_sided_p(permuted: Permuted) -> tuple[float, float]:
    """Two-sided p of the labels at hand, and the smallest p that any labels could give."""
    slack = _TIE * max(float(np.abs(permuted.value_sum).max()), permuted.scale)
    return permuted.share_as_large(abs(permuted.observed_sum), slack), permuted.smallest_p


def ranked(values: np.ndarray, *, stratum: np.ndarray) -> np.ndarray:
    """Ranks within batches over one more than the cells of the batch.

    Parameters
    ----------
    values : numpy.ndarray
        The number of each cell, (n_cells,).
    stratum : numpy.ndarray
        Batch of each cell, (n_cells,).

    Returns
    -------
    numpy.ndarray
        Between 0 and 1, (n_cells,) [1]; equal values share the mean of their ranks.
    """
    ranks = np.zeros(values.size)
    for name in dict.fromkeys(stratum):
        own = stratum == name
        _, place, count = np.unique(values[own], return_inverse=True, return_counts=True)
        mean_rank = np.cumsum(count) - (count - 1) / 2.0
        ranks[own] = mean_rank[place.ravel()] / (own.sum() + 1)
    return ranks


def _inverted(
    pairs: np.ndarray, weights: np.ndarray, untied: Permuted, *, alpha: float
) -> tuple[float, float, str]:
    """Limits of the shifts that the test does not reject, or why there are none.

    Just above the k-th smallest pairwise difference the statistic under that shift is half of all
    weights less the weights of the first k.
    """
    size = np.abs(untied.value_sum)
    slack = _TIE * max(float(size.max()), untied.scale)
    # The statistic at which p falls to alpha: the first so large that few enough are as large.
    order = np.argsort(size, kind="stable")[::-1]
    ordered = size[order]
    # sums that rounding tells apart are one: the share down to the last of them counts
    last_alike = np.searchsorted(-ordered, -(ordered - slack), side="right") - 1
    beyond = np.cumsum(untied.weight[order])[last_alike]
    allowed = int(np.searchsorted(beyond, alpha + _TIE, side="right"))
    inner = ordered[allowed] + slack if allowed < size.size else 0.0
    if not float(ordered[0]) > inner:
        share = 100.0 * (1.0 - alpha)
        smallest_p = untied.smallest_p
        return (
            np.nan,
            np.nan,
            f"no {share:g} % interval: with these numbers of cells no shift can be rejected at "
            f"{alpha:.3g} (smallest attainable p {smallest_p:.3g})",
        )
    total = float(weights.sum())
    kept_below = total / 2.0 - np.cumsum(weights) <= inner
    kept_above = total / 2.0 - np.cumsum(weights[::-1]) <= inner
    return float(pairs[np.argmax(kept_below)]), float(pairs[::-1][np.argmax(kept_above)]), ""


def _pairs(
    values: np.ndarray, *, in_group: np.ndarray, stratum: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pairwise differences within batches in rising order, and the weight of each."""
    differences, weights = [], []
    for name in dict.fromkeys(stratum):
        own = stratum == name
        pairs = np.subtract.outer(values[own & in_group], values[own & ~in_group]).ravel()
        differences.append(pairs)
        weights.append(np.full(pairs.size, 1.0 / (own.sum() + 1)))
    joined = np.concatenate(differences)
    order = np.argsort(joined, kind="stable")
    return joined[order], np.concatenate(weights)[order]


def hodges_lehmann(values: np.ndarray, *, in_group: np.ndarray, stratum: np.ndarray) -> float:
    """Median of the pairwise differences within batches, group less control.

    Parameters
    ----------
    values : numpy.ndarray
        The number of each cell, (n_cells,).
    in_group : numpy.ndarray
        True for the group, (n_cells,).
    stratum : numpy.ndarray
        Batch of each cell, (n_cells,).

    Returns
    -------
    float
        Weighted median [unit of the values]; a pair weighs as in the test, 1 / (cells of its
        batch and one). One batch gives the plain median of all pairwise differences.

    References
    ----------
    Hodges and Lehmann, Ann. Math. Statist. 34 (1963) 598, for one batch.
    """
    ordered, weights = _pairs(values, in_group=in_group, stratum=stratum)
    share = np.cumsum(weights)
    half = share[-1] / 2.0
    # A share of exactly one half must not be lost to rounding: the median is then the midpoint.
    first = int(np.flatnonzero(share >= half * (1.0 - _TIE))[0])
    if share[first] <= half * (1.0 + _TIE) and first + 1 < ordered.size:
        return float((ordered[first] + ordered[first + 1]) / 2.0)
    return float(ordered[first])
