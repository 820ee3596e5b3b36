"""Parts of the study: what each draws, how often, and from which seeds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Generic, TypeVar

from trivet.studies.calibration.campaigns import FOLLOWED, LOOKED, OBSERVED
from trivet.studies.calibration.invented_campaigns import Campaign
from trivet.studies.calibration.invented_lives import Scenario
from trivet.studies.calibration.plain import SCENARIOS
from trivet.studies.calibration.rates import MARGIN_TURN

Row = TypeVar("Row", Scenario, Campaign)


@dataclass(frozen=True)
class Part(Generic[Row]):
    """Rows that are drawn alike.

    Attributes
    ----------
    name, heading : str
        What it is called, in a file and above its table.
    rows : tuple of Scenario or Campaign
        What is drawn.
    first_seed : int
        Second number of the seed of the first row; the first is the study's, the third the place
        of the ratio.
    amount, power : float
        Campaigns at ratios 1 and 1.25, and at larger ones, as a multiple of those asked for [1].
    """

    name: str
    heading: str
    rows: tuple[Row, ...]
    first_seed: int
    amount: float = 1.0
    power: float = 0.4

    def replicates(self, asked: int, turn: int) -> int:
        """Campaigns drawn of a row at the ratio of this place."""
        share = self.amount if turn <= MARGIN_TURN else self.power
        return max(1, round(share * asked))

    def seed(self, first: int, place: int, turn: int) -> tuple[int, int, int]:
        """Seed of a row at the ratio of this place."""
        return first, self.first_seed + place, turn


PLAIN: Final = Part("plain", "Ends and a last sight", SCENARIOS, 0)
PARTS: Final = (
    Part("followed", "Stopped cells, and batches apart", FOLLOWED, 100),
    Part("observed", "Lives between checks, and late entry", OBSERVED, 200, amount=2.0),
    Part("looked", "Weekly looks", LOOKED, 300, amount=0.4, power=0.2),
)
BUILDS = "builds"
"""What the part of the builds is called: numbers of the build, and ordered factors."""
BUILDS_AMOUNT = 0.75
"""Campaigns of a build, as a multiple of those asked for."""
FIRST_BUILD_SEED = 400
SEED = 20260101
"""Seed of the study, where none is given."""
