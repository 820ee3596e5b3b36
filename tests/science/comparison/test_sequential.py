"""Contrasts at weekly looks: one level in all, closed over the contrasts, and shown stays shown.

The worked example of twelve cells was computed by independent code from the definition of the rule;
closed testing: Marcus, Peritz & Gabriel 1976, Biometrika 63, 655.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trivet.reasons import AtLooks
from trivet.science.comparison.contrast import MonteCarlo
from trivet.science.comparison.family import Rules
from trivet.science.comparison.sequential import Calendar, Held, Sequential, Shown, sequential
from trivet.science.lives.lives import Lives

RULES = Rules(confidence=0.95, margin=1.25, stratify=True, drawing=MonteCarlo(1_500_000, 2_000, 1))
GROUP = np.array([0, 0, 0, 1, 1, 1, 0, 0, 0, 1, 1, 1])
BATCH = np.array(["A"] * 6 + ["B"] * 6)
START = np.where(BATCH == "A", 0.0, 100.0)
LIVES = np.array([410, 455, 620, 560, 705, 760, 300, 390, 520, 480, 600, 700], dtype=float)
ENDS = np.array([1] * 11 + [0])


def seen(
    looks: tuple[float, ...] = (400.0, 600.0, 800.0),
    *,
    lives: np.ndarray = LIVES,
    ends: np.ndarray = ENDS,
    group: np.ndarray = GROUP,
    stopped: np.ndarray | None = None,
    looked_bad: np.ndarray | None = None,
) -> Sequential:
    """Looks at the worked example, planned to end at 800 h."""
    drawn = Lives(duration=lives, observed=ends, group=group, batch=BATCH)
    return sequential(
        replace(drawn, stopped=stopped, looked_bad=looked_bad),
        groups=int(group.max()) + 1,
        rules=RULES,
        calendar=Calendar(START, START + lives, looks, tuple(look / 800.0 for look in looks)),
    )


def test_the_worked_example_is_shown_at_its_last_look() -> None:
    """It crosses at 800 h, where 91/30 reaches 43/15; group 1 lasts longer."""
    (shown,) = seen().shown
    assert shown is not None
    assert (shown.look, shown.longer) == (2, True)
    assert seen((400.0, 600.0)).shown == (None,)


def test_what_comes_later_takes_nothing_back() -> None:
    """Looks depend on what was known at them: further looks and lives leave the earlier as is."""
    early, late = seen((400.0, 600.0)), seen()
    for own, series in early.series.items():
        assert late.series[own][:2] == series
    again = seen((400.0, 600.0, 799.0))
    assert again.series[(1,)][:2] == early.series[(1,)]


def test_a_contrast_needs_the_tests_of_all_sets_that_contain_it() -> None:
    """Two groups against one control: shown only where the joint test has crossed too."""
    group = np.array([0, 0, 1, 1, 2, 2, 0, 0, 1, 1, 2, 2])
    found = seen(group=group)
    assert set(found.series) == {(1,), (2,), (1, 2)}
    for place, shown in enumerate(found.shown, start=1):
        crossed = [any(look.crossed for look in looks) for own, looks in found.series.items()
                   if place in own]  # fmt: skip
        assert shown is None or all(crossed)


def test_a_stop_that_nobody_explains_holds_a_difference_back() -> None:
    """The same numbers, a reason known or not: shown with it; else held, and it is said by what."""
    lives = LIVES.copy()
    ends = ENDS.copy()
    lives[5], ends[5] = 600.0, 0
    stopped = np.arange(12) == 5
    explained = seen(lives=lives, ends=ends)
    held = seen(lives=lives, ends=ends, stopped=stopped)
    assert explained.series == held.series
    assert (explained.shown, explained.held) == ((Shown(2, longer=True),), (None,))
    assert (held.shown, held.held) == ((None,), (Held(2, AtLooks.HELD_BY_STOPS),))


def test_a_cell_that_looked_bad_holds_a_difference_back() -> None:
    """One of the group stopped at 150 h as if for the channel: shown; since it looked bad: held."""
    lives, ends = LIVES.copy(), ENDS.copy()
    lives[3], ends[3] = 150.0, 0
    bad = np.arange(12) == 3
    assert seen(lives=lives, ends=ends).shown == (Shown(2, longer=True),)
    held = seen(lives=lives, ends=ends, looked_bad=bad)
    assert (held.shown, held.held) == ((None,), (Held(2, AtLooks.HELD_BY_BAD),))


@pytest.mark.parametrize("seed", [1, 2])
def test_without_a_difference_few_campaigns_show_one(seed: int) -> None:
    """60 campaigns of one law of lives, five looks each: at most 5 % cross, within chance.

    Six of 60 have a chance of 3 % at 5 % (binomial).
    """
    random = np.random.default_rng(seed)
    looks = (200.0, 350.0, 500.0, 650.0, 800.0)
    crossed = 0
    for _ in range(60):
        lives = 500.0 * random.weibull(3.0, 12)
        reach = 800.0 - START
        ends = (lives <= reach).astype(int)
        found = seen(looks, lives=np.minimum(lives, reach), ends=ends)
        crossed += any(look.crossed for look in found.series[(1,)])
    assert crossed <= 6


def test_before_the_first_cell_nothing_can_be_shown() -> None:
    """A look before any cell began has no lives, no boundary and no claim."""
    found = seen((0.0,))
    (look,) = found.series[(1,)]
    assert (look.statistic, look.p, look.crossed) == (0.0, 1.0, False)
    assert look.boundary == np.inf
    assert found.shown == (None,)
