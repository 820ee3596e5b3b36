"""Random effects against published meta-analyses and a library of statistics."""

from __future__ import annotations

import numpy as np
import pytest
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


def test_the_vaccine_trials_give_the_published_heterogeneity_and_mean() -> None:
    """Restricted likelihood: 0.3132 (0.1197 to 1.1115), mean -0.7145."""
    # Viechtbauer 2010, J. Stat. Softw. 36 (3), sections 3.2 and 3.4
    effect, variance = _vaccine()
    found = random_effects(effect, variance=variance, confidence=0.95)
    assert found.heterogeneity == pytest.approx(0.3132, abs=5e-5)
    assert found.heterogeneity_lower == pytest.approx(0.1197, abs=5e-5)
    assert found.heterogeneity_upper == pytest.approx(1.1115, abs=5e-5)
    assert found.mean == pytest.approx(-0.7145, abs=5e-5)


def test_schools_that_agree_are_pooled_as_one() -> None:
    """Eight schools: no heterogeneity is seen, the mean is 7.7 with variance 16.6."""
    # Gelman et al., Bayesian Data Analysis, 3rd ed., section 5.5, pooled estimate
    effect, error = SCHOOLS.T
    found = random_effects(effect, variance=error**2, confidence=0.95)
    assert found.heterogeneity == 0
    assert found.heterogeneity_lower == 0
    assert found.mean == pytest.approx(7.7, abs=0.05)
    assert found.variance == pytest.approx(16.6, abs=0.05)
    assert found.effects == pytest.approx(np.full(8, found.mean))
    # without the floor limits are narrower, since these schools agree better than by chance
    narrow = random_effects(effect, variance=error**2, confidence=0.95, widened=False)
    assert narrow.variance < found.variance


@pytest.mark.parametrize(
    ("effect", "variance"), [((0.1, 0.9), (0.02, 0.09)), ((0.5, -0.4), (0.1, 0.1))]
)
def test_two_campaigns_agree_with_a_library(
    effect: tuple[float, ...], variance: tuple[float, ...]
) -> None:
    """Of two campaigns every estimator of heterogeneity is the same; limits are Hartung's."""
    given = combine_effects(np.array(effect), np.array(variance), method_re="chi2", use_t=True)
    found = random_effects(
        np.array(effect), variance=np.array(variance), confidence=0.95, widened=False
    )
    assert found.heterogeneity == pytest.approx(given.tau2, rel=1e-6)
    assert found.mean == pytest.approx(given.mean_effect_re, rel=1e-6)
    assert found.variance == pytest.approx(given.var_hksj_re, rel=1e-6)
    low, high = given.conf_int(use_t=True)[3]  # Hartung-Knapp, random effects
    assert (found.lower, found.upper) == pytest.approx((low, high), rel=1e-6)
    # two campaigns say next to nothing of how far campaigns differ
    assert found.heterogeneity_upper > 100 * found.heterogeneity


def test_an_effect_is_shrunken_by_the_precisions_of_both_sources() -> None:
    """Each effect is the mean of what was seen and the common mean, weighted by precision."""
    # Gelman et al., Bayesian Data Analysis, 3rd ed., equation 5.17
    effect, variance = _vaccine()
    found = random_effects(effect, variance=variance, confidence=0.95)
    own, common = 1 / variance, 1 / found.heterogeneity
    expected = (own * effect + common * found.mean) / (own + common)
    assert found.effects == pytest.approx(expected)
    # between what was seen and the mean, and known better than alone where the mean is known
    assert np.all(np.abs(found.effects - found.mean) <= np.abs(effect - found.mean))
    spread = (found.effects_upper - found.effects_lower) ** 2
    given_the_mean = 1 / (own + common)
    at_least = (2 * 2.17881) ** 2 * given_the_mean  # Student's t for 12 degrees of freedom, tables
    assert np.all(spread >= at_least * (1 - 1e-5))


def test_one_campaign_says_nothing_of_others() -> None:
    """With fewer than two campaigns nothing is given."""
    found = random_effects(np.array([0.4]), variance=np.array([0.1]), confidence=0.95)
    assert np.isnan(found.mean)
    assert np.isnan(found.heterogeneity)
    assert found.effects.size == 0


def test_a_variance_of_nothing_is_refused() -> None:
    """A variance of 0 would outweigh all others."""
    with pytest.raises(ValueError, match="positive"):
        random_effects(np.array([0.4, 0.1]), variance=np.array([0.1, 0.0]), confidence=0.95)
