"""Campaigns with stops, looks, checks and entries, judged by the stage that judges a real one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trivet.reasons import StopReason
from trivet.schema.settings.inference import Survival
from trivet.studies.calibration.campaign_tables import verdicts
from trivet.studies.calibration.invented_campaigns import (
    WEEK_H,
    Campaign,
    Stops,
    draw_campaign,
    seen_at,
)
from trivet.studies.calibration.rates import Verdicts

SURVIVAL = Survival(enumeration_limit=20_000, monte_carlo_draws=2_000, seed=0)

_OUTSIDE = (
    Stops(StopReason.PLANNED, (1, 1)),
    Stops(StopReason.CHANNEL_NEEDED, (1, 1)),
    Stops(StopReason.EQUIPMENT, (1, 1)),
)
_CHANNEL = (Stops(StopReason.CHANNEL_NEEDED, (1, 1)),)
_CHANNELS = (Stops(StopReason.CHANNEL_NEEDED, (0, 3)),)
_BAD = (Stops(StopReason.LOOKED_BAD, (1, 1), failing=True),)
_BAD_IN_GROUP = (Stops(StopReason.LOOKED_BAD, (0, 3), failing=True),)
_NOT_STATED = (Stops(StopReason.NOT_STATED, (1, 1)),)
_NOT_STATED_IN_GROUP = (Stops(StopReason.NOT_STATED, (0, 3), failing=True),)
_DATA_END = (Stops(StopReason.NOT_EXPLAINED, (1, 1)),)
_DATA_END_IN_GROUP = (Stops(StopReason.NOT_EXPLAINED, (0, 3), failing=True),)
_MIXED = (
    Stops(StopReason.CHANNEL_NEEDED, (1, 1)),
    Stops(StopReason.LOOKED_BAD, (1, 1), failing=True),
    Stops(StopReason.NOT_EXPLAINED, (0, 1)),
)
_THREE = ((3, 3), (3, 3), (2, 2))
_LATER = ((5, 2), (3, 3), (2, 5))
_ONE = ((12, 12),)
_COARSE, _FINE = 2 * WEEK_H, WEEK_H / 4

FOLLOWED = (
    Campaign("nobody stops a cell"),
    Campaign("one planned, one channel needed, one equipment in each group", stops=_OUTSIDE),
    Campaign("channel needed: three of the group", stops=_CHANNELS),
    Campaign("looked bad: one in each group", stops=_BAD),
    Campaign("looked bad: three of the group", stops=_BAD_IN_GROUP),
    Campaign("no reason given: one in each group", stops=_NOT_STATED),
    Campaign("no reason given: three of the group, shortly before their end",
             stops=_NOT_STATED_IN_GROUP),
    Campaign("data end unexplained: one in each group", stops=_DATA_END),
    Campaign("one planned, one channel needed, one equipment in each group", spread=0.1,
             stops=_OUTSIDE),
    Campaign("looked bad: three of the group", spread=0.1, stops=_BAD_IN_GROUP),
    Campaign("no reason given: one in each group", spread=0.1, stops=_NOT_STATED),
    Campaign("data end unexplained: three of the group, shortly before their end", spread=0.1,
             stops=_DATA_END_IN_GROUP),
    Campaign("nobody stops a cell", spread=0.4),
    Campaign("channel needed: one in each group", spread=0.4, stops=_CHANNEL),
    Campaign("no reason given: one in each group", spread=0.4, stops=_NOT_STATED),
    Campaign("batches a week and a half apart, the group mostly in the later ones",
             batches=_LATER, apart_weeks=1.5),
    Campaign("the same, batches alike and no strata, so that follow-up is unlike", batches=_LATER,
             apart_weeks=1.5, stratified=False, batch_spread=0.0),
    Campaign("batches a week and a half apart, the group mostly in the later ones",
             batches=_LATER, apart_weeks=1.5, spread=0.1),
    Campaign("the same, batches alike and no strata, so that follow-up is unlike", batches=_LATER,
             apart_weeks=1.5, spread=0.1, stratified=False, batch_spread=0.0),
)  # fmt: skip
OBSERVED = (
    Campaign("checks every two weeks in both groups", batches=_ONE, checks_h=(_COARSE, _COARSE)),
    Campaign("checks: control every two weeks, group eight times as often", batches=_ONE,
             checks_h=(_COARSE, _FINE)),
    Campaign("the same", batches=_ONE, spread=0.1, checks_h=(_COARSE, _FINE)),
    Campaign("checks: group every two weeks, control eight times as often", batches=_ONE,
             spread=0.1, checks_h=(_FINE, _COARSE)),
    Campaign("checks unlike, two batches apart", batches=((6, 6), (6, 6)), apart_weeks=1.5,
             checks_h=(_COARSE, _FINE)),
    Campaign("entry up to two weeks late, alike", batches=((6, 6), (6, 6)),
             entry_h=(2 * WEEK_H, 2 * WEEK_H)),
    Campaign("entry up to two weeks late, the group's up to four", batches=((6, 6), (6, 6)),
             entry_h=(2 * WEEK_H, 4 * WEEK_H)),
)  # fmt: skip
LOOKED = tuple(
    replace(campaign, looks=True, apart_weeks=1.0)
    for campaign in (
        Campaign("three batches a week apart", _THREE),
        Campaign("the same, the group mostly later", ((4, 2), (3, 3), (1, 3))),
        Campaign("the same as the first, stopped: channel needed and looked bad one in each "
                 "group, data end unexplained one of the group", _THREE, stops=_MIXED),
        Campaign("three groups, two batches", ((2, 2, 2), (2, 2, 2))),
        Campaign("three batches a week apart", _THREE, spread=0.1),
        Campaign("stopped as above", _THREE, spread=0.1, stops=_MIXED),
    )
)  # fmt: skip


@dataclass(kw_only=True)
class Count(Verdicts):
    """What was counted over the replicates of a campaign at one true ratio.

    Attributes
    ----------
    campaign : Campaign
        What was drawn.
    ratio : float
        True ratio of times [1].
    claims, lost : int
        Groups called `different` at a cut that was not the last, and those of them that were
        called otherwise at a later one [1].
    """

    campaign: Campaign
    ratio: float
    claims: int = 0
    lost: int = 0

    def add(self, at_cuts: Sequence[dict[str, str]]) -> None:
        """Count one campaign by its verdicts at every data cut, by name of the group."""
        self.words.append({word for found in at_cuts for word in found.values()})
        for group in at_cuts[-1]:
            series = [found.get(group, "") for found in at_cuts]
            if "different" in series[:-1]:
                self.claims += 1
                after = series[series.index("different") :]
                self.lost += any(word != "different" for word in after)


def count(campaign: Campaign, *, ratio: float, replicates: int, seed: Sequence[int]) -> Count:
    """Draw and judge one campaign many times, at every data cut.

    Parameters
    ----------
    campaign : Campaign
        What is drawn.
    ratio : float
        True ratio of times [1].
    replicates : int
        Campaigns drawn [1].
    seed : sequence of int
        Seed of the draws.
    """
    counted = Count(campaign=campaign, ratio=ratio)
    generator = np.random.default_rng(list(seed))
    for _ in range(replicates):
        truth = draw_campaign(campaign, ratio=ratio, generator=generator)
        counted.add(
            [
                verdicts(
                    seen_at(truth, cut, checks_h=campaign.checks_h),
                    campaign,
                    cut_h=cut,
                    survival=SURVIVAL,
                )
                for cut in campaign.cuts_h
            ]
        )
    return counted
