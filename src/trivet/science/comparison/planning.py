"""How many cells the next campaign needs: ends by formula, and power of showing equivalence."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from trivet.science.survival.exact_log_rank import proportion_limits


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
        As in `trivet.science.comparison.design_power.design_power`.
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
