"""How many cells the next campaign needs: power of the exact test, and of showing equivalence."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from scipy.special import ndtri, stdtrit

from trivet.science.survival.exact_log_rank import proportion_limits

MOST_RELABELLINGS = 2_000
"""Relabellings that a simulated test uses: all of them up to this number, else so many drawn."""

EQUAL = 1e-9


@dataclass(frozen=True)
class Power:
    """Share of simulated campaigns in which something is shown.

    Attributes
    ----------
    power, lower, upper : float
        Share, and its 99 % Monte Carlo limits [1].
    simulations : int
        Campaigns simulated [1].
    """

    power: float
    lower: float
    upper: float
    simulations: int


def events_for_difference(hazard_ratio: float, *, alpha: float = 0.05, power: float = 0.8) -> float:
    """Ends that a two-sided log-rank test of two equal groups needs.

    Parameters
    ----------
    hazard_ratio : float
        True ratio of hazards [1].
    alpha, power : float
        Two-sided level, and chance to find the difference [1].

    References
    ----------
    Schoenfeld 1983, Biometrics 39, 499-503.
    """
    reach = float(ndtri(1 - alpha / 2) + ndtri(power))
    return 4 * (reach / math.log(hazard_ratio)) ** 2


def events_for_margin(
    hazard_ratio: float, *, margin: float, alpha: float = 0.025, power: float = 0.9
) -> float:
    """Ends that show, one-sided, that a hazard ratio lies below a margin, for two equal groups.

    Parameters
    ----------
    hazard_ratio, margin : float
        True ratio of hazards, and the margin [1].
    alpha, power : float
        One-sided level, and chance to show it [1].

    Returns
    -------
    float
        Ends of both groups together [1].

    Raises
    ------
    ValueError
        If the true ratio is at the margin or beyond it: no number of ends shows what is not so.

    References
    ----------
    Schoenfeld 1983, with the distance to the margin in place of that to 1.
    """
    if not 0 < hazard_ratio < margin:
        message = (
            f"a true hazard ratio of {hazard_ratio:g} does not lie between 0 and the margin "
            f"{margin:g}: no number of ends shows that it lies below the margin"
        )
        raise ValueError(message)
    reach = float(ndtri(1 - alpha) + ndtri(power))
    return 4 * (reach / (math.log(hazard_ratio) - math.log(margin))) ** 2


def exact_power(
    group: np.ndarray,
    *,
    stratum: np.ndarray,
    ratio: float,
    spread: float,
    censored: float,
    alpha: float,
    simulations: int,
    seed: int,
) -> Power:
    """Power of the exact log-rank test for Weibull lives.

    Parameters
    ----------
    group, stratum : numpy.ndarray
        1 for the group and 0 for the control, and the batch, shape (n_cells,).
    ratio : float
        True ratio of times, group over control [1].
    spread : float
        Scale of log time [1]; one over the Weibull shape.
    censored : float
        Share of the control that has not ended when all are last seen [1].
    alpha : float
        Two-sided level of the test [1].
    simulations, seed : int
        Campaigns simulated, and the seed [1].

    Returns
    -------
    Power
    """
    generator = np.random.default_rng(seed)
    labels = np.asarray(group) == 1
    wall = -math.log(censored) if censored > 0 else math.inf  # in units of the control's law
    lives = generator.exponential(size=(simulations, len(labels)))
    lives[:, labels] *= ratio ** (1 / spread)
    scores = _scores(np.minimum(lives, wall), lives <= wall, np.asarray(stratum))
    relabelled, complete = relabellings(labels, stratum=np.asarray(stratum), generator=generator)
    sums = np.abs(scores @ relabelled.T)
    seen = np.abs(scores @ labels)
    extreme = np.sum(sums >= seen[:, None] - EQUAL, axis=1)
    p = extreme / len(relabelled) if complete else (extreme + 1) / (len(relabelled) + 1)
    hits = int(np.sum((p <= alpha + EQUAL) & np.any(scores != 0, axis=1)))
    lower, upper = proportion_limits(hits, draws=simulations)
    return Power(hits / simulations, lower, upper, simulations)


def _scores(times: np.ndarray, seen: np.ndarray, stratum: np.ndarray) -> np.ndarray:
    """Log-rank scores of many campaigns without tied ends, shape (n_campaigns, n_cells)."""
    scores = np.zeros(times.shape)
    for name in np.unique(stratum):
        own = np.flatnonzero(stratum == name)
        # at a shared last sight nothing ends, so the order among equals does not matter
        order = np.argsort(times[:, own], axis=1, kind="stable")
        ended = np.take_along_axis(seen[:, own], order, axis=1)
        hazard = np.cumsum(ended / (len(own) - np.arange(len(own))), axis=1)
        part = np.empty(order.shape)
        np.put_along_axis(part, order, ended - hazard, axis=1)
        scores[:, own] = part
    return scores


def relabellings(
    labels: np.ndarray, *, stratum: np.ndarray, generator: np.random.Generator
) -> tuple[np.ndarray, bool]:
    """Ways to hand out the labels within strata, and whether these are all of them.

    Parameters
    ----------
    labels : numpy.ndarray
        True for the group, shape (n_cells,).
    stratum : numpy.ndarray
        Batch, shape (n_cells,).
    generator : numpy.random.Generator
        Source of the draws, where not all are taken.

    Returns
    -------
    tuple of numpy.ndarray and bool
        0 or 1, shape (n_relabellings, n_cells).
    """
    places = [np.flatnonzero(stratum == name) for name in np.unique(stratum)]
    sizes = [int(labels[own].sum()) for own in places]
    total = math.prod(math.comb(len(own), size) for own, size in zip(places, sizes, strict=True))
    if total <= MOST_RELABELLINGS:
        choices = product(
            *(combinations(own, size) for own, size in zip(places, sizes, strict=True))
        )
        found = np.zeros((total, len(labels)))
        for row, chosen in enumerate(choices):
            found[row, [cell for part in chosen for cell in part]] = 1.0
        return found, True
    drawn = np.tile(labels.astype(float), (MOST_RELABELLINGS - 1, 1))
    for own in places:
        drawn[:, own] = generator.permuted(drawn[:, own], axis=1)
    return drawn, False


def equivalence_power(
    cells: int,
    *,
    ratio: float,
    spread: float,
    censored: float,
    margin: float,
    confidence: float,
    simulations: int,
    seed: int,
) -> Power:
    """Chance that the interval of the time ratio lies within the margin, for two equal groups.

    The logarithm of the ratio is taken as normal with standard error spread times the root of
    1 / d1 + 1 / d2, d1 and d2 the ends seen, and its interval as Student's.

    Parameters
    ----------
    cells : int
        Cells of each group [1].
    ratio, spread, censored
        As in `exact_power`.
    margin : float
        Largest ratio that still counts as the same [1].
    confidence : float
        Confidence of the interval that decides on equivalence [1].
    simulations, seed : int
        Campaigns simulated, and the seed [1].

    Returns
    -------
    Power

    References
    ----------
    Standard error: Meeker & Escobar, Statistical Methods for Reliability Data, chapter 8 (from
    memory); two one-sided tests: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15, 657-680.
    """
    generator = np.random.default_rng(seed)
    ends = generator.binomial(cells, 1 - censored, size=(2, simulations))
    enough = (ends.min(axis=0) >= 2) & (ends.sum(axis=0) > 2)
    d = np.maximum(ends, 1)
    freedom = np.maximum(d.sum(axis=0) - 2, 1)
    error = np.sqrt((1 / d).sum(axis=0))
    estimate = math.log(ratio) + spread * error * generator.normal(size=simulations)
    found = spread * np.sqrt(generator.chisquare(freedom) / freedom)
    reach = stdtrit(freedom, 0.5 + confidence / 2) * found * error
    hits = int(np.sum(enough & (np.abs(estimate) + reach <= math.log(margin))))
    lower, upper = proportion_limits(hits, draws=simulations)
    return Power(hits / simulations, lower, upper, simulations)
