"""Gray's test: whether the cumulative incidence of one cause differs between groups."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from trivet.science.survival.log_rank import checked_groups, quadratic_form
from trivet.science.survival.product_limit import checked

ALL_ENDED = 1e-9
"""An incidence this close to 1 is 1 but for rounding."""


@dataclass(frozen=True)
class Gray:
    """Gray's test.

    Attributes
    ----------
    statistic : float
        Chi-squared [1]; NaN where nothing can be compared.
    degrees_of_freedom : int
        Rank of the covariance [1].
    p : float
        Two-sided p [1]; NaN where nothing can be compared.
    """

    statistic: float
    degrees_of_freedom: int
    p: float


@dataclass
class _Sums:
    """Running sums over the times of one stratum; k counts groups, i and j all but none."""

    score: np.ndarray
    covariance: np.ndarray
    weight: np.ndarray  # c, shape (groups, groups)
    spread: np.ndarray  # v3, shape (groups,)
    mixed: np.ndarray  # v2, shape (groups, groups)


def gray(
    duration: np.ndarray,
    *,
    cause: np.ndarray,
    of: int,
    group: np.ndarray,
    stratum: np.ndarray | None = None,
) -> Gray:
    """Gray's test of one cause, the other causes competing, with weight 1.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    cause : numpy.ndarray
        0 where censored, else the number of the cause from 1 on, shape (n_cells,) [1].
    of : int
        Number of the cause tested [1].
    group : numpy.ndarray
        Number of the group from 0 on, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); scores and covariances add up over strata.

    Returns
    -------
    Gray

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked` and
        `trivet.science.survival.log_rank.checked_groups`.

    References
    ----------
    Gray 1988, Ann. Stat. 16, 1141-1154, with rho = 0.
    """
    number = np.asarray(cause, dtype=int)
    times, _ = checked(duration, (number > 0).astype(int))
    groups, strata = checked_groups(group, stratum, len(times))
    count = int(groups.max()) + 1 if len(groups) else 0
    score, covariance = np.zeros(count), np.zeros((count, count))
    for label in np.unique(strata):
        own = strata == label
        if len(np.unique(groups[own])) < 2:
            continue
        kind = np.where(number[own] == of, 1, np.where(number[own] > 0, 2, 0))
        sums = _stratum(times[own], kind, groups[own], count)
        score += sums.score
        covariance += sums.covariance
    statistic, freedom = quadratic_form(score, covariance)
    p = float(chdtrc(freedom, statistic)) if freedom else float("nan")
    return Gray(statistic, freedom, p)


def _stratum(times: np.ndarray, kind: np.ndarray, groups: np.ndarray, count: int) -> _Sums:
    """Scores of one stratum, and their covariance."""
    square = (count, count)
    sums = _Sums(
        np.zeros(count), np.zeros(square), np.zeros(square), np.zeros(count), np.zeros(square)
    )
    pooled = 0.0  # incidence of the cause over all groups, before the time
    own, left = np.zeros(count), np.ones(count)  # incidence and survival of each group, before
    member = groups[:, None] == np.arange(count)[None, :]
    for step in np.unique(times[kind > 0]):
        at_risk = (member & (times >= step)[:, None]).sum(axis=0).astype(float)
        ended = [
            (member & ((times == step) & (kind == which))[:, None]).sum(axis=0).astype(float)
            for which in (1, 2)
        ]
        left, own, pooled = _step(sums, at_risk, ended, left, own, pooled)
    weight, spread, mixed = sums.weight, sums.spread, sums.mixed
    sums.covariance += (weight * spread) @ weight.T + weight @ mixed.T + mixed @ weight.T
    return sums


def _step(
    sums: _Sums,
    at_risk: np.ndarray,
    ended: list[np.ndarray],
    left: np.ndarray,
    own: np.ndarray,
    pooled: float,
) -> tuple[np.ndarray, np.ndarray, float]:
    """Add one time of ends; survival and incidences from then on."""
    there = at_risk > 0
    n = np.where(there, at_risk, 1.0)
    ends, others = ended[0].sum(), ended[1].sum()
    # subjects as if no other cause had taken any
    ratio = np.where(there & (left > 0), at_risk / np.where(left > 0, left, 1.0), 0.0)
    total = ratio.sum()
    expected = ratio * (1 - own)
    sums.score += np.where(there, ended[0] - ends * expected / expected.sum(), 0.0)
    a = np.diag(ratio) - np.outer(ratio, ratio) / total
    if ends and pooled < 1 - ALL_ENDED:  # beyond, the estimate holds nothing that could end
        sums.weight += a * ends / (total * (1 - pooled))
    now_left = np.where(there, left * (at_risk - ended[0] - ended[1]) / n, left)
    now_own = np.where(there, own + left * ended[0] / n, own)
    now_pooled = pooled + ends / total
    safe_left = np.where(now_left > 0, now_left, 1.0)
    if ends:
        shrink = np.where(now_left > 0, 1 - (1 - now_pooled) / safe_left, 1.0)
        # a group as if of one cell has no ties
        others_left = total * left - 1
        pull = 1 - (ends - 1) / np.where(others_left > ALL_ENDED, others_left, np.inf)
        scale = np.where(there, pull * left * ends / (total * n), 0.0)
        _add(sums, a - shrink[None, :] * sums.weight, shrink, scale)
    if others:
        grow = np.where(now_left > 0, (1 - now_pooled) / safe_left, 0.0)
        tied = ended[1] > 1
        pull = np.where(tied, 1 - (ended[1] - 1) / np.maximum(at_risk - 1, 1), 1.0)
        scale = np.where(there & (now_left > 0), pull * left**2 * ended[1] / n**2, 0.0)
        _add(sums, grow[None, :] * sums.weight, -grow, scale)
    return now_left, now_own, now_pooled


def _add(sums: _Sums, term: np.ndarray, factor: np.ndarray, scale: np.ndarray) -> None:
    """Add the variance of one time."""
    sums.spread += factor**2 * scale
    sums.mixed += term * (factor * scale)[None, :]
    sums.covariance += (term * scale[None, :]) @ term.T
