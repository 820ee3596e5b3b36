"""Permutation log-rank test for groups that were not followed alike: times are imputed.

Where the groups are censored by different laws, labels may not be permuted with the lives as they
were seen. What may be permuted, if the groups last the same, are the full times to the end; each
place keeps its own time of censoring. Both are known only in part, so each draw imputes them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.lives.shared_strata import in_shared_strata
from trivet.science.survival.exact_log_rank import proportion_limits
from trivet.science.survival.log_rank import checked_groups
from trivet.science.survival.product_limit import checked, product_limit

MOST_CELLS = 250
"""With more cells the asymptotic test holds at unequal follow-up, and no draws are needed."""

MOST_ELEMENTS = 2_000_000
"""Pairs of cells compared at once, over the draws of a chunk."""

EQUAL = 1e-9
NAN = float("nan")


@dataclass(frozen=True)
class ImputedTest:
    """Imputation-permutation log-rank test.

    Attributes
    ----------
    statistic : float
        Ends seen less expected of group 1 over the square root of the hypergeometric variance
        [1]; NaN where nothing can be compared.
    p, p_lower, p_upper : float
        Two-sided p and its 99 % Monte Carlo interval [1].
    draws : int
        Imputations, one permutation each [1].
    """

    statistic: float
    p: float
    p_lower: float
    p_upper: float
    draws: int


NOTHING = ImputedTest(NAN, NAN, NAN, NAN, 0)


def imputation_permutation(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None = None,
    draws: int = 20_000,
    seed: int = 0,
) -> ImputedTest:
    """Two-sided log-rank test that stays valid where the two groups are censored differently.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    group : numpy.ndarray
        1 for the group, 0 for the control, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: one stratum.
    draws, seed : int
        Imputations, and the seed [1].

    Returns
    -------
    ImputedTest

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.

    References
    ----------
    Heinze, Gnant & Schemper 2003, Biometrics 59, 1151-1157; Wang, Lagakos & Gray 2010,
    Biostatistics 11, 676-692. Unseen ends are drawn from the product-limit curve of the stratum
    with both groups together, beyond the last sight; unseen times of censoring from the
    product-limit curve of censoring in the stratum's own group.
    """
    times, seen = checked(duration, observed)
    groups, strata = checked_groups(group, stratum, len(times))
    treated = groups == 1
    shared = in_shared_strata(treated, stratum=strata)
    times, seen, treated, strata = times[shared], seen[shared], treated[shared], strata[shared]
    if not len(times) or len(times) > MOST_CELLS:
        return NOTHING
    statistic = float(_statistics(times[None], seen[None], treated, strata)[0])
    if np.isnan(statistic):
        return NOTHING
    generator = np.random.default_rng(seed)
    chunk = max(1, MOST_ELEMENTS // len(times) ** 2)
    hits = done = 0
    while done < draws:
        number = min(chunk, draws - done)
        drawn = _draw(times, seen, treated, strata, generator, number)
        forms = _statistics(*drawn, treated, strata)
        # a draw without any end that compares the groups is as little extreme as can be
        hits += int(np.sum(np.abs(np.nan_to_num(forms)) >= abs(statistic) - EQUAL))
        done += number
    lower, upper = proportion_limits(hits, draws=done)
    return ImputedTest(statistic, (hits + 1) / (done + 1), lower, upper, done)


def _draw(
    times: np.ndarray,
    seen: np.ndarray,
    treated: np.ndarray,
    strata: np.ndarray,
    generator: np.random.Generator,
    number: int,
) -> tuple[np.ndarray, np.ndarray]:
    """Imputed and permuted lives: times and ends, each of shape (number, n_cells)."""
    ends = np.empty((number, len(times)))
    sights = np.empty((number, len(times)))
    for label in np.unique(strata):
        own = np.flatnonzero(strata == label)
        full = _imputed(times[own], seen[own], generator, number)
        ends[:, own] = generator.permuted(full, axis=1)
        for side in (True, False):
            place = own[treated[own] == side]
            # an end at the time of a censoring was no longer at risk of it
            sights[:, place] = _imputed(times[place], ~seen[place], generator, number, later=True)
    longest = float(times.max())
    last = np.minimum(sights, longest)
    return np.minimum(ends, last), ends <= last


def _imputed(
    times: np.ndarray,
    known: np.ndarray,
    generator: np.random.Generator,
    number: int,
    *,
    later: bool = False,
) -> np.ndarray:
    """Times where known; elsewhere drawn beyond them from the product-limit curve.

    Beyond the last known time the curve says nothing: the drawn time is infinite. With `later`
    an unknown time that ties with a known one leaves the risk set first.
    """
    drawn = np.tile(times, (number, 1))
    moved = times.astype(float)
    if later:  # order only: ties are broken so that those not known come first
        ranks = np.unique(np.stack([times, known.astype(float)]), axis=1, return_inverse=True)[1]
        moved = ranks.reshape(-1).astype(float)
    curve = product_limit(moved, observed=known.astype(int))
    steps = curve.events > 0
    at, left = curve.time[steps], curve.survival[steps]
    values = np.append(np.array([times[moved == step][0] for step in at]), np.inf)
    mass = -np.diff(np.concatenate([[1.0], left, [0.0]]))
    for place in np.flatnonzero(~known):
        share = np.append(np.where(at > moved[place], mass[:-1], 0.0), mass[-1])
        total = share.sum()
        if total <= 0:  # nothing lies beyond: the curve ends here
            drawn[:, place] = np.inf
            continue
        cumulative = np.cumsum(share) / total
        pick = np.searchsorted(cumulative, generator.random(number), side="right")
        drawn[:, place] = values[np.minimum(pick, len(values) - 1)]
    return drawn


def _statistics(
    times: np.ndarray, seen: np.ndarray, treated: np.ndarray, strata: np.ndarray
) -> np.ndarray:
    """Log-rank statistics of many sets of lives, shape (n_sets,); NaN where there is none.

    Ends seen less expected of group 1, over the square root of the hypergeometric variance.
    """
    same = strata[:, None] == strata[None, :]
    later = (times[:, None, :] >= times[:, :, None]) & same[None]  # set, end, cell at risk
    at_risk = later.sum(axis=2)
    of_group = (later & treated[None, None, :]).sum(axis=2)
    tied = ((times[:, None, :] == times[:, :, None]) & same[None] & seen[:, None, :]).sum(axis=2)
    share = of_group / at_risk
    excess = np.sum(seen * (treated[None, :] - share), axis=1)
    scale = np.where(at_risk > 1, (at_risk - tied) / np.maximum(at_risk - 1, 1), 0.0)
    variance = np.sum(seen * share * (1 - share) * scale, axis=1)
    return np.where(variance > 1e-12, excess / np.sqrt(np.maximum(variance, 1e-12)), np.nan)
