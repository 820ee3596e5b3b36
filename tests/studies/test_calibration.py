"""The calibration study: what it draws has the law it says, and its tables count right."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import binom, kstest, lognorm, weibull_min

from trivet.studies.calibration.campaign_tables import MARGIN
from trivet.studies.calibration.invented_lives import Scenario, draw, quantile, restricted_mean_of
from trivet.studies.calibration.plain import SCENARIOS, Tally, study
from trivet.studies.calibration.plain_table import interval_table, verdict_table
from trivet.studies.calibration.rates import RATIOS, marked_from, rate, too_few, too_many


@pytest.mark.parametrize(
    ("law", "known"),
    [("weibull", weibull_min(1 / 0.3)), ("lognormal", lognorm(0.3))],
)
def test_lives_have_their_law(law: str, known: object) -> None:
    """Uncensored lives of the control follow the named law; its quantile and mean are right."""
    random = np.random.default_rng(1)
    lives = draw(Scenario((400, 400), law=law), ratio=2.0, generator=random)
    own = lives.group == 0
    assert kstest(lives.duration[own], known.cdf).pvalue > 1e-3
    assert kstest(lives.duration[~own] / 2, known.cdf).pvalue > 1e-3
    assert quantile(law, spread=0.3, share=0.2) == pytest.approx(known.ppf(0.2))
    mean = restricted_mean_of(law, spread=0.3, scale=1.5, until=1.2)
    assert mean == pytest.approx(quad(lambda t: known.sf(t / 1.5), 0, 1.2)[0], rel=1e-5)


def test_censoring_has_its_share() -> None:
    """About the stated share of the control is censored; an unequal group more."""
    random = np.random.default_rng(1)
    lives = draw(Scenario((2000, 2000), censored=0.5), ratio=1.0, generator=random)
    assert 1 - lives.observed.mean() == pytest.approx(0.5, abs=0.04)
    lives = draw(Scenario((2000, 2000), censored=0.5, unequal=True), ratio=1.0, generator=random)
    shares = [1 - lives.observed[lives.group == side].mean() for side in (0, 1)]
    assert shares == pytest.approx([0.25, 0.75], abs=0.05)


def test_bad_rates_are_marked() -> None:
    """A rate beyond chance is marked: 5 % of 1000 is not, 10 % is; likewise a low coverage."""
    assert not too_many(50, 1000)
    assert too_many(100, 1000)
    assert too_few(900, 1000)
    assert not too_few(950, 1000)
    assert too_many(75, 1000) == (binom.sf(74, 1000, 0.05) < 0.001)
    assert rate(100, 1000) == "10.0 (!)"


def test_the_table_says_from_where_on_a_rate_is_marked() -> None:
    """That is the smallest share that chance reaches less often than once in 1000."""
    trials = 400
    hits = round(marked_from(trials) * trials / 100)
    assert binom.sf(hits - 1, trials, 0.05) < 0.001 < binom.sf(hits - 2, trials, 0.05)


def test_counts_add_up() -> None:
    """Every campaign has a verdict, and each interval is covered, missed or undefined."""
    scenario = Scenario((4, 4), censored=0.3)
    own = [study(scenario, ratio=ratio, replicates=3, seed=(1, 2)) for ratio in RATIOS]
    for tally in own:
        assert tally.replicates == len(tally.words) == 3
        assert all(len(words) == 1 for words in tally.words)
        noted = tally.covered + tally.missed + tally.undefined
        assert noted["time ratio"] + noted["time ratio, few ends"] == 3
        assert noted["survival, beta product"] == (9 if tally.ratio == 1.0 else 0)
    assert any(line.startswith("| 4 v 4 | 30 %") for line in verdict_table([own]))
    assert len(list(interval_table(own))) > 10


def test_wrong_verdicts_are_those_against_the_truth() -> None:
    """`different` is wrong at a ratio of 1, `equivalent` at the margin; both are counted there."""
    own = [Tally(scenario=SCENARIOS[0], ratio=ratio) for ratio in RATIOS]
    for tally, words in zip(
        own, ("different", "equivalent", "different", "different"), strict=True
    ):
        tally.words = [{words}, {"inconclusive"}]
    row = list(verdict_table([own]))[-1]
    assert "| 50.0 | 50.0 | 0.0 | 50.0 | 50.0 | 0.0 |" in row
    for tally in own:
        tally.words = [{"different", "equivalent"}] * 20
    assert "| 100.0 (!) | 100.0 (!) | 100.0 |" in list(verdict_table([own]))[-1]


def test_an_interval_without_limits_is_undefined() -> None:
    """No limit on both sides is counted apart; an open side reaches for ever."""
    tally = Tally(scenario=SCENARIOS[0], ratio=1.0)
    nan = float("nan")
    for lower, upper in ((nan, nan), (0.5, nan), (1.5, nan), (0.5, 1.5)):
        tally.note("time ratio", lower, upper, 1.0)
    counts = (tally.covered, tally.missed, tally.undefined)
    assert [count["time ratio"] for count in counts] == [2, 1, 1]
    assert RATIOS[1] == MARGIN
