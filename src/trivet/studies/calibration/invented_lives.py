"""Lives drawn from a known law, for the calibration study."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import ndtr, ndtri

from trivet.science.lives.lives import Lives

Law = Literal["weibull", "lognormal"]

BATCH_SPREAD = 0.2
"""Standard deviation of log time between batches."""
FOLLOW_UP_SPREAD = 0.1
"""Standard deviation of the logarithm of follow-up between cells."""
MOST_CENSORED = 0.9


@dataclass(frozen=True)
class Scenario:
    """A campaign to draw many times.

    Attributes
    ----------
    sizes : tuple of int
        Cells of the control and of each group [1].
    censored : float
        Share of the control not ended when last seen, about [1].
    batches : int
        Batches, over which the cells of a group are spread in turn [1].
    unequal : bool
        Whether the groups are followed for a shorter time than the control.
    law : str
        Law of the lives, `weibull` or `lognormal`.
    spread : float
        Scale of log time [1]; one over the Weibull shape.
    """

    sizes: tuple[int, ...]
    censored: float = 0.0
    batches: int = 1
    unequal: bool = False
    law: Law = "weibull"
    spread: float = 0.3

    @property
    def words(self) -> str:
        """One line for a table."""
        sizes = " v ".join(str(size) for size in self.sizes)
        follow = "unequal" if self.unequal else "equal"
        return (
            f"{sizes} | {100 * self.censored:.0f} % | {self.batches} | {follow} | {self.law} | "
            f"{self.spread:g}"
        )


def quantile(law: Law, *, spread: float, share: float) -> float:
    """Time by which a share of the control has ended; scale (median for lognormal) 1."""
    w = np.log(-np.log1p(-share)) if law == "weibull" else ndtri(share)
    return float(np.exp(spread * w))


def restricted_mean_of(law: Law, *, spread: float, scale: float, until: float) -> float:
    """Mean time up to a restriction, by the trapezoid rule."""
    time = np.linspace(0.0, until, 4001)[1:]
    z = np.log(time / scale) / spread
    left = np.exp(-np.exp(z)) if law == "weibull" else 1 - ndtr(z)
    return float(np.trapezoid(np.append(1.0, left), np.append(0.0, time)))


def follow_up(scenario: Scenario, *, group: int) -> float:
    """Time for which the cells of a group are followed, in the middle; infinite where for ever."""
    share = scenario.censored
    if scenario.unequal:
        share = min(1.5 * share, MOST_CENSORED) if group else share / 2
    if share == 0:
        return np.inf
    return quantile(scenario.law, spread=scenario.spread, share=1 - share)


def draw(scenario: Scenario, *, ratio: float, generator: np.random.Generator) -> Lives:
    """Draw one campaign in which every group lasts `ratio` times as long as the control.

    Parameters
    ----------
    scenario : Scenario
        What is drawn.
    ratio : float
        True ratio of times, the last group over the control; other groups are like it [1].
    generator : numpy.random.Generator
        Source of randomness.
    """
    group = np.repeat(np.arange(len(scenario.sizes)), scenario.sizes)
    batch = np.concatenate([np.arange(size) % scenario.batches for size in scenario.sizes])
    shift = np.zeros(1)
    if scenario.batches > 1:
        shift = generator.normal(0.0, BATCH_SPREAD, scenario.batches)
    count = len(group)
    if scenario.law == "weibull":
        w = np.log(generator.exponential(size=count))
    else:
        w = generator.normal(size=count)
    time = np.exp(shift[batch] + scenario.spread * w) * np.where(group > 0, ratio, 1.0)
    middle = np.array([follow_up(scenario, group=number) for number in range(len(scenario.sizes))])
    seen_until = middle[group] * np.exp(generator.normal(0.0, FOLLOW_UP_SPREAD, count))
    return Lives(
        duration=np.minimum(time, seen_until),
        observed=(time <= seen_until).astype(int),
        group=group,
        batch=batch,
    )
