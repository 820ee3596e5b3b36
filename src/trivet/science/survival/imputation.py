"""Permutation log-rank test for groups that were not followed alike: times are imputed.

Where the groups are censored by different laws, labels may not be permuted with the lives as they
were seen. What may be permuted, if the groups last the same, are the full times to the end; each
place keeps its own time of censoring. Both are known only in part, so each draw imputes them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.lives.shared_strata import in_shared_strata
from trivet.science.survival.drawn_sums import picked
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
    laws, longest = _laws(times, seen, treated, strata), float(times.max())
    hits = done = 0
    while done < draws:
        number = min(chunk, draws - done)
        drawn = _draw(laws, longest, generator, number)
        forms = _statistics(*drawn, treated, strata)
        # a draw without any end that compares the groups is as little extreme as can be
        hits += int(np.sum(np.abs(np.nan_to_num(forms)) >= abs(statistic) - EQUAL))
        done += number
    lower, upper = proportion_limits(hits, draws=done)
    return ImputedTest(statistic, (hits + 1) / (done + 1), lower, upper, done)


@dataclass(frozen=True)
class _Law:
    """What the times of some cells are drawn from: once for all draws.

    Attributes
    ----------
    times : numpy.ndarray
        Times as seen, shape (n_cells,) [any unit].
    values : numpy.ndarray
        Times that may be drawn, rising, the last infinite, shape (n_values,) [any unit].
    unknown : tuple of (int, numpy.ndarray or None)
        Places of the times to be drawn, each with the cumulative chances of the values; None:
        nothing lies beyond it, and it is infinite.
    """

    times: np.ndarray
    values: np.ndarray
    unknown: tuple[tuple[int, np.ndarray | None], ...]

    def drawn(self, generator: np.random.Generator, number: int) -> np.ndarray:
        """Times where known, elsewhere drawn, shape (number, n_cells) [any unit]."""
        drawn = np.tile(self.times, (number, 1))
        for place, cumulative in self.unknown:
            if cumulative is None:
                drawn[:, place] = np.inf
                continue
            drawn[:, place] = self.values[picked(cumulative, generator, number)]
        return drawn


@dataclass(frozen=True)
class _Imputed:
    """A stratum: its cells, the law of their ends, and by group that of their last sights."""

    own: np.ndarray
    ends: _Law
    sights: tuple[tuple[np.ndarray, _Law], ...]


def _laws(
    times: np.ndarray, seen: np.ndarray, treated: np.ndarray, strata: np.ndarray
) -> tuple[_Imputed, ...]:
    """Laws of each stratum, which no draw changes."""
    found = []
    for label in np.unique(strata):
        own = np.flatnonzero(strata == label)
        sides = [own[treated[own] == side] for side in (True, False)]
        found.append(
            _Imputed(
                own,
                _law(times[own], seen[own]),
                # an end at the time of a censoring was no longer at risk of it
                tuple((place, _law(times[place], ~seen[place], later=True)) for place in sides),
            )
        )
    return tuple(found)


def _draw(
    laws: tuple[_Imputed, ...], longest: float, generator: np.random.Generator, number: int
) -> tuple[np.ndarray, np.ndarray]:
    """Imputed and permuted lives: times and ends, each of shape (number, n_cells)."""
    cells = sum(len(stratum.own) for stratum in laws)
    ends, sights = np.empty((number, cells)), np.empty((number, cells))
    for stratum in laws:
        full = stratum.ends.drawn(generator, number)
        ends[:, stratum.own] = generator.permuted(full, axis=1)
        for place, law in stratum.sights:
            sights[:, place] = law.drawn(generator, number)
    last = np.minimum(sights, longest)
    return np.minimum(ends, last), ends <= last


def _law(times: np.ndarray, known: np.ndarray, *, later: bool = False) -> _Law:
    """Law of times that are not known: the product-limit curve beyond each.

    Beyond the last known time the curve says nothing: the drawn time is infinite. With `later`
    an unknown time that ties with a known one leaves the risk set first.
    """
    moved = times.astype(float)
    if later:  # order only: ties are broken so that those not known come first
        ranks = np.unique(np.stack([times, known.astype(float)]), axis=1, return_inverse=True)[1]
        moved = ranks.reshape(-1).astype(float)
    curve = product_limit(moved, observed=known.astype(int))
    steps = curve.events > 0
    at, left = curve.time[steps], curve.survival[steps]
    values = np.append(np.array([times[moved == step][0] for step in at]), np.inf)
    mass = -np.diff(np.concatenate([[1.0], left, [0.0]]))
    unknown: list[tuple[int, np.ndarray | None]] = []
    for place in np.flatnonzero(~known):
        share = np.append(np.where(at > moved[place], mass[:-1], 0.0), mass[-1])
        total = share.sum()
        # nothing may lie beyond: the curve ends here
        unknown.append((int(place), np.cumsum(share) / total if total > 0 else None))
    return _Law(times, values, tuple(unknown))


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
