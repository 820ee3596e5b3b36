"""How far a forecast may be off: the line's own error, and how past forecasts have fared.

A line through bending fade is wrong in the same way for all cells of a campaign, whatever the
readings of one cell say. So its interval is learnt from forecasts of cells that have ended since:
the logarithm of the time that they had left over the time that the line gave them. Before any has
ended a default stands in, which counts as one ended cell from then on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.special import ndtri, stdtrit

from trivet.science.forecast.line import FEWEST_READINGS, Crossing, crossing_of_trend

DEFAULT_FACTOR = 3.5
"""Before any cell has ended, its time left lies within this factor of the line's, 95 times of 100:
by as much a line is wrong, from a tenth to seven tenths of the way, of fade that goes as time to
the power of 1/2 (a film whose growth is limited by diffusion) to 3/2. Fade that speeds up more
ends before the default's lower limit, see tests/STUDIES.md."""
_SPREAD = math.log(DEFAULT_FACTOR) / float(ndtri(0.975))
_FREEDOM = 4.0
"""Degrees of freedom that the default's spread counts for (an assumption, no source)."""
_VARIANCE = (math.log(DEFAULT_FACTOR) / float(stdtrit(_FREEDOM, 0.975))) ** 2
_SHARED = 0.75
"""Share of the default's variance that all units have in common, since they fade by one law; the
rest is each unit's own (an assumption, no source)."""
_TREND_ERRORS = 2.0
"""A slope within so many of its standard errors of nought is no trend."""


class NoForecast(StrEnum):
    """Why there is no forecast."""

    NONE = ""
    FEW_READINGS = "too few ageing cycles"
    NO_TREND = "no trend that stands out from the scatter"
    AWAY = "its capacity does not fall"
    AT_LIMIT = "below the limit already, and not for as many cycles as an end needs"


@dataclass(frozen=True)
class Outlook:
    """What the line alone says of one unit at one moment.

    Attributes
    ----------
    now : float
        The moment, that of the last reading [unit of the times]; NaN without one.
    left : float
        Time left by the line [unit of the times]; NaN where there is no forecast.
    widening : float
        How many times wider than usual the line's own error makes the interval, at least 1 [1].
    line : Crossing
        The line.
    reason : NoForecast
        Why there is no forecast.
    """

    now: float
    left: float
    widening: float
    line: Crossing
    reason: NoForecast


@dataclass(frozen=True)
class Experience:
    """What past forecasts of a campaign tell of the next.

    Attributes
    ----------
    centre, half_width : float
        Of the interval of the logarithm of time left over the line's, where the widening is 1 [1].
    ends : int
        Ended units that it is learnt from [1].
    """

    centre: float
    half_width: float
    ends: int


@dataclass(frozen=True)
class Forecast:
    """A forecast with its interval; NaN where none was made [unit of the times].

    Attributes
    ----------
    estimate, lower, upper : float
        Middle and limits of the time of the end.
    """

    estimate: float
    lower: float
    upper: float


def outlook(time: np.ndarray, reading: np.ndarray, *, limit: float, falling: bool) -> Outlook:
    """Say when a unit reaches its limit by the line through its readings so far.

    Parameters
    ----------
    time, reading, limit, falling
        As for `crossing_of_trend`.

    Notes
    -----
    The forecast is as of the last reading.
    Where the line is at the limit already and the unit is not, the time between two readings stands
    in for the time left: the next reading is the first that may end it.
    """
    known = np.isfinite(time) & np.isfinite(reading)
    t, y = time[known], reading[known]
    now = float(t[-1]) if t.size else math.nan
    line = crossing_of_trend(t, y, limit=limit, falling=falling)
    reason = _reason(line, float(y[-1]) if y.size else math.nan, limit, falling)
    if reason:
        return Outlook(now, math.nan, math.nan, line, reason)
    left = max(line.time - now, float(np.median(np.diff(t))))
    return Outlook(now, left, math.hypot(1.0, line.error / left / _SPREAD), line, reason)


def _reason(line: Crossing, last: float, limit: float, falling: bool) -> NoForecast:
    """Why a line gives no forecast."""
    if line.readings < FEWEST_READINGS or math.isnan(line.slope):
        return NoForecast.FEW_READINGS
    if (last < limit) == falling and last != limit:
        return NoForecast.AT_LIMIT
    if abs(line.slope) <= _TREND_ERRORS * line.slope_error:
        return NoForecast.NO_TREND
    return NoForecast.AWAY if math.isnan(line.time) else NoForecast.NONE


def experience(
    past: Sequence[Sequence[Outlook]], *, ends: Sequence[float], confidence: float = 0.95
) -> Experience:
    """Learn from the forecasts of units that have ended since.

    Logarithms of time left over the line's, divided by the widening, are taken for normal about a
    centre that all units share. Before any unit has ended, centre and spread are those of the
    default; each ended unit counts once, however many forecasts it had. The interval is Student's
    for the next unit.

    Parameters
    ----------
    past : sequence of sequence of Outlook
        Forecasts of each ended unit.
    ends : sequence of float
        When each ended, after all of its forecasts [unit of the times].
    confidence : float
        Confidence of the interval [1].

    References
    ----------
    Gelman et al., Bayesian Data Analysis (3rd ed. 2013), section 5.4, for the weight of the mean;
    the spread is put in as it was estimated.
    """
    units = []
    for own, end in zip(past, ends, strict=True):
        errors = [
            math.log((end - made.now) / made.left) / made.widening
            for made in own
            if not made.reason and end > made.now
        ]
        if errors:
            units.append(np.array(errors))
    k = len(units)
    mean = float(np.mean([one.mean() for one in units])) if k else 0.0
    squares = sum(float(np.mean((one - mean) ** 2)) for one in units)
    freedom = _FREEDOM + max(k - 1, 0)
    alone = (_FREEDOM * (1.0 - _SHARED) * _VARIANCE + squares) / freedom
    shared = _SHARED * _VARIANCE
    weight = k * shared / (k * shared + alone)
    reach = float(stdtrit(freedom, 0.5 + confidence / 2))
    return Experience(weight * mean, reach * math.sqrt(alone + (1.0 - weight) * shared), k)


def forecast(made: Outlook, learnt: Experience) -> Forecast:
    """Give the middle and the interval of the time of the end.

    Parameters
    ----------
    made : Outlook
        What the line says.
    learnt : Experience
        What past forecasts say of such lines.
    """
    if made.reason:
        return Forecast(math.nan, math.nan, math.nan)
    middle, reach = made.widening * learnt.centre, made.widening * learnt.half_width
    return Forecast(
        made.now + made.left * math.exp(middle),
        made.now + made.left * math.exp(middle - reach),
        made.now + made.left * math.exp(middle + reach),
    )
