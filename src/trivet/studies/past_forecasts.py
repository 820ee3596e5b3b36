"""How often intervals of forecasts hold the end: the invented campaign, and other laws of fade.

`python -m trivet.studies.past_forecasts` prints the table in tests/STUDIES.md. Each campaign is
forecast at every week from what was known then, as the stage `forecast` does, on the clock of
hours. The invented campaign is followed for eight weeks more than the demonstration has, so that
forecasts of cells that still run there are judged too.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from trivet.demo.plan import DATA_END, DEFAULT_SEED, CellPlan, plan_campaign
from trivet.demo.protocol import simulate
from trivet.demo.truth import CONSECUTIVE, RETENTION_BELOW, true_cycles, true_end
from trivet.science.forecast.record import Unit, Week, record
from trivet.science.lives.ends import CAPACITY

WEEK_H = 168.0
LONGER = timedelta(weeks=8)
CELLS = 24
LIFE_H, LIFE_SCATTER = 905.0, 0.25
"""Median life and scatter of its logarithm in campaigns of other laws: as invented for the
demonstration, seals and batches taken together."""
CYCLE_H = 5.0
BANDS = ((0, 0), (1, 3), (4, 1000))
"""Ended cells that intervals had to learn from: the default, few, many."""


@dataclass(frozen=True)
class Law:
    """How capacity fades in an invented campaign.

    Attributes
    ----------
    name : str
        Its name in the table.
    power, power_scatter : float
        The loss goes as time to this power, which scatters among cells by this much [1].
    scatter : float
        Standard deviation of a reading [1].
    correlation : float
        Correlation of a reading's scatter with that of the next [1].
    """

    name: str
    power: float
    power_scatter: float = 0.05
    scatter: float = 0.002
    correlation: float = 0.0


LAWS = (
    Law("straight", 1.0, 0.0),
    Law("straight, scatter 1 %", 1.0, 0.0, 0.01),
    Law("straight, scatter 1 % that correlates by 0.9", 1.0, 0.0, 0.01, 0.9),
    Law("power 0.5", 0.5),
    Law("power 0.7, correlates by 0.9", 0.7, 0.1, 0.004, 0.9),
    Law("power 1.5, correlates by 0.9", 1.5, 0.1, 0.004, 0.9),
    Law("power 2", 2.0),
    Law("power 3", 3.0),
    Law("power 1.2, unlike from cell to cell by 0.3", 1.2, 0.3),
)


def demo_units(seed: int) -> list[Unit]:
    """Cells of the invented campaign, from its exact capacities; calendar times in hours."""
    units = []
    for plan in plan_campaign(seed):
        run = simulate(replace(plan, crimped_at=plan.crimped_at - LONGER))
        if run is None:
            continue
        cycles = true_cycles(run)
        judged = [one for one in cycles if one.kind == "ageing" and one.complete]
        time_h = np.array([one.end_h for one in judged])
        loss = np.array([one.discharge_mAh for one in judged])
        units.append(_demo_unit(plan, time_h, loss / loss[0], true_end(run, cycles)))
    return units


def _demo_unit(
    plan: CellPlan, time_h: np.ndarray, retention: np.ndarray, end: dict[str, object]
) -> Unit:
    """One cell with its end; where it was stopped, or runs to the end of the data, without."""
    begun = plan.crimped_at.timestamp() / 3600.0
    by_limit = end["cause"] == CAPACITY
    over, end_h = math.inf, math.nan
    if by_limit:
        end_h = float(str(end["end_h"]))
        over = float(time_h[int(np.searchsorted(time_h, end_h)) + CONSECUTIVE - 1])
    elif end["cause"] is not None or end["fate"] == "stopped":
        over = float(str(end["end_h"] if end["cause"] is not None else end["last_row_h"]))
    return Unit(begun + time_h, time_h, retention, begun, begun + over, end_h, by_limit)


def law_units(law: Law, *, seed: int) -> list[Unit]:
    """Cells that all fade by a law, begun in three weeks and followed to their ends."""
    random = np.random.default_rng([seed, 7])
    units = []
    for place in range(CELLS):
        life_h = LIFE_H * math.exp(LIFE_SCATTER * random.standard_normal())
        power = max(0.2, law.power + law.power_scatter * random.standard_normal())
        time_h = np.arange(CYCLE_H, 3.0 * life_h, CYCLE_H)
        noise = law.scatter * random.standard_normal(time_h.size)
        for i in range(1, noise.size):
            fresh = math.sqrt(1.0 - law.correlation**2)
            noise[i] = law.correlation * noise[i - 1] + fresh * noise[i]
        retention = 1.0 - (1.0 - RETENTION_BELOW) * (time_h / life_h) ** power + noise
        low = retention < RETENTION_BELOW
        runs = low[:-2] & low[1:-1] & low[2:]
        begun = WEEK_H * (place % 3)
        if not runs.any():
            units.append(Unit(begun + time_h, time_h, retention, begun, math.inf, math.nan, False))
            continue
        first = int(np.argmax(runs))
        units.append(
            Unit(
                begun + time_h[: first + 3],
                time_h[: first + 3],
                retention[: first + 3],
                begun,
                begun + float(time_h[first + 2]),
                float(time_h[first]),
                by_limit=True,
            )
        )
    return units


def weeks_of(units: Sequence[Unit], *, now: float) -> tuple[Week, ...]:
    """Weekly forecasts of a campaign and how they fared."""
    return record(units, now=now, every=WEEK_H, limit=RETENTION_BELOW, falling=True).weeks


def share(weeks: Sequence[Week], band: tuple[int, int]) -> str:
    """Share of forecasts inside, and their number, for so many ended cells learnt from."""
    own = [week for week in weeks if band[0] <= week.learnt_from <= band[1]]
    ended, inside = sum(week.ended for week in own), sum(week.inside for week in own)
    return f"{100 * inside / ended:.1f} of {ended}" if ended else "–"


def _line(name: str, weeks: Sequence[Week]) -> str:
    """One line of the table."""
    fields = [share(weeks, band) for band in (*BANDS, (0, 1000))]
    return f"| {name} | {' | '.join(fields)} |"


def demo_weeks(seed: int) -> tuple[Week, ...]:
    """Weeks of the invented campaign, judged eight weeks after the demonstration ends."""
    return weeks_of(demo_units(seed), now=(DATA_END + LONGER).timestamp() / 3600.0)


def table(*, seeds: Sequence[int], campaigns: int) -> Iterator[str]:
    """Lines of the table in Markdown."""
    yield "| fade | default | 1 to 3 ended | 4 or more ended | all |"
    yield "|---|---|---|---|---|"
    every: list[Week] = []
    for seed in seeds:
        own = demo_weeks(seed)
        every += own
        yield _line(f"invented campaign, seed {seed}", own)
    if every:
        yield _line("invented campaign, all seeds", every)
    for law in LAWS if campaigns else ():
        weeks = [
            week
            for seed in range(campaigns)
            for week in weeks_of(law_units(law, seed=seed), now=30 * WEEK_H)
        ]
        yield _line(law.name, weeks)


def main(argv: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="How often forecasts hold the end.")
    parser.add_argument("--seeds", type=int, default=10, help="invented campaigns")
    parser.add_argument("--campaigns", type=int, default=20, help="campaigns of each other law")
    parser.add_argument("--first", type=int, help="first seed; else the default one, then 1, 2, …")
    given = parser.parse_args(argv)
    if given.first is None:
        seeds = [DEFAULT_SEED, *range(1, given.seeds)][: given.seeds]
    else:
        seeds = list(range(given.first, given.first + given.seeds))
    for line in table(seeds=seeds, campaigns=given.campaigns):
        sys.stdout.write(line + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
