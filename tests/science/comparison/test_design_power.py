"""Power of a design by the campaign's own rule."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.comparison.design_power import Design, design_power, many_scores
from trivet.science.lives.lives import Lives
from trivet.science.survival.log_rank import log_rank_scores
from trivet.science.survival.looks import lives_at, looks

LIVES = {"spread": 0.3, "censored": 0.3, "seed": 4}
GROUP = np.array([0, 0, 0, 1, 1, 1, 2, 2] * 3)
BATCH = np.repeat([0, 1, 2], 8)
WEEKS = tuple((week + 1) / 8 for week in range(8))


def plain_design(group: np.ndarray, *, stratum: np.ndarray, alpha: float) -> Design:
    """A design whose cells all begin at once and are looked at in the end only."""
    return Design(group, stratum, np.zeros(len(group)), (1.0,), alpha)


@pytest.mark.parametrize(
    ("cells", "hazard_ratio", "power"),
    [(3, 4, 0.0), (4, 4, 0.19), (5, 4, 0.37), (6, 4, 0.45), (8, 4, 0.57),
     (3, 10, 0.0), (4, 10, 0.47), (5, 10, 0.73), (6, 10, 0.86), (8, 10, 0.97)],
)  # fmt: skip
def test_power_of_the_exact_test(cells: int, hazard_ratio: float, power: float) -> None:
    """Power at half of the controls surviving agrees with an independent simulation."""
    # 2000 runs of an independent code (no published source); both have an error of about 0.011
    design = plain_design(np.repeat([0, 1], cells), stratum=np.zeros(2 * cells), alpha=0.05)
    got = design_power(
        design,
        place=1,
        ratio=hazard_ratio**-0.3,
        spread=0.3,
        censored=0.5,
        simulations=2000,
        seed=4,
    )
    assert got.power == pytest.approx(power, abs=0.05)


@pytest.mark.parametrize("looked", [(1.0,), WEEKS])
def test_without_an_effect_a_difference_is_shown_in_five_per_cent_at_most(
    looked: tuple[float, ...],
) -> None:
    """In batches, at one look or eight, alone and beside another group."""
    for group in (GROUP, np.where(GROUP == 2, 0, GROUP)):
        design = Design(group, BATCH, BATCH / 8, looked, 0.05)
        got = design_power(design, place=1, ratio=1.0, simulations=1000, **LIVES)
        assert got.lower <= 0.05


def test_looks_and_further_contrasts_cost_power_and_a_longer_life_gives_it() -> None:
    """More is asked of a contrast beside another, and at eight looks; twice the life shows more."""
    alone = np.where(GROUP == 2, 3, GROUP)
    two = alone[alone < 3], BATCH[alone < 3]
    plain = plain_design(two[0], stratum=two[1], alpha=0.05)
    power = {
        name: design_power(design, place=1, ratio=1.6, simulations=1000, **LIVES).power
        for name, design in (
            ("alone", plain),
            ("family", plain_design(GROUP, stratum=BATCH, alpha=0.05)),
            ("looks", Design(*two, two[1] / 8, WEEKS, 0.05)),
        )
    }
    assert power["alone"] > power["family"]
    assert power["alone"] > power["looks"] > 0.5 * power["alone"]
    more = design_power(plain, place=1, ratio=2.5, simulations=1000, **LIVES).power
    assert more > power["alone"]


def test_a_simulated_campaign_crosses_as_the_rule_of_looks_says() -> None:
    """Twelve cells, all 400 relabellings: as `looks` finds with the same lives, one by one."""
    group, batch = np.array([0, 0, 0, 1, 1, 1] * 2), np.repeat([0, 1], 6)
    start, fractions = batch * 0.2, (0.5, 0.75, 1.0)
    agreed = 0
    for seed in range(60):
        design = Design(group, batch, start, fractions, 0.05)
        got = design_power(
            design, place=1, ratio=1.8, spread=0.3, censored=0.3, simulations=1, seed=seed
        ).power
        drawn = np.random.default_rng(seed).exponential(size=(1, 12))[0]
        drawn[group == 1] *= 1.8 ** (1 / 0.3)
        time = (drawn / -np.log(0.3)) ** 0.3 * (1 - start.mean())
        lives = Lives(duration=time, observed=np.ones(12, dtype=int), group=group, batch=batch)
        known = [lives_at(lives, look, start=start, known_at=start + time) for look in fractions]
        found = looks(known, times=fractions, fractions=fractions, alpha=0.05)
        assert got == float(any(look.crossed for look in found)), seed
        agreed += int(got)
    assert 5 < agreed < 55


def test_scores_of_many_campaigns_are_those_of_one_with_entry() -> None:
    """The vectorised scores are the log-rank scores, batches and delayed entry included."""
    random = np.random.default_rng(0)
    for _ in range(50):
        time = random.exponential(size=(1, 14))
        entry = np.where(random.random(14) < 0.5, 0.0, time[0] * random.random(14))
        seen, stratum = random.random((1, 14)) < 0.6, random.integers(0, 2, 14)
        got = many_scores(time, seen, stratum=stratum, entry=entry)[0]
        want = log_rank_scores(time[0], observed=seen[0].astype(int), stratum=stratum, entry=entry)
        np.testing.assert_allclose(got, want, atol=1e-12)


def test_delayed_entry_leaves_less_to_see() -> None:
    """Cells that come under observation late tell less than those seen from their start."""
    group = np.repeat([0, 1], 10)
    entry = np.where(np.arange(20) % 2 == 0, 0.9, 0.0)
    plain = plain_design(group, stratum=np.zeros(20), alpha=0.05)
    late = Design(group, np.zeros(20), np.zeros(20), (1.0,), 0.05, entry)
    power = [
        design_power(design, place=1, ratio=1.5, spread=0.3, censored=0.2, simulations=1000, seed=2)
        for design in (plain, late)
    ]
    assert power[1].upper < power[0].lower
