"""Forecasts at every week of a campaign, each from what was known then, and how they fared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trivet.science.forecast.interval import (
    Experience,
    Forecast,
    Outlook,
    experience,
    forecast,
    outlook,
)


@dataclass(frozen=True)
class Unit:
    """A unit with its readings and, where it has ended, its end.

    Attributes
    ----------
    moment : numpy.ndarray
        Calendar time at which each reading was known, rising [any unit], (n_readings,).
    time, reading : numpy.ndarray
        Time on the clock of the forecast and value of each reading, (n_readings,).
    begun, over : float
        Calendar times at which it began and at which its end was known, or it was followed no
        longer; infinite where it still runs.
    end : float
        Its end on the clock of the forecast; NaN where it has none.
    by_limit : bool
        Whether it ended by the limit that is forecast, and not otherwise.
    """

    moment: np.ndarray
    time: np.ndarray
    reading: np.ndarray
    begun: float
    over: float
    end: float
    by_limit: bool


@dataclass(frozen=True)
class Week:
    """Forecasts of one week.

    Attributes
    ----------
    moment : float
        Calendar time of the week's cut.
    forecasts : int
        Units forecast then [1].
    ended, inside : int
        Units of these that have ended by the limit since, and those that did within their
        interval [1].
    ended_otherwise : int
        Units of these that have ended otherwise since, or were followed no longer [1].
    learnt_from : int
        Ended units that shaped their intervals [1].
    """

    moment: float
    forecasts: int
    ended: int
    inside: int
    ended_otherwise: int
    learnt_from: int


@dataclass(frozen=True)
class Record:
    """The record of a campaign up to now.

    Attributes
    ----------
    weeks : tuple of Week
        Weeks before now, in order.
    learnt : Experience
        What all of them tell of forecasts made now.
    """

    weeks: tuple[Week, ...]
    learnt: Experience


def at_moment(unit: Unit, moment: float, *, limit: float, falling: bool) -> Outlook:
    """What the line of a unit says from readings known at a calendar time, as of the last of them.

    Parameters
    ----------
    unit : Unit
        The unit.
    moment : float
        Calendar time of the forecast.
    limit, falling
        As for `outlook`.
    """
    known = unit.moment <= moment
    return outlook(unit.time[known], unit.reading[known], limit=limit, falling=falling)


def record(
    units: Sequence[Unit],
    *,
    now: float,
    every: float,
    limit: float,
    falling: bool,
    confidence: float = 0.95,
) -> Record:
    """Forecast at every past week from what was known then, and compare with what happened.

    Parameters
    ----------
    units : sequence of Unit
        Units of the campaign that have begun.
    now : float
        Calendar time of the data cut; weeks are counted back from it.
    every : float
        A week, in the unit of the calendar times.
    limit, falling, confidence
        As for `outlook` and `experience`.
    """
    first = min((unit.begun for unit in units), default=now)
    moments = [now - every * back for back in range(int((now - first) // every), 0, -1)]
    made = [
        [
            at_moment(unit, moment, limit=limit, falling=falling)
            if unit.begun <= moment < unit.over
            else None
            for moment in moments
        ]
        for unit in units
    ]
    weeks = []
    for place, moment in enumerate(moments):
        learnt = _learnt(units, made, until=moment, weeks=place, confidence=confidence)
        weeks.append(_week(units, [own[place] for own in made], moment, now, learnt))
    return Record(
        tuple(weeks), _learnt(units, made, until=now, weeks=len(moments), confidence=confidence)
    )


def _learnt(
    units: Sequence[Unit],
    made: Sequence[Sequence[Outlook | None]],
    *,
    until: float,
    weeks: int,
    confidence: float,
) -> Experience:
    """What the units that had ended by the limit, and were known to, tell at a time."""
    own = [(u, m) for u, m in zip(units, made, strict=True) if u.by_limit and u.over <= until]
    return experience(
        [[one for one in m[:weeks] if one is not None] for _, m in own],
        ends=[u.end for u, _ in own],
        confidence=confidence,
    )


def _week(
    units: Sequence[Unit],
    made: Sequence[Outlook | None],
    moment: float,
    now: float,
    learnt: Experience,
) -> Week:
    """How the forecasts of a week fared."""
    forecasts = ended = inside = otherwise = 0
    for unit, one in zip(units, made, strict=True):
        if one is None or one.reason:
            continue
        forecasts += 1
        if unit.over > now:
            continue
        otherwise += not unit.by_limit
        ended += unit.by_limit
        inside += unit.by_limit and holds(forecast(one, learnt), unit.end)
    return Week(moment, forecasts, ended, inside, otherwise, learnt.ends)


def holds(made: Forecast, end: float) -> bool:
    """Whether an interval held the end."""
    return made.lower <= end <= made.upper
