"""Campaigns in which nothing happens but ends and a last sight: verdicts and every interval."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from trivet.science.comparison.contrast import MonteCarlo
from trivet.science.comparison.family import Rules, compare_groups
from trivet.science.lives.lives import Lives
from trivet.science.survival.beta_product import beta_product_limits
from trivet.science.survival.group_life import group_life
from trivet.science.survival.product_limit import product_limit
from trivet.studies.calibration.campaign_tables import CONFIDENCE, MARGIN
from trivet.studies.calibration.invented_lives import (
    Scenario,
    draw,
    follow_up,
    quantile,
    restricted_mean_of,
)
from trivet.studies.calibration.rates import Verdicts

DRAWING = MonteCarlo(enumeration_limit=20_000, draws=2_000)

SCENARIOS = (
    Scenario((3, 3)),
    Scenario((4, 4), censored=0.3),
    Scenario((6, 6)),
    Scenario((6, 6), censored=0.3),
    Scenario((6, 6), censored=0.7),
    Scenario((8, 8), censored=0.5, batches=2),
    Scenario((12, 12), censored=0.3, batches=3),
    Scenario((12, 12), censored=0.7, batches=3),
    Scenario((3, 12), censored=0.3),
    Scenario((4, 12), censored=0.5),
    Scenario((6, 6, 6), censored=0.3, batches=2),
    Scenario((4, 4), censored=0.3, unequal=True),
    Scenario((6, 6), censored=0.5, unequal=True),
    Scenario((8, 8), censored=0.5, batches=2, unequal=True),
    Scenario((12, 12), censored=0.5, batches=3, unequal=True),
    Scenario((12, 12), censored=0.7, unequal=True),
    Scenario((3, 12), censored=0.5, unequal=True),
    Scenario((12, 3), censored=0.5, unequal=True),
    Scenario((6, 6), censored=0.3, law="lognormal"),
    Scenario((12, 12), censored=0.5, batches=3, law="lognormal"),
    Scenario((8, 8), censored=0.5, unequal=True, law="lognormal"),
    Scenario((8, 8), spread=0.05),
    Scenario((6, 6), spread=0.1),
    Scenario((12, 12), censored=0.3, spread=0.1),
    Scenario((12, 12), censored=0.5, batches=3, spread=0.1),
    Scenario((6, 6), censored=0.7, spread=0.1),
    Scenario((8, 8), law="lognormal", spread=0.1),
    Scenario((12, 12), censored=0.5, unequal=True, law="lognormal", spread=0.1),
)


@dataclass(kw_only=True)
class Tally(Verdicts):
    """What was counted over the replicates of a scenario at one true ratio.

    Attributes
    ----------
    scenario : Scenario
        What was drawn.
    ratio : float
        True ratio of times [1].
    covered, missed, undefined : Counter
        Intervals that hold the truth, that miss it, that do not exist, by name of the interval.
    """

    scenario: Scenario
    ratio: float
    covered: Counter[str] = field(default_factory=Counter)
    missed: Counter[str] = field(default_factory=Counter)
    undefined: Counter[str] = field(default_factory=Counter)

    def note(self, name: str, lower: float, upper: float, truth: float) -> None:
        """Count one interval; a side without a limit is open."""
        if np.isnan(lower) and np.isnan(upper):
            self.undefined[name] += 1
        elif (np.isnan(lower) or lower <= truth) and (np.isnan(upper) or truth <= upper):
            self.covered[name] += 1
        else:
            self.missed[name] += 1


def study(
    scenario: Scenario,
    *,
    ratio: float,
    replicates: int,
    seed: Sequence[int],
) -> Tally:
    """Draw and judge one scenario many times.

    Intervals of the control on its own are counted where the groups are alike: its law is that of
    every ratio.

    Parameters
    ----------
    scenario : Scenario
        What is drawn.
    ratio : float
        True ratio of times [1].
    replicates : int
        Campaigns drawn [1].
    seed : sequence of int
        Seed of the draws.
    """
    tally = Tally(scenario=scenario, ratio=ratio)
    generator = np.random.default_rng(list(seed))
    until = 0.8 * min(follow_up(scenario, group=0), follow_up(scenario, group=1), 1.0)
    rules = Rules(confidence=CONFIDENCE, margin=MARGIN, stratify=True, drawing=DRAWING)
    for _ in range(replicates):
        lives = draw(scenario, ratio=ratio, generator=generator)
        family = compare_groups(
            lives, groups=len(scenario.sizes), restriction_time=until, rules=rules
        )
        tally.words.append({judged.verdict for judged in family.contrasts})
        for name, truth in _effects(scenario, ratio, until).items():
            measure = family.contrasts[0].contrast.measure(name)
            few = "fewer than four ends" in measure.reason
            label = f"{name}, few ends" if few else name
            tally.note(label, measure.lower, measure.upper, truth)
        if ratio == 1.0 and scenario.batches == 1:
            _one_group(tally, lives, until)
    return tally


def _effects(scenario: Scenario, ratio: float, until: float) -> dict[str, float]:
    """True values of the effects by name of the measure."""
    truth = {"time ratio": ratio, "time ratio lognormal": ratio}
    if scenario.law == "weibull":
        truth["hazard ratio"] = ratio ** (-1 / scenario.spread)
    if scenario.batches == 1:
        means = [
            restricted_mean_of(scenario.law, spread=scenario.spread, scale=scale, until=until)
            for scale in (ratio, 1.0)
        ]
        truth["restricted mean difference"] = means[0] - means[1]
    return truth


def _one_group(tally: Tally, lives: Lives, until: float) -> None:
    """Count the intervals of the control on its own."""
    law, spread = tally.scenario.law, tally.scenario.spread
    own = lives.group == 0
    duration, observed = lives.duration[own], lives.observed[own]
    life = group_life(duration, observed=observed, restriction_time=until, confidence=CONFIDENCE)
    middle = quantile(law, spread=spread, share=0.5)
    tally.note("median, log-log", life.median.lower, life.median.upper, middle)
    tally.note("median, beta product", *life.median_beta, middle)
    for share in (0.1, 0.3, 0.5):
        at = quantile(law, spread=spread, share=share)
        cut = product_limit(np.minimum(duration, at), observed=(observed == 1) & (duration <= at))
        if cut.time[-1] < at:  # no cell was followed so far
            tally.undefined["survival, log-log"] += 1
            tally.undefined["survival, beta product"] += 1
            continue
        tally.note("survival, log-log", cut.lower[-1], cut.upper[-1], 1 - share)
        low, high = beta_product_limits(cut)
        tally.note("survival, beta product", low[-1], high[-1], 1 - share)
    for name, interval, truth in (
        ("Weibull shape", life.weibull.shape_interval, 1 / spread),
        ("Weibull scale", life.weibull.scale_interval, 1.0),
        ("one in ten", life.weibull.b10_interval, quantile("weibull", spread=spread, share=0.1)),
    ):
        if law == "weibull":
            tally.note(name, interval.lower, interval.upper, truth)
