"""Random effects over a few campaigns: how far they differ, their mean, each one shrunken."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri, erfinv, ndtr, ndtri

NAN = float("nan")
FEWEST = 2
"""Campaigns below which nothing says how far campaigns differ."""
_GRID = 400
_SPREADS = 4000
_NONE = np.zeros(0)


@dataclass(frozen=True)
class RandomEffects:
    """Effects of several campaigns taken as drawn around a common mean.

    Attributes
    ----------
    mean, lower, upper : float
        Mean effect (median of what is known of it) and its limits; NaN where campaigns are too few.
    heterogeneity : float
        Variance of the true effects between campaigns, from the data alone.
    heterogeneity_lower, heterogeneity_upper : float
        Its limits.
    effects, effects_lower, effects_upper : numpy.ndarray
        Effect of each campaign drawn towards the mean, with limits, shape (n_campaigns,).
    """

    mean: float = NAN
    lower: float = NAN
    upper: float = NAN
    heterogeneity: float = NAN
    heterogeneity_lower: float = NAN
    heterogeneity_upper: float = NAN
    effects: np.ndarray = field(default_factory=lambda: _NONE)
    effects_lower: np.ndarray = field(default_factory=lambda: _NONE)
    effects_upper: np.ndarray = field(default_factory=lambda: _NONE)


def random_effects(
    effect: np.ndarray,
    *,
    variance: np.ndarray,
    confidence: float,
    spread_beforehand: float,
) -> RandomEffects:
    """Mean of effects that differ between campaigns, and each effect drawn towards it.

    The mean and the shrunken effects are averaged over all spreads between campaigns, each weighted
    by its restricted likelihood and its law beforehand: the most likely spread of two or three
    campaigns is often 0, and limits as if it were known would be too narrow, while those of
    Student's t with one degree of freedom say nothing.

    Parameters
    ----------
    effect : numpy.ndarray
        Effect of each campaign, such as a log time ratio, shape (n_campaigns,).
    variance : numpy.ndarray
        Its variance, positive, shape (n_campaigns,).
    confidence : float
        Confidence of all limits [1].
    spread_beforehand : float
        Scale of the half-normal law of the spread between campaigns before the data.

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
    Averages over the spread, with a uniform law of the mean: Röver 2020, J. Stat. Softw. 93 (6),
    sections 2.3 to 2.5; Gelman et al., Bayesian Data Analysis, 3rd ed., equations 5.17 to 5.21.
    A half-normal law of scale 0.5 for log ratios: Friede et al. 2017, Res. Synth. Methods 8, 79-91;
    Röver et al. 2021, Res. Synth. Methods 12, 448-474. Heterogeneity from the data alone: see
    `restricted_heterogeneity`, `heterogeneity_limits`.
    """
    values, spreads = np.asarray(effect, dtype=float), np.asarray(variance, dtype=float)
    if values.shape != spreads.shape or values.ndim != 1:
        raise ValueError(f"effects {values.shape} and variances {spreads.shape} must be alike")
    if not np.all(spreads > 0) or not np.all(np.isfinite(values)):
        raise ValueError("effects must be finite and variances positive")
    if len(values) < FEWEST:
        return RandomEffects()
    lowest, highest = heterogeneity_limits(values, variance=spreads, confidence=confidence)
    # spreads that are equally likely before the data
    share = (np.arange(_SPREADS) + 0.5) / _SPREADS
    tried = spread_beforehand * np.sqrt(2.0) * erfinv(share)
    losses = np.array([_loss(spread, values, spreads) for spread in tried])
    likely = np.exp(-(losses - losses.min()) / 2)
    likely /= likely.sum()
    weights = 1 / (spreads + tried[:, None] ** 2)
    total = weights.sum(axis=1)
    centre = (weights @ values) / total
    points = ((1 - confidence) / 2, 0.5, (1 + confidence) / 2)
    mean = [_quantile(point, centre, np.sqrt(1 / total), likely) for point in points]
    kept = tried[:, None] ** 2 * weights
    middle = centre[:, None] + kept * (values - centre[:, None])
    error = np.sqrt(kept * spreads + (1 - kept) ** 2 / total[:, None])
    own = np.array(
        [
            [_quantile(point, middle[:, place], error[:, place], likely) for point in points]
            for place in range(len(values))
        ]
    )
    return RandomEffects(
        mean=mean[1],
        lower=mean[0],
        upper=mean[2],
        heterogeneity=restricted_heterogeneity(values, variance=spreads),
        heterogeneity_lower=lowest,
        heterogeneity_upper=highest,
        effects=own[:, 1],
        effects_lower=own[:, 0],
        effects_upper=own[:, 2],
    )


def _quantile(point: float, centre: np.ndarray, error: np.ndarray, weight: np.ndarray) -> float:
    """Quantile of a mixture of normal laws."""
    reach = float(ndtri(point)) * error

    def excess(at: float) -> float:
        """Share below, less that wanted."""
        return float(np.sum(weight * ndtr((at - centre) / error))) - point

    # the quantile of a mixture lies between those of its parts, but for rounding
    edge = 1e-6 * float(np.max(error))
    low, high = float(np.min(centre + reach)) - edge, float(np.max(centre + reach)) + edge
    return float(brentq(excess, low, high, xtol=1e-9 * edge))


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
    # the likelihood is a product over independent contrasts, each of which falls once the variance
    # is above the square of its contrast; these squares add up to the plain sum of squares
    highest = float(np.sqrt(np.sum((effect - effect.mean()) ** 2)))
    if highest == 0.0:
        return 0.0
    grid = np.linspace(0.0, highest, _GRID + 1)
    best = int(np.argmin([_loss(float(spread), effect, variance) for spread in grid]))
    around = (float(grid[max(best - 1, 0)]), float(grid[min(best + 1, _GRID)]))
    found = minimize_scalar(
        _loss, bounds=around, args=(effect, variance), method="bounded", options={"xatol": 1e-10}
    )
    spread = float(found.x)
    return spread**2 if _loss(spread, effect, variance) < _loss(0.0, effect, variance) else 0.0


def _loss(spread: float, effect: np.ndarray, variance: np.ndarray) -> float:
    """Minus twice the restricted log-likelihood, but for a constant, at a spread."""
    weights = 1 / (variance + spread**2)
    squares = float(np.sum(weights * (effect - _mean(effect, weights)) ** 2))
    return squares - float(np.sum(np.log(weights))) + float(np.log(np.sum(weights)))


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
