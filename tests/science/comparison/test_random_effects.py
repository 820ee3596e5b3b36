"""Random effects against published meta-analyses and a library of statistics."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.stats.meta_analysis import combine_effects

from trivet.science.comparison.random_effects import random_effects

# Colditz et al. 1994, J. Am. Med. Assoc. 271, 698-702: trials of a vaccine, ended and not ended
# among treated and control.
VACCINE = np.array(
    [(4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619),
     (33, 5036, 47, 5761), (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892),
     (29, 7470, 45, 7232), (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338),
     (27, 16886, 29, 17825)], dtype=float,
)  # fmt: skip
# Rubin 1981, J. Educ. Stat. 6, 377-401: coaching in eight schools, effect and standard error.
SCHOOLS = np.array(
    [(28, 15), (8, 10), (-3, 16), (7, 11), (-1, 9), (1, 11), (18, 10), (12, 18)], dtype=float
)


def _vaccine() -> tuple[np.ndarray, np.ndarray]:
    """Log relative risks and their variances."""
    ended, spared, control_ended, control_spared = VACCINE.T
    treated, control = ended + spared, control_ended + control_spared
    effect = np.log(ended / treated) - np.log(control_ended / control)
    return effect, 1 / ended - 1 / treated + 1 / control_ended - 1 / control


def test_the_vaccine_trials_give_the_published_heterogeneity() -> None:
    """Restricted likelihood: 0.3132 (0.1197 to 1.1115)."""
    # Viechtbauer 2010, J. Stat. Softw. 36 (3), sections 3.2 and 3.4
    effect, variance = _vaccine()
    found = random_effects(effect, variance=variance, confidence=0.95, spread_beforehand=0.5)
    assert found.heterogeneity == pytest.approx(0.3132, abs=5e-5)
    assert found.heterogeneity_lower == pytest.approx(0.1197, abs=5e-5)
    assert found.heterogeneity_upper == pytest.approx(1.1115, abs=5e-5)


def test_schools_are_shrunken_as_published() -> None:
    """Eight schools: quartiles of each effect with a nearly uniform law beforehand."""
    # Gelman et al., Bayesian Data Analysis, 3rd ed., table 5.3, from memory; of 200 draws, which
    # leave quartiles about 1 open, and the tails of the table far more
    published = np.array(
        [(7, 10, 16), (3, 8, 12), (2, 7, 11), (4, 8, 11), (1, 5, 10), (2, 6, 10), (7, 10, 15),
         (3, 8, 13)], dtype=float,
    )  # fmt: skip
    effect, error = SCHOOLS.T
    found = random_effects(effect, variance=error**2, confidence=0.5, spread_beforehand=60.0)
    assert found.heterogeneity == 0
    quartiles = np.column_stack([found.effects_lower, found.effects, found.effects_upper])
    assert quartiles == pytest.approx(published, abs=1.5)


def test_schools_that_are_held_to_be_alike_are_pooled_as_one() -> None:
    """Without any spread beforehand the mean is 7.7 with variance 16.6, and so is each effect."""
    # Gelman et al., Bayesian Data Analysis, 3rd ed., section 5.5, pooled estimate
    effect, error = SCHOOLS.T
    found = random_effects(effect, variance=error**2, confidence=0.95, spread_beforehand=1e-6)
    assert found.mean == pytest.approx(7.7, abs=0.05)
    assert ((found.upper - found.lower) / (2 * 1.959964)) ** 2 == pytest.approx(16.6, abs=0.05)
    assert found.effects == pytest.approx(np.full(8, found.mean), abs=1e-6)


TWO = [((0.1, 0.9), (0.02, 0.09)), ((0.5, -0.4), (0.1, 0.1)), ((1.27, 1.06), (0.08, 0.25))]


@pytest.mark.parametrize(("effect", "variance"), TWO[:2])
def test_heterogeneity_of_two_campaigns_agrees_with_a_library(
    effect: tuple[float, ...], variance: tuple[float, ...]
) -> None:
    """Of two campaigns every estimator of heterogeneity is the same."""
    given = combine_effects(np.array(effect), np.array(variance), method_re="chi2")
    found = random_effects(
        np.array(effect), variance=np.array(variance), confidence=0.95, spread_beforehand=0.5
    )
    assert found.heterogeneity == pytest.approx(given.tau2, rel=1e-6)
    # two campaigns say next to nothing of how far campaigns differ
    assert found.heterogeneity_upper > 10 * max(variance)


@pytest.mark.parametrize(("effect", "variance"), TWO)
def test_limits_hold_what_is_left_after_adding_up_over_mean_and_spread(
    effect: tuple[float, ...], variance: tuple[float, ...]
) -> None:
    """95 % of each effect lies within its limits, added up over a grid of means and spreads."""
    # Gelman et al., Bayesian Data Analysis, 3rd ed., equations 5.16 and 5.17, step by step
    seen, own = np.array(effect), np.array(variance)
    found = random_effects(seen, variance=own, confidence=0.95, spread_beforehand=0.5)
    spread = np.linspace(1e-4, 3.0, 601)[:, None]
    mean = np.linspace(seen.min() - 8, seen.max() + 8, 1601)[None, :]
    density = norm.pdf(spread, scale=0.5)
    for value, error in zip(seen, own, strict=True):
        density = density * norm.pdf(value, loc=mean, scale=np.sqrt(error + spread**2))
    density = density / density.sum()
    for place, limits in enumerate(
        zip(found.effects_lower, found.effects, found.effects_upper, strict=True)
    ):
        precision = 1 / own[place] + 1 / spread**2
        centre = (seen[place] / own[place] + mean / spread**2) / precision
        below = [
            float((density * norm.cdf(at, loc=centre, scale=np.sqrt(1 / precision))).sum())
            for at in limits
        ]
        assert below == pytest.approx([0.025, 0.5, 0.975], abs=2e-3)
    of_mean = [float(density[:, mean[0] <= at].sum()) for at in (found.lower, found.upper)]
    assert of_mean == pytest.approx([0.025, 0.975], abs=4e-3)


def test_a_campaign_is_known_better_with_another_that_agrees() -> None:
    """The limits of a shrunken effect are no wider than its own where the other says the same."""
    found = random_effects(
        np.array([1.2, 1.2]), variance=np.array([0.1, 0.1]), confidence=0.95, spread_beforehand=0.5
    )
    half = (found.effects_upper - found.effects_lower) / 2
    assert np.all(half < 1.959964 * np.sqrt(0.1))
    assert found.effects == pytest.approx([1.2, 1.2])


def test_one_campaign_says_nothing_of_others() -> None:
    """With fewer than two campaigns nothing is given."""
    found = random_effects(
        np.array([0.4]), variance=np.array([0.1]), confidence=0.95, spread_beforehand=0.5
    )
    assert np.isnan(found.mean)
    assert np.isnan(found.heterogeneity)
    assert found.effects.size == 0


def test_a_variance_of_nothing_is_refused() -> None:
    """A variance of 0 would outweigh all others."""
    with pytest.raises(ValueError, match="positive"):
        random_effects(
            np.array([0.4, 0.1]),
            variance=np.array([0.1, 0.0]),
            confidence=0.95,
            spread_beforehand=0.5,
        )
