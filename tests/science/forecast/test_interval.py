"""Intervals of forecasts: the default, what past forecasts teach, known coverage, no forecast."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from trivet.science.forecast.interval import (
    DEFAULT_FACTOR,
    Experience,
    NoForecast,
    Outlook,
    experience,
    forecast,
    outlook,
)

NOTHING = experience([], ends=[])


def capacity(time: np.ndarray, *, power: float = 1.0) -> np.ndarray:
    """Retention of a cell that reaches 0.8 at time 1."""
    return np.asarray(1.0 - 0.2 * time**power)


def look(time: np.ndarray, reading: np.ndarray) -> Outlook:
    """Outlook on the limit of 0.8."""
    return outlook(time, reading, limit=0.8, falling=True)


@pytest.mark.parametrize("power", [0.5, 0.75, 1.25, 1.5])
@pytest.mark.parametrize("way", [0.1, 0.3, 0.5, 0.7])
def test_the_default_factor_is_what_a_line_is_wrong_by(power: float, way: float) -> None:
    """Powers of time from 1/2 to 3/2 stay within the factor from a tenth to seven tenths."""
    t = np.linspace(0.0, way, 200)
    ratio = (1.0 - way) / look(t, capacity(t, power=power)).left
    assert 1 / DEFAULT_FACTOR <= ratio <= DEFAULT_FACTOR


def test_before_any_end_the_interval_is_the_default() -> None:
    """Nothing learnt: the line's time left times or over the factor, the line in the middle."""
    assert math.exp(NOTHING.half_width) == pytest.approx(DEFAULT_FACTOR)
    t = np.linspace(0.0, 0.5, 100)
    made = forecast(look(t, capacity(t)), NOTHING)
    assert made.estimate == pytest.approx(1.0)
    assert (made.lower, made.upper) == pytest.approx(
        (0.5 + 0.5 / DEFAULT_FACTOR, 0.5 + 0.5 * DEFAULT_FACTOR)
    )


def test_lines_that_were_all_late_by_half_teach_so() -> None:
    """Where ended cells had half of the time left that lines gave, so has the next."""
    t = np.linspace(0.0, 0.5, 100)
    made = look(t, capacity(t))
    learnt = experience([[made]] * 40, ends=[0.75] * 40)
    assert learnt.ends == 40
    assert learnt.centre == pytest.approx(math.log(0.5), abs=0.01)
    assert learnt.half_width < NOTHING.half_width / 4


def test_a_cell_counts_once_however_often_it_was_forecast() -> None:
    """Ten forecasts of one ended cell teach what one of them does."""
    t = np.linspace(0.0, 0.5, 100)
    made = look(t, capacity(t))
    assert experience([[made] * 10], ends=[0.75]) == experience([[made]], ends=[0.75])


def test_known_coverage_with_correlated_scatter_and_unlike_cells() -> None:
    """95 of 100 next ends lie inside, scatter correlated by 0.9 and every line off by its own.

    Ends are drawn about those of the line with a spread of 0.2 of the logarithm of the time left.
    After 40 ended cells coverage is that of Student's interval; before, the default has the same
    at its own spread.
    """
    random = np.random.default_rng(11)
    inside = runs = 0
    for _ in range(300):
        cells = [_cell(random) for _ in range(41)]
        learnt = experience([[made] for made, _ in cells[:-1]], ends=[end for _, end in cells[:-1]])
        made, end = cells[-1]
        got = forecast(made, learnt)
        inside += got.lower <= end <= got.upper
        runs += 1
    # three standard errors of 0.95 among 300 are 0.038
    assert inside / runs == pytest.approx(0.95, abs=0.038)


def _cell(random: np.random.Generator) -> tuple[Outlook, float]:
    """A cell seen to the middle of its life, and its end."""
    t = np.linspace(0.0, 0.5, 60)
    noise = 0.002 * random.standard_normal(t.size)
    for i in range(1, t.size):
        noise[i] = 0.9 * noise[i - 1] + math.sqrt(1 - 0.81) * noise[i]
    made = look(t, capacity(t) + noise)
    return made, 0.5 + 0.5 * math.exp(-0.4 + 0.2 * random.standard_normal())


def test_scatter_widens_the_interval() -> None:
    """Readings that scatter, or follow each other, widen; straight ones leave it as it is."""
    random = np.random.default_rng(2)
    t = np.linspace(0.0, 0.5, 60)
    assert look(t, capacity(t)).widening == pytest.approx(1.0)
    loose = look(t, capacity(t) + 0.02 * random.standard_normal(60))
    waves = look(t, capacity(t) + 0.02 * np.sin(20 * t))
    assert loose.widening > 1.02
    assert waves.widening > loose.widening


@pytest.mark.parametrize(
    ("reading", "reason"),
    [
        (np.linspace(1.0, 0.99, 7), NoForecast.FEW_READINGS),
        (np.linspace(1.0, 1.05, 60), NoForecast.AWAY),
        (np.linspace(1.0, 0.79, 60), NoForecast.AT_LIMIT),
        (1.0 + 0.01 * np.tile([1.0, -1.0, -1.0, 1.0], 15), NoForecast.NO_TREND),
        (np.array([]), NoForecast.FEW_READINGS),
    ],
)
def test_no_forecast_has_a_reason(reading: np.ndarray, reason: NoForecast) -> None:
    """Too few readings, a rise, no trend, or a limit reached already: no number, and why."""
    made = look(np.arange(float(reading.size)), reading)
    assert made.reason == reason
    assert np.isnan([*vars(forecast(made, NOTHING)).values()]).all()


def test_a_line_at_the_limit_gives_the_time_of_one_reading() -> None:
    """Where fade slows down the line may be at the limit before the cell: time left is not 0."""
    t = np.linspace(0.0, 0.99, 100)
    made = look(t, capacity(t, power=0.3))
    assert made.line.time < made.now
    assert made.left == pytest.approx(0.01)
    assert forecast(made, NOTHING).lower > made.now


def test_forecasts_without_a_number_teach_nothing() -> None:
    """A cell whose forecasts all had a reason does not count among those learnt from."""
    none = replace(look(np.arange(3.0), np.ones(3)), now=2.0)
    assert experience([[none]], ends=[5.0]) == Experience(0.0, NOTHING.half_width, 0)
