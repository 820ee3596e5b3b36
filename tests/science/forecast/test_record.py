"""The record of past forecasts: only what was known then, and counted as it came out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from lasers import HOURS, laser

from trivet.science.forecast.interval import experience, forecast, outlook
from trivet.science.forecast.line import crossing_of_trend
from trivet.science.forecast.record import Unit, holds, record

WEEK = 168.0


def cell(life: float, *, begun: float = 0.0, until: float = math.inf, power: float = 1.4) -> Unit:
    """A cell that reaches 0.8 at `life`, seen until a time since it began."""
    t = np.arange(5.0, min(life + 25.0, until), 5.0)
    y = 1.0 - 0.2 * (t / life) ** power
    below = np.flatnonzero(y < 0.8)
    ended = below.size >= 3
    end = float(t[below[0]]) if ended else math.nan
    over = begun + float(t[below[2]]) if ended else math.inf
    return Unit(begun + t, t, y, begun, over, end, ended)


def cells(count: int, *, until: float = math.inf) -> list[Unit]:
    """Cells of many lives, begun one after the other and seen until a calendar time."""
    lives = 500.0 * np.exp(0.25 * np.random.default_rng(4).standard_normal(count))
    return [
        cell(float(life), begun=20.0 * place, until=until - 20.0 * place)
        for place, life in enumerate(lives)
    ]


def weeks(units: list[Unit], now: float) -> list[tuple[float, int, int]]:
    """Weeks of a record: when, how many forecasts, learnt from how many."""
    found = record(units, now=now, every=WEEK, limit=0.8, falling=True)
    return [(week.moment, week.forecasts, week.learnt_from) for week in found.weeks]


def test_a_past_week_knows_nothing_of_what_came_later() -> None:
    """Forecasts of a week are the same, made from all data or from those of that week alone."""
    now, early = 8 * WEEK, 4 * WEEK
    later, then = weeks(cells(12), now), weeks(cells(12, until=early + 1e-9), early)
    assert later[: len(then)] == then
    assert any(learnt for _, _, learnt in later)


def test_every_week_is_judged_by_ends_that_came() -> None:
    """Ends by the limit are judged, others counted apart, and running cells wait."""
    units = [cell(500.0), cell(600.0), cell(2000.0, until=1100.0)]
    units.append(
        replace(cell(900.0, until=400.0), over=400.0)  # ended otherwise at 400 h
    )
    found = record(units, now=1000.0, every=WEEK, limit=0.8, falling=True)
    first = found.weeks[0]
    assert first.moment == 1000.0 - 5 * WEEK
    assert (first.forecasts, first.ended, first.ended_otherwise) == (4, 2, 1)
    assert found.weeks[-1].forecasts == 1
    assert found.learnt.ends == 2


def test_past_forecasts_hold_what_they_promise_where_all_fade_alike() -> None:
    """Of cells that fade by one law, nine of ten intervals hold, learnt or by default."""
    found = record(cells(24), now=10 * WEEK, every=WEEK, limit=0.8, falling=True)
    ended = sum(week.ended for week in found.weeks)
    assert ended > 30
    assert sum(week.inside for week in found.weeks) >= 0.9 * ended


def test_lasers_from_half_of_their_readings() -> None:
    """Of 15 lasers at 2,000 h at least 12 intervals hold the published end of the whole line.

    Each is learnt from the other 14. 11 of 15 or fewer at 95 % has a chance of 0.006 (binomial).
    """
    ends = [
        crossing_of_trend(HOURS, laser(unit), limit=10.0, falling=False).time for unit in range(15)
    ]
    seen = HOURS <= 2000.0
    made = [
        outlook(HOURS[seen], laser(unit)[seen], limit=10.0, falling=False) for unit in range(15)
    ]
    inside = 0
    for unit, end in enumerate(ends):
        others = [i for i in range(15) if i != unit]
        learnt = experience([[made[i]] for i in others], ends=[ends[i] for i in others])
        got = forecast(made[unit], learnt)
        assert got.upper - got.lower < 6000.0
        inside += holds(got, end)
    assert inside >= 12
