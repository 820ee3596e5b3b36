"""Curves, limits and incidences of few cells, against numbers worked out by hand.

Source of the numbers: Fay, Brittain & Proschan 2013, Biostatistics 14, 723, for the beta product
limits of untied cells, which follow from the beta law in closed form; Aalen & Johansen 1978 for
incidences. Both examples of limits are computed here again from the closed form.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trivet.science.comparison.contrast import MonteCarlo
from trivet.science.comparison.family import Rules, compare_groups
from trivet.science.comparison.measure_tests import permutation_difference
from trivet.science.lives.lives import Lives
from trivet.science.survival.beta_product import beta_product_limits, beta_product_median
from trivet.science.survival.causes import cumulative_incidence
from trivet.science.survival.exact_log_rank import exact_log_rank
from trivet.science.survival.group_life import between_checks
from trivet.science.survival.product_limit import product_limit


def limits(duration: list[float], observed: list[int]) -> dict[float, float]:
    """Lower limit from each row of the curve on."""
    curve = product_limit(np.array(duration), observed=np.array(observed))
    return dict(zip(curve.time.tolist(), beta_product_limits(curve)[0].tolist(), strict=True))


def test_after_a_censoring_one_cell_of_two_is_at_risk() -> None:
    """Lives 1+ and 2: on (1, 2) one cell is left, so the lower limit is 0.025, not 0.158."""
    assert limits([1.0, 2.0], [0, 1])[1.0] == pytest.approx(0.025, rel=1e-6)


def test_six_short_cells_say_nothing_of_the_time_after_them() -> None:
    """Eight cells, six 100+, then 500 and 600+: 0.025^(1/2) on (100, 500); median from 100 on."""
    duration, observed = [100.0] * 6 + [500.0, 600.0], [0] * 6 + [1, 0]
    assert limits(duration, observed)[100.0] == pytest.approx(0.025**0.5, rel=1e-6)
    curve = product_limit(np.array(duration), observed=np.array(observed))
    assert beta_product_median(curve)[0] == 100.0


def test_without_censoring_limits_are_those_of_clopper_and_pearson() -> None:
    """Five ends of five: after the second the lower limit is the beta(3, 3) quantile."""
    from scipy.stats import beta  # noqa: PLC0415

    found = limits([1.0, 2.0, 3.0, 4.0, 5.0], [1] * 5)
    assert found[2.0] == pytest.approx(beta.ppf(0.025, 3, 3))
    assert found[5.0] == 0.0


def test_the_lower_limit_of_the_median_misses_as_seldom_as_it_says() -> None:
    """An old short batch and a young long one: at most 2.5 % within chance of 600 campaigns.

    Exponential lives of median 1; eight cells followed to 0.5, four to 1.5. Read with the cells
    before the censoring, the limit misses in some 10 %.
    """
    rng = np.random.default_rng(5)
    misses = 0
    for _ in range(600):
        life = rng.exponential(1.0 / np.log(2.0), 12)
        follow = np.array([0.5] * 8 + [1.5] * 4)
        duration, observed = np.minimum(life, follow), (life <= follow).astype(int)
        lower = beta_product_median(product_limit(duration, observed=observed))[0]
        misses += bool(lower > 1.0)
    assert misses <= 0.025 * 600 + 3.0 * (0.025 * 0.975 * 600) ** 0.5


def test_incidence_honours_delayed_entry() -> None:
    """Entry 0, end 1; entry 1, end 2: nobody is left after 1, so the incidence there is 1."""
    found = cumulative_incidence(
        np.array([1.0, 2.0]), cause=np.array([1, 1]), causes=1, entry=np.array([0.0, 1.0])
    )
    assert found.survival[0] == 0.0
    assert found.incidence[0, 0] == 1.0


@given(st.integers(2, 12), st.integers(0, 2**31))
def test_incidences_and_survival_add_up_with_entry_too(cells: int, seed: int) -> None:
    """At every time incidences of all causes and survival add up to 1."""
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(cells) < 0.5, 0.0, rng.integers(0, 5, cells).astype(float))
    duration = entry + rng.integers(1, 8, cells)
    cause = rng.integers(0, 4, cells)
    found = cumulative_incidence(duration, cause=cause, causes=3, entry=entry)
    np.testing.assert_allclose(found.incidence.sum(axis=0) + found.survival, 1.0, atol=1e-12)


def test_eleven_against_twelve_cells_are_enumerated() -> None:
    """All 1,352,078 relabellings of untied cells count, none is drawn."""
    rng = np.random.default_rng(1)
    found = exact_log_rank(
        rng.random(23), observed=np.ones(23, dtype=int), group=np.array([0] * 11 + [1] * 12)
    )
    assert (found.permutations, found.draws) == (1_352_078, 0)


def test_the_smallest_attainable_p_is_never_a_sample() -> None:
    """Eleven against eleven: two of C(22, 11) relabellings, 2.8e-6, drawn or not."""
    values = np.arange(22, dtype=float)
    labels = np.arange(22) % 2 == 0
    for limit in (1_500_000, 10):
        found = permutation_difference(
            values,
            in_group=labels,
            stratum=np.zeros(22),
            confidence=0.95,
            enumeration_limit=limit,
            draws=1000,
            seed=1,
        )
        assert found.smallest_attainable_p == pytest.approx(2 / 705_432)


def test_turnbull_puts_the_median_where_the_ends_are() -> None:
    """(1, 2], (1, 9], (1, 9]: all mass lies in (1, 2], so the median is 2 and not 9."""
    found = between_checks(np.array([1.0, 1.0, 1.0]), upper=np.array([2.0, 9.0, 9.0]))
    assert found.median.median == 2.0
    assert np.isnan(found.weibull.shape)
    assert "known only between checks" in found.reason


def test_lives_between_checks_are_never_called_equivalent() -> None:
    """True ratio 0.8 at a margin of 1.25, one group checked every unit, the other every eight."""
    rng = np.random.default_rng(8)
    group = np.repeat([0, 1], 12)
    for _ in range(10):
        life = np.where(group == 1, 0.8, 1.0) * 20.0 * rng.weibull(1 / 0.1, 24)
        step = np.where(group == 1, 8.0, 1.0)
        upper = np.ceil(life / step) * step
        found = compare_groups(
            Lives(
                duration=upper,
                observed=np.ones(24, dtype=int),
                group=group,
                batch=np.zeros(24),
                lower=upper - step,
                upper=upper,
            ),
            groups=2,
            restriction_time=10.0,
            rules=Rules(0.95, 1.25, stratify=True, drawing=MonteCarlo(draws=1000)),
        )
        judged = found.contrasts[0]
        assert judged.verdict != "equivalent"
        assert np.isnan(judged.contrast.measure("time ratio").estimate)
