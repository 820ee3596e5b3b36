"""Random effects over a few campaigns: how far they differ, their mean, each one shrunken."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri, stdtrit

NAN = float("nan")
FEWEST = 2
"""Campaigns below which nothing says how far campaigns differ."""
_GRID = 400
_NONE = np.zeros(0)


@dataclass(frozen=True)
class RandomEffects:
    """Effects of several campaigns taken as drawn around a common mean.

    Attributes
    ----------
    mean, lower, upper : float
        Mean effect and its limits; NaN where campaigns are too few.
    variance : float
        Variance of the mean.
    heterogeneity : float
        Variance of the true effects between campaigns.
    heterogeneity_lower, heterogeneity_upper : float
        Its limits; infinite where none is found.
    effects, effects_lower, effects_upper : numpy.ndarray
        Effect of each campaign drawn towards the mean, with limits, shape (n_campaigns,).
    """

    mean: float = NAN
    lower: float = NAN
    upper: float = NAN
    variance: float = NAN
    heterogeneity: float = NAN
    heterogeneity_lower: float = NAN
    heterogeneity_upper: float = NAN
    effects: np.ndarray = field(default_factory=lambda: _NONE)
    effects_lower: np.ndarray = field(default_factory=lambda: _NONE)
    effects_upper: np.ndarray = field(default_factory=lambda: _NONE)


def random_effects(
    effect: np.ndarray, *, variance: np.ndarray, confidence: float, widened: bool = True
) -> RandomEffects:
    """Mean of effects that differ between campaigns, and each effect drawn towards it.

    Parameters
    ----------
    effect : numpy.ndarray
        Effect of each campaign, such as a log time ratio, shape (n_campaigns,).
    variance : numpy.ndarray
        Its variance, positive, shape (n_campaigns,).
    confidence : float
        Confidence of all limits [1].
    widened : bool
        Whether limits are never narrower than those of campaigns that agree by chance.

    Returns
    -------
    RandomEffects
        All NaN with fewer than two campaigns.

    Raises
    ------
    ValueError
        Shapes differ, a variance is not positive.

    References
    ----------
    Heterogeneity by restricted likelihood and its limits by the generalised Q statistic:
    Viechtbauer 2005, J. Educ. Behav. Stat. 30, 261-293, and 2007, Stat. Med. 26, 37-52. Limits of
    the mean: Hartung & Knapp 2001, Stat. Med. 20, 1771-1782; not narrowed below the weights' own
    error: Röver, Knapp & Friede 2015, BMC Med. Res. Methodol. 15, 99. Shrunken effects and their
    variance: Raudenbush & Bryk 1985, J. Educ. Stat. 10, 75-98, with Morris 1983, J. Am. Stat.
    Assoc. 78, 47-55.
    """
    values, spreads = np.asarray(effect, dtype=float), np.asarray(variance, dtype=float)
    if values.shape != spreads.shape or values.ndim != 1:
        raise ValueError(f"effects {values.shape} and variances {spreads.shape} must be alike")
    if not np.all(spreads > 0) or not np.all(np.isfinite(values)):
        raise ValueError("effects must be finite and variances positive")
    count = len(values)
    if count < FEWEST:
        return RandomEffects()
    between = restricted_heterogeneity(values, variance=spreads)
    lowest, highest = heterogeneity_limits(values, variance=spreads, confidence=confidence)
    weights = 1 / (spreads + between)
    mean = _mean(values, weights)
    scatter = float(np.sum(weights * (values - mean) ** 2)) / (count - 1)
    of_mean = (max(scatter, 1.0) if widened else scatter) / float(np.sum(weights))
    reach = float(stdtrit(count - 1, (1 + confidence) / 2))
    kept = between / (between + spreads)
    effects = mean + kept * (values - mean)
    own = reach * np.sqrt(kept * spreads + (1 - kept) ** 2 * of_mean)
    half = reach * float(np.sqrt(of_mean))
    return RandomEffects(
        mean=mean,
        lower=mean - half,
        upper=mean + half,
        variance=of_mean,
        heterogeneity=between,
        heterogeneity_lower=lowest,
        heterogeneity_upper=highest,
        effects=effects,
        effects_lower=effects - own,
        effects_upper=effects + own,
    )


def restricted_heterogeneity(effect: np.ndarray, *, variance: np.ndarray) -> float:
    """Variance between campaigns at the maximum of the restricted likelihood, at least 0.

    Parameters
    ----------
    effect, variance : numpy.ndarray
        As in `random_effects`.

    References
    ----------
    Viechtbauer 2005, J. Educ. Behav. Stat. 30, 261-293, equation 10 (its logarithm).
    """

    def loss(spread: float) -> float:
        """Minus twice the restricted log-likelihood, but for a constant, at a spread."""
        weights = 1 / (variance + spread**2)
        squares = float(np.sum(weights * (effect - _mean(effect, weights)) ** 2))
        return squares - float(np.sum(np.log(weights))) + float(np.log(np.sum(weights)))

    # the likelihood is a product over independent contrasts, each of which falls once the variance
    # is above the square of its contrast; these squares add up to the plain sum of squares
    highest = float(np.sqrt(np.sum((effect - effect.mean()) ** 2)))
    if highest == 0.0:
        return 0.0
    grid = np.linspace(0.0, highest, _GRID + 1)
    best = int(np.argmin([loss(spread) for spread in grid]))
    around = (float(grid[max(best - 1, 0)]), float(grid[min(best + 1, _GRID)]))
    found = minimize_scalar(loss, bounds=around, method="bounded", options={"xatol": 1e-10})
    spread = float(found.x)
    return spread**2 if loss(spread) < loss(0.0) else 0.0


def heterogeneity_limits(
    effect: np.ndarray, *, variance: np.ndarray, confidence: float
) -> tuple[float, float]:
    """Limits of the variance between campaigns, by the generalised Q statistic.

    Parameters
    ----------
    effect, variance, confidence
        As in `random_effects`.

    Returns
    -------
    tuple of float
        Lower and upper limit; both 0 where the effects agree better than chance allows.

    References
    ----------
    Viechtbauer 2007, Stat. Med. 26, 37-52, section 3.4.
    """
    tail, freedom = (1 - confidence) / 2, len(effect) - 1
    return (
        _where_scatter_is(float(chdtri(freedom, tail)), effect, variance),
        _where_scatter_is(float(chdtri(freedom, 1 - tail)), effect, variance),
    )


def _where_scatter_is(wanted: float, effect: np.ndarray, variance: np.ndarray) -> float:
    """Variance between campaigns at which the weighted squares are as wanted; they fall with it."""

    def excess(between: float) -> float:
        """Weighted squares about the mean, less those wanted."""
        weights = 1 / (variance + between)
        return float(np.sum(weights * (effect - _mean(effect, weights)) ** 2)) - wanted

    if excess(0.0) <= 0:
        return 0.0
    # every weight is below 1 / between, so that the squares are below the plain ones over it
    highest = float(np.sum((effect - effect.mean()) ** 2)) / wanted
    return float(brentq(excess, 0.0, highest, xtol=1e-12 * highest, rtol=1e-12))


def _mean(values: np.ndarray, weights: np.ndarray) -> float:
    """Weighted mean."""
    return float(np.sum(weights * values) / np.sum(weights))
