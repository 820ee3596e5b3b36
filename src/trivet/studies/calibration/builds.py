"""What the program says of numbers of the build and of ordered factors, over drawn campaigns.

The number is `sealing_min`, minutes to sealing. It may differ between groups or batches, and act on
life: a cell one standard deviation later lasts shorter by a factor. Nothing here decides a verdict.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from trivet.campaign.life_sets import life_sets
from trivet.schema.settings.inference import Survival
from trivet.stages.balance import run
from trivet.studies.calibration.campaign_tables import (
    CLOCK,
    FACTOR,
    ZONE,
    cells_table,
    comparison_of,
    group_name,
    lifetimes_table,
    verdicts_of,
)
from trivet.studies.calibration.invented_campaigns import (
    Campaign,
    Floats,
    cells_of,
    draw_campaign,
    seen_at,
)

NUMBER = "sealing_min"
_MIDDLE_MIN, _SPREAD_MIN = 10.0, 2.0
_TWO = ((6, 6), (6, 6))
_ORDER = ((3, 3, 3), (3, 3, 3))
_UNEVEN = ((6, 2), (4, 4), (2, 6))


@dataclass(frozen=True)
class Build:
    """A campaign with a number of the build, to draw many times.

    Attributes
    ----------
    words : str
        What is special in it, for a table.
    campaign : Campaign
        Cells, lives and their observation.
    ratio : float
        True ratio of times, each group over the one before it [1].
    acts : float
        Factor by which a cell lasts shorter whose number is a standard deviation larger [1].
    group_shift, batch_shift : float
        By how many standard deviations the number of each group, or batch, exceeds that of the
        one before it [1].
    within : float
        Standard deviation within a group and batch over the usual one; 0: one number for all [1].
    """

    words: str
    campaign: Campaign
    ratio: float = 1.0
    acts: float = 1.0
    group_shift: float = 0.0
    batch_shift: float = 0.0
    within: float = 1.0


NUMBERS = (
    Build("the number acts on nothing, like in both groups", Campaign("", _TWO)),
    Build("acts on nothing, larger in the group, which lasts twice as long", Campaign("", _TWO),
          ratio=2.0, group_shift=1.0),
    Build("acts on nothing, apart in the groups, the group lasts twice as long",
          Campaign("", _TWO), ratio=2.0, group_shift=6.0),
    Build("acts on nothing, larger in later batches, followed shorter",
          Campaign("", _UNEVEN, apart_weeks=1.5), batch_shift=2.0),
    Build("the same, batches alike and no strata",
          Campaign("", _UNEVEN, apart_weeks=1.5, stratified=False, batch_spread=0.0),
          batch_shift=2.0),
    Build("one number for each batch, acts on life, groups uneven over batches",
          Campaign("", _UNEVEN), acts=1.3, batch_shift=1.0, within=0.0),
    Build("acts on life, like in both groups", Campaign("", _TWO), acts=1.3),
    Build("acts on life, larger in the group", Campaign("", _TWO), acts=1.3, group_shift=1.0),
    Build("acts on life, apart in the groups", Campaign("", _TWO), acts=1.3, group_shift=6.0),
)  # fmt: skip
ORDERS = (
    Build("three places of an order, all alike", Campaign("", _ORDER)),
    Build("the same, lives known between checks every two weeks",
          Campaign("", _ORDER, checks_h=(336.0,) * 3)),
    Build("the same, later places mostly in later batches, followed shorter",
          Campaign("", ((4, 2, 2), (3, 3, 3), (2, 4, 4)), apart_weeks=1.5)),
    Build("the same, batches alike and no strata, so that follow-up is unlike",
          Campaign("", ((4, 2, 2), (3, 3, 3), (2, 4, 4)), apart_weeks=1.5, stratified=False,
                   batch_spread=0.0)),
    Build("each place lasts 1.25 times the one before", Campaign("", _ORDER), ratio=1.25),
    Build("each place lasts 1.5 times the one before", Campaign("", _ORDER), ratio=1.5),
)  # fmt: skip


@dataclass
class Said:
    """What was said of a build over its replicates.

    Attributes
    ----------
    build : Build
        What was drawn.
    replicates : int
        Campaigns drawn [1].
    told : Counter
        Campaigns in which it was said: `association`, `no association` (not estimable),
        `apart`, `trend`, and `different` as verdict of the stage `survival`.
    """

    build: Build
    replicates: int = 0
    told: Counter[str] = field(default_factory=Counter)


def say(build: Build, *, replicates: int, seed: Sequence[int], survival: Survival) -> Said:
    """Draw a build many times and hear what the stages say of it.

    Parameters
    ----------
    build : Build
        What is drawn.
    replicates : int
        Campaigns drawn [1].
    seed : sequence of int
        Seed of the draws.
    survival : Survival
        How exact tests enumerate or draw.
    """
    said = Said(build)
    generator = np.random.default_rng(list(seed))
    for _ in range(replicates):
        said.replicates += 1
        said.told.update(_told(build, generator, survival))
    return said


def numbers_of(build: Build, generator: np.random.Generator) -> Floats:
    """Number of each cell in standard deviations from the middle, shape (n_cells,) [1]."""
    group, batch = cells_of(build.campaign)
    own = build.within * generator.normal(size=group.size)
    number: Floats = own + build.group_shift * group + build.batch_shift * batch
    return number


def _told(build: Build, generator: np.random.Generator, survival: Survival) -> set[str]:
    """What is said of one campaign."""
    campaign = build.campaign
    number = numbers_of(build, generator)
    group, _ = cells_of(campaign)
    factor = build.acts**-number * build.ratio ** np.where(group > 0, group - 1.0, 0.0)
    truth = draw_campaign(campaign, ratio=build.ratio, generator=generator, factor=factor)
    seen = seen_at(truth, campaign.cuts_h[-1], checks_h=campaign.checks_h)
    minutes = [f"{value:.2f}" for value in _MIDDLE_MIN + _SPREAD_MIN * number]
    comparison = comparison_of(
        stratified=campaign.stratified,
        covariates=[NUMBER],
        ordered={FACTOR: [group_name(place) for place in range(campaign.groups)]},
    )
    cells = cells_table(seen, {NUMBER: minutes})
    lifetimes = lifetimes_table(seen, between_checks=bool(campaign.checks_h))
    found = run(
        cells=cells,
        lifetimes=lifetimes,
        comparison=comparison,
        survival=survival,
        primary_clock=CLOCK,
        time_zone=ZONE,
    )
    alpha = 1 - comparison.confidence
    (tested,) = found["covariate_tests"].to_pylist()
    (trend,) = found["order_trends"].to_pylist()
    (lives,), _ = life_sets(cells, lifetimes=lifetimes, factors=comparison.factors)
    said = {
        "association": tested["p"] is not None and tested["p"] <= alpha,
        "no association": tested["p"] is None,
        "apart": any(row["aliased"] for row in found["covariates"].to_pylist()),
        "trend": trend["p"] is not None and trend["p"] <= alpha,
        "different": "different" in verdicts_of(lives, comparison, survival).values(),
    }
    return {name for name, true in said.items() if true}
