"""Looks every week at one level in all.

Numbers: Lan & DeMets 1983, Biometrika 70, 659, in closed form for the spending; the worked example
of twelve cells was computed by independent code from the definition of the rule.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from trivet.science.lives.lives import Lives
from trivet.science.survival.looks import lives_at, looks, relabelled, spending


@pytest.mark.parametrize(
    ("fraction", "spent"),
    [(0.2, 1.1726e-5), (0.4, 1.94191e-3), (0.6, 0.0113964), (0.8, 0.0284296), (1.0, 0.05)],
)
def test_spending_is_that_of_obrien_and_fleming(fraction: float, spent: float) -> None:
    """Alpha 0.05, two-sided, by the closed form."""
    assert spending(fraction, alpha=0.05) == pytest.approx(spent, rel=5e-5)


# Twelve cells, two batches of six, three each of control (0) and group (1), batch B 100 h later.
GROUP = np.array([0, 0, 0, 1, 1, 1, 0, 0, 0, 1, 1, 1])
BATCH = np.array([0] * 6 + [1] * 6)
START = np.where(BATCH == 0, 0.0, 100.0)
AGES = np.array([410, 455, 620, 560, 705, 760, 300, 390, 520, 480, 600, 9999], dtype=float)
ENDS = np.array([1] * 11 + [0])
LIVES = Lives(duration=AGES, observed=ENDS, group=GROUP, batch=BATCH)


def example() -> tuple[tuple[float, ...], list[Lives]]:
    """Looks at 400, 600 and 800 h; each end is known when it happens."""
    times = (400.0, 600.0, 800.0)
    return times, [lives_at(LIVES, time, start=START, known_at=START + AGES) for time in times]


def test_the_worked_example_comes_back_to_the_fraction() -> None:
    """400 relabellings: statistics, p, boundaries, nominal levels and what is spent."""
    times, lives = example()
    found = looks(
        lives,
        times=times,
        fractions=[time / 800.0 for time in times],
        alpha=0.05,
    )
    expected = [
        (0.005575, Fraction(1, 2), 1.0, None, 0.0, 0.0, False),
        (0.023625, Fraction(17, 10), 0.14, Fraction(37, 10), 0.005, 0.005, False),
        (0.05, Fraction(91, 30), 0.03, Fraction(43, 15), 0.05, 0.05, True),
    ]
    for look, (may, statistic, p, boundary, nominal, spent, crossed) in zip(
        found, expected, strict=True
    ):
        assert look.may_spend == pytest.approx(may, rel=1e-4)
        assert look.statistic == pytest.approx(float(statistic), abs=1e-12)
        assert look.p == pytest.approx(p)
        if boundary is None:
            assert look.boundary == np.inf
        else:
            assert look.boundary == pytest.approx(float(boundary), abs=1e-12)
            assert look.nominal_level == pytest.approx(nominal)
        assert look.spent == pytest.approx(spent)
        assert look.crossed == crossed


def test_all_relabellings_of_the_example_are_taken() -> None:
    """Two batches of six, three and three: 20 times 20 ways, each once, sizes kept."""
    labels, complete = relabelled(GROUP, stratum=BATCH)
    assert complete
    assert len(np.unique(labels, axis=0)) == 400
    assert set((labels[:, :6] == 1).sum(axis=1)) == {3}


def test_an_end_counts_from_when_it_is_known() -> None:
    """A third cycle in a row decides: until then the cell counts as alive, at its age."""
    known = START + AGES + 30.0
    early = lives_at(LIVES, 420.0, start=START, known_at=known)
    assert (early.observed[0], early.duration[0]) == (0, 420.0)
    late = lives_at(LIVES, 440.0, start=START, known_at=known)
    assert (late.observed[0], late.duration[0]) == (1, 410.0)


def test_no_more_campaigns_are_called_different_than_alpha() -> None:
    """Equal lives, five weekly looks, 300 campaigns: at most 5 % within chance; uncorrected, more.

    Weibull lives of shape 1 / 0.3, three batches a week apart, 16 cells.
    """
    rng = np.random.default_rng(2)
    batch = np.array([0] * 6 + [1] * 6 + [2] * 4)
    group = np.array([0, 0, 0, 1, 1, 1] * 2 + [0, 0, 1, 1])
    start = batch * 168.0
    times = [start.max() + 168.0 * (week + 2) for week in range(5)]
    corrected = uncorrected = 0
    for seed in range(300):
        lives = 700.0 * rng.weibull(1 / 0.3, 16)
        seen = Lives(duration=lives, observed=np.ones(16, dtype=int), group=group, batch=batch)
        known = [lives_at(seen, time, start=start, known_at=start + lives) for time in times]
        found = looks(
            known,
            times=times,
            fractions=[(place + 1) / 5 for place in range(5)],
            alpha=0.05,
            most=400,
            seed=seed,
        )
        corrected += any(look.crossed for look in found)
        uncorrected += any(look.p <= 0.05 for look in found)
    assert corrected <= 0.05 * 300 + 3.0 * (0.05 * 0.95 * 300) ** 0.5
    assert uncorrected > corrected


def test_three_groups_are_looked_at_together() -> None:
    """The joint statistic is a form of all sums; labels exchanged give the same one."""
    rng = np.random.default_rng(4)
    group = np.array([0, 1, 2] * 3)
    lives = Lives(duration=rng.random(9), observed=np.ones(9, dtype=int), group=group)
    how = {"times": [1.0], "fractions": [1.0], "alpha": 0.05}
    one = looks([lives], **how)[0]
    other = looks([replace(lives, group=np.array([2, 0, 1])[group])], **how)[0]
    assert one.statistic == pytest.approx(other.statistic)
    assert one.p == pytest.approx(other.p)
