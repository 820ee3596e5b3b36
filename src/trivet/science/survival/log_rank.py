"""Log-rank test: ends seen against ends expected, within strata."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from trivet.science.lives.delayed_entry import checked_entry
from trivet.science.survival.product_limit import checked


@dataclass(frozen=True)
class LogRank:
    """Asymptotic log-rank test of two or more groups.

    Attributes
    ----------
    observed_events, expected_events : numpy.ndarray
        Ends seen and expected in each group, over strata, shape (n_groups,) [1].
    covariance : numpy.ndarray
        Hypergeometric covariance of the ends, shape (n_groups, n_groups) [1].
    statistic : float
        Chi-squared [1]; NaN where nothing can be compared.
    degrees_of_freedom : int
        Rank of the covariance [1].
    p : float
        Two-sided p [1]; NaN where nothing can be compared.
    """

    observed_events: np.ndarray
    expected_events: np.ndarray
    covariance: np.ndarray
    statistic: float
    degrees_of_freedom: int
    p: float


def checked_groups(
    group: np.ndarray, stratum: np.ndarray | None, cells: int
) -> tuple[np.ndarray, np.ndarray]:
    """Group numbers and stratum numbers of the cells.

    Parameters
    ----------
    group : numpy.ndarray
        Number of the group from 0 on, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: one stratum.
    cells : int
        Number of cells [1].

    Raises
    ------
    ValueError
        Shapes differ, a group number is negative.
    """
    groups = np.asarray(group)
    labels = np.zeros(cells, dtype=int) if stratum is None else np.asarray(stratum)
    if groups.shape != (cells,) or labels.shape != (cells,):
        raise ValueError(f"groups {groups.shape} and strata {labels.shape} must be ({cells},)")
    if cells and (groups.dtype.kind not in "iu" or groups.min() < 0):
        raise ValueError("groups must be whole numbers from 0 on")
    strata = np.unique(labels, return_inverse=True)[1] if cells else labels.astype(int)
    return groups, strata


def log_rank(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None = None,
    entry: np.ndarray | None = None,
) -> LogRank:
    """Stratified log-rank test with the hypergeometric covariance.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    group : numpy.ndarray
        Number of the group from 0 on, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: one stratum.
    entry : numpy.ndarray or None
        Delayed entry, see `trivet.science.lives.delayed_entry.checked_entry`.

    Returns
    -------
    LogRank

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked` and `checked_groups`.

    References
    ----------
    Mantel 1966, Cancer Chemother. Rep. 50, 163-170; Klein & Moeschberger, Survival Analysis,
    sections 7.3 and 7.5 (strata).
    """
    times, seen = checked(duration, observed)
    groups, strata = checked_groups(group, stratum, len(times))
    entered = checked_entry(entry, times)
    count = int(groups.max()) + 1 if len(groups) else 0
    member = groups[:, None] == np.arange(count)[None, :]
    seen_events = (member & seen[:, None]).sum(axis=0).astype(float)
    expected = np.zeros(count)
    covariance = np.zeros((count, count))
    for number in np.unique(strata):
        inside = strata == number
        for step in np.unique(times[inside & seen]):
            at_risk = inside & (times >= step) & (entered < step)
            n = float(np.sum(at_risk))
            ended = float(np.sum(inside & seen & (times == step)))
            share = member[at_risk].sum(axis=0) / n
            expected += ended * share
            if n > 1:
                scale = ended * (n - ended) / (n - 1)
                covariance += scale * (np.diag(share) - np.outer(share, share))
    statistic, freedom = quadratic_form(seen_events - expected, covariance)
    p = float(chdtrc(freedom, statistic)) if freedom else float("nan")
    return LogRank(seen_events, expected, covariance, statistic, freedom, p)


def quadratic_form(difference: np.ndarray, covariance: np.ndarray) -> tuple[float, int]:
    """Squared length of a difference in units of its covariance, and the covariance's rank.

    Parameters
    ----------
    difference : numpy.ndarray
        Differences that add up to 0, shape (n_groups,) [1].
    covariance : numpy.ndarray
        Their covariance, shape (n_groups, n_groups) [1].

    Returns
    -------
    tuple of float and int
        The form [1], NaN where the rank is 0, and the rank [1].
    """
    inverse, rank = inverse_covariance(covariance)
    if not rank:
        return float("nan"), 0
    return float(difference @ inverse @ difference), rank


def inverse_covariance(covariance: np.ndarray) -> tuple[np.ndarray, int]:
    """Pseudo-inverse and rank of a covariance of differences that add up to 0."""
    if not covariance.size:
        return covariance, 0
    values, vectors = np.linalg.eigh(covariance)
    keep = values > 1e-9 * max(float(values.max()), 1e-3)
    kept = vectors[:, keep]
    return (kept / values[keep]) @ kept.T, int(np.sum(keep))


def log_rank_scores(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    stratum: np.ndarray | None = None,
    entry: np.ndarray | None = None,
) -> np.ndarray:
    """Score of each cell: its end less the cumulative hazard of its stratum from entry to time.

    The scores of a group add up to its ends seen less its ends expected; those of a stratum add
    up to 0. Tied ends share the hazard of their time.

    Parameters
    ----------
    duration, observed, stratum, entry
        As in `log_rank`.

    Returns
    -------
    numpy.ndarray
        Scores, shape (n_cells,) [1].

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.

    References
    ----------
    Callaert 2003, Am. Stat. 57, 214-217.
    """
    times, seen = checked(duration, observed)
    _, strata = checked_groups(np.zeros(len(times), dtype=int), stratum, len(times))
    entered = checked_entry(entry, times)
    hazard = np.zeros(len(times))
    for number in np.unique(strata):
        inside = strata == number
        for step in np.unique(times[inside & seen]):
            later = inside & (times >= step) & (entered < step)
            hazard[later] += np.sum(inside & seen & (times == step)) / np.sum(later)
    return seen.astype(float) - hazard
