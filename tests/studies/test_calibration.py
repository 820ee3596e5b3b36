"""The calibration study: what it draws has the law it says, and its tables count right."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import binom, kstest, lognorm, weibull_min

from trivet.studies.calibration import MARGIN, SCENARIOS, Tally, main, study
from trivet.studies.calibration_table import tables, too_few, too_many
from trivet.studies.invented_lives import Scenario, draw, quantile, restricted_mean_of


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


def test_counts_add_up() -> None:
    """Every campaign has a verdict, and each interval is covered, missed or undefined."""
    scenario = Scenario((4, 4), censored=0.3)
    pair = [study(scenario, ratio=ratio, replicates=3, seed=(1, 2)) for ratio in (1.0, MARGIN)]
    for tally in pair:
        assert sum(tally.verdicts.values()) == tally.replicates == 3
        noted = tally.covered + tally.missed + tally.undefined
        assert noted["time ratio"] + noted["time ratio, few ends"] == 3
        assert noted["survival, beta product"] == 9
    lines = list(tables(pair))
    assert any(line.startswith("| 4 v 4 | 30 %") for line in lines)


def test_an_interval_without_limits_is_undefined() -> None:
    """No limit on both sides is counted apart; an open side reaches for ever."""
    tally = Tally(SCENARIOS[0], 1.0)
    nan = float("nan")
    for lower, upper in ((nan, nan), (0.5, nan), (1.5, nan), (0.5, 1.5)):
        tally.note("time ratio", lower, upper, 1.0)
    counts = (tally.covered, tally.missed, tally.undefined)
    assert [count["time ratio"] for count in counts] == [2, 1, 1]


def test_the_command_prints_both_tables(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`make calibrate` prints rates by scenario and coverage by interval, with its seed."""
    monkeypatch.setattr("trivet.studies.calibration.SCENARIOS", SCENARIOS[:1])
    main(["--replicates", "2", "--seed", "7"])
    said = capsys.readouterr().out
    assert "2 campaigns a scenario and truth, seed 7" in said
    assert "| 3 v 3 |" in said
    assert "| survival, beta product |" in said
