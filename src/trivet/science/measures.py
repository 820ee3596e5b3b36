"""Per-cell numbers and their exact comparison between two groups within batches.

The test permutes the labels within batches and holds the difference of means, taken within
batches, against all its values. The interval inverts that same test, without a search over
shifts: under a shift each permutation is as extreme as the labels at hand on one interval of
shifts around the observed difference, so that sorting the ends of these intervals gives the
limits exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.relabellings import Permuted, permuted_sums

_TIE = 1e-9
"""Relative tolerance within which two sums count as equal; rounding alone is far smaller."""


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
        Limits by inverting the exact test [unit of the values]; NaN where there are none.
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
    Statistic: sum over batches of n1 n0 / (n1 + n0) times the difference of means, that is, the
    sum of the group's values less the mean of their batch; two-sided on its size. Drawn
    permutations count the labels at hand as one more: Phipson and Smyth, Stat. Appl. Genet. Mol.
    Biol. 9 (2010) 39. Estimate: Hodges and Lehmann, Ann. Math. Statist. 34 (1963) 598.
    """
    known = np.isfinite(values)
    group = in_group & known
    control = ~in_group & known
    cells, control_cells, missing = int(group.sum()), int(control.sum()), int((~known).sum())
    both = np.isin(stratum, np.intersect1d(stratum[group], stratum[control])) & known
    if not both.any():
        none = float("nan")
        why = _not_estimable(cells, control_cells)
        return Difference(cells, control_cells, missing, none, none, none, none, none, why)
    permuted = permuted_sums(
        values[both],
        in_group=in_group[both],
        stratum=stratum[both],
        enumeration_limit=enumeration_limit,
        draws=draws,
        seed=seed,
    )
    p, smallest_p = _two_sided_p(permuted)
    lower, upper, reason = _inverted(permuted, alpha=1.0 - confidence, smallest_p=smallest_p)
    lone = cells + control_cells - int(both.sum())
    if lone:
        words = f"{lone} cells lie in batches without a partner and do not enter"
        reason = f"{reason}; {words}" if reason else words
    difference = hodges_lehmann(values[both], in_group=in_group[both], stratum=stratum[both])
    return Difference(
        cells, control_cells, missing, difference, lower, upper, p, smallest_p, reason
    )


def _not_estimable(cells: int, control_cells: int) -> str:
    """Why there is nothing to compare."""
    if not cells or not control_cells:
        side = "the group" if not cells else "the control"
        return f"not estimable: no cell of {side} has a value"
    return "not estimable: group and control with a value share no batch"


def _two_sided_p(permuted: Permuted) -> tuple[float, float]:
    """Two-sided p of the labels at hand, and the smallest p that any labels could give."""
    size = np.abs(permuted.value_sum)
    slack = _TIE * max(float(size.max()), permuted.scale)
    p = np.mean(size >= abs(permuted.observed_sum) - slack)
    return float(p), float(np.mean(size >= size.max() - slack))


def _inverted(permuted: Permuted, *, alpha: float, smallest_p: float) -> tuple[float, float, str]:
    """Limits of the shifts that the test does not reject, or why there are none.

    With A and B the sums of a permutation over values and over original labels, and A0, W those
    of the labels at hand, |A - d B| >= |A0 - d W| holds for shifts d between
    (A0 - A) / (W - B) and (A0 + A) / (W + B), since |B| <= W; where B reaches W or -W one side is
    without end.
    """
    below, above = _shifts_as_extreme(permuted)
    number = below.size
    # The interval holds the shifts at which more than alpha of the permutations are as extreme.
    needed = int(np.floor(alpha * number + _TIE)) + 1
    lower = float(np.partition(below, needed - 1)[needed - 1])
    upper = float(np.partition(above, number - needed)[number - needed])
    if np.isfinite(lower) and np.isfinite(upper):
        return lower, upper, ""
    share = 100.0 * (1.0 - alpha)
    return (
        np.nan,
        np.nan,
        f"no {share:g} % interval: with these numbers of cells no shift can be rejected at "
        f"{alpha:.3g} (smallest attainable p {smallest_p:.3g})",
    )


def _shifts_as_extreme(permuted: Permuted) -> tuple[np.ndarray, np.ndarray]:
    """Ends of the interval of shifts on which each permutation is as extreme, (n,) each."""
    value, label = permuted.value_sum, permuted.label_sum
    observed, weight = permuted.observed_sum, permuted.observed_weight
    with np.errstate(divide="ignore", invalid="ignore"):
        one = (observed - value) / (weight - label)
        other = (observed + value) / (weight + label)
    below, above = np.minimum(one, other), np.maximum(one, other)
    same = weight - label <= _TIE * weight
    below[same], above[same] = -np.inf, np.inf
    opposite = weight + label <= _TIE * weight
    slack = _TIE * permuted.scale
    rising = opposite & (observed + value > slack)
    falling = opposite & (observed + value < -slack)
    level = opposite & ~rising & ~falling
    below[rising], above[rising] = one[rising], np.inf
    below[falling], above[falling] = -np.inf, one[falling]
    below[level], above[level] = -np.inf, np.inf
    return below, above


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
        Weighted median [unit of the values]; a pair weighs 1 / (cells of its batch), so that the
        mean under the same weights is the difference that the test is made of. One batch gives
        the plain median of all pairwise differences.

    References
    ----------
    Hodges and Lehmann, Ann. Math. Statist. 34 (1963) 598, for one batch.
    """
    differences, weights = [], []
    for name in np.unique(stratum.astype(str)):
        own = stratum.astype(str) == name
        pairs = np.subtract.outer(values[own & in_group], values[own & ~in_group]).ravel()
        differences.append(pairs)
        weights.append(np.full(pairs.size, 1.0 / own.sum()))
    ordered = np.concatenate(differences)
    order = np.argsort(ordered, kind="stable")
    ordered = ordered[order]
    share = np.cumsum(np.concatenate(weights)[order])
    half = share[-1] / 2.0
    # A share of exactly one half must not be lost to rounding: the median is then the midpoint.
    first = int(np.flatnonzero(share >= half * (1.0 - _TIE))[0])
    if share[first] <= half * (1.0 + _TIE) and first + 1 < ordered.size:
        return float((ordered[first] + ordered[first + 1]) / 2.0)
    return float(ordered[first])
