"""Simulated weeks of a cell whose reference is healthy or has one known fault.

Potentials are those of the invented campaign's physics, resistances 30 ohm for the positive and 20
ohm for the negative, the noise of every channel the default of the invented channels.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from trivet.demo.layouts import VOLTAGE_NOISE_V
from trivet.demo.physics import negative_potential_V, positive_potential_V
from trivet.studies.sloping_cell import START_s, check_ups, simulated

Floats = np.ndarray
Negative = Literal["graphite", "lithium"]

POSITIVE_OHM, NEGATIVE_OHM = 30.0, 20.0
POSITIVE_MAH, NEGATIVE_MAH, PASSED_MAH = 2.2, 2.7, 2.0
CURRENT_MA = 1.0
DAYS = 7.0
PLATED_H, FAULT_H = 1.0, 80.0
"""Hours of the plating, and of a fault that comes suddenly."""


@dataclass(frozen=True)
class Week:
    """Readings of a week, shape (n,) each; potentials against lithium until `read`.

    Attributes
    ----------
    time_s, current_mA : ndarray
        Time and current [s, mA].
    cell_V, positive_V, negative_V : ndarray
        Cell voltage and potentials [V].
    """

    time_s: Floats
    current_mA: Floats
    cell_V: Floats
    positive_V: Floats
    negative_V: Floats

    @property
    def time_h(self) -> Floats:
        """Time [h]."""
        return self.time_s / 3600.0

    def against(self, reference_V: Floats) -> Week:
        """Give the potentials against a reference of that potential against lithium [V]."""
        return replace(
            self,
            positive_V=self.positive_V - reference_V,
            negative_V=self.negative_V - reference_V,
        )


Fault = Callable[[Week, np.random.Generator], Week]
"""Takes a week against lithium and gives what a faulty reference makes of it, without noise."""


def _step(hours: float, *, current_mA: float, spacing_s: float) -> tuple[Floats, Floats]:
    """Times since its start [s] and currents [mA] of one step, one row ten seconds after it."""
    seconds = 3600.0 * hours
    time_s = np.unique(np.append(np.arange(0.0, seconds, spacing_s), [10.0, seconds]))
    return time_s, np.full(time_s.size, current_mA)


def _cycle(anchored: bool) -> list[tuple[Floats, Floats]]:
    """Steps of one cycle; an anchored one rests for an hour in the middle of its charge."""
    half_h = PASSED_MAH / CURRENT_MA / 2.0
    charge = _step(half_h, current_mA=CURRENT_MA, spacing_s=600.0)
    rest = [_step(1.0, current_mA=0.0, spacing_s=60.0)] if anchored else []
    down = _step(2.0 * half_h, current_mA=-CURRENT_MA, spacing_s=600.0)
    return [charge, *rest, charge, down, _step(0.25, current_mA=0.0, spacing_s=60.0)]


def healthy_week(negative: Negative, *, days: float = DAYS) -> Week:
    """A week against lithium without noise: cycles of four hours, an anchor about once a day.

    Parameters
    ----------
    negative : {"graphite", "lithium"}
        What the negative is.
    days : float
        Least length [d].
    """
    steps, length_h, number = [_step(2.0, current_mA=0.0, spacing_s=60.0)], 2.0, 0
    while length_h < 24.0 * days:
        steps += _cycle(anchored=number % 5 == 1)
        number += 1
        length_h = sum(float(step[0][-1]) for step in steps) / 3600.0
    starts = np.cumsum([0.0, *(float(step[0][-1]) for step in steps[:-1])])
    time_s = np.concatenate([step[0] + start for step, start in zip(steps, starts, strict=True)])
    current_mA = np.concatenate([step[1] for step in steps])
    each = 0.5 * (current_mA[1:] + current_mA[:-1]) * np.diff(time_s) / 3600.0
    passed_mAh = np.concatenate([[0.0], np.cumsum(each)])
    positive_V = positive_potential_V(0.96 - passed_mAh / POSITIVE_MAH)
    graphite_V = negative_potential_V(0.004 + passed_mAh / NEGATIVE_MAH)
    negative_V = graphite_V if negative == "graphite" else np.zeros(time_s.size)
    positive_V = positive_V + current_mA * POSITIVE_OHM / 1000.0
    negative_V = negative_V - current_mA * NEGATIVE_OHM / 1000.0
    return Week(time_s, current_mA, positive_V - negative_V, positive_V, negative_V)


@lru_cache(maxsize=1)
def sloping_weeks() -> Week:
    """Ten days of a cell with a sloping positive, without noise: four check-ups, ageing between."""
    columns = simulated(check_ups(4), noise_mV=0.0)
    return Week(
        columns["time_s"] - START_s,
        columns["current_mA"],
        columns["cell_V"],
        columns["positive_V"],
        columns["negative_V"],
    )


def read(week: Week, random: np.random.Generator) -> Week:
    """Give a week as channels of the default noise read it."""
    noise_V = VOLTAGE_NOISE_V * random.standard_normal((3, week.time_s.size))
    return replace(
        week,
        cell_V=week.cell_V + noise_V[0],
        positive_V=week.positive_V + noise_V[1],
        negative_V=week.negative_V + noise_V[2],
    )


def sound(week: Week, random: np.random.Generator) -> Week:
    """Give a week with a sound reference: an offset and a drift as small as they are by nature."""
    offset_V = 0.0006 * random.standard_normal()
    drift_V = 0.00002 * random.standard_normal() * week.time_h / 24.0
    return week.against(offset_V + drift_V)


def off(offset_mV: float) -> Fault:
    """Reference that sits off lithium from the plating on."""
    return lambda week, random: sound(week, random).against(np.array(offset_mV / 1000.0))


def drifting(mV_per_day: float) -> Fault:
    """Reference that drifts."""
    return lambda week, random: sound(week, random).against(mV_per_day * week.time_h / 24e3)


def jumping(jump_mV: float) -> Fault:
    """Reference that jumps once."""
    return lambda week, random: sound(week, random).against(
        np.where(week.time_h > FAULT_H, jump_mV / 1000.0, 0.0)
    )


def exhausted(week: Week, random: np.random.Generator) -> Week:
    """Reference whose lithium is used up: a jump, then a slide to the potential of copper."""
    since_h = np.maximum(week.time_h - FAULT_H, 0.0)
    copper_V = 2.9 - 2.55 * np.exp(-since_h / 12.0)
    return sound(week, random).against(np.where(week.time_h > FAULT_H, copper_V, 0.0))


def noisy(noise_mV: float) -> Fault:
    """Reference whose lead has a bad contact: both potentials are noisy alike."""
    return lambda week, random: sound(week, random).against(
        noise_mV / 1000.0 * random.standard_normal(week.time_s.size)
    )


def shorted(to: Literal["positive", "negative"], *, from_h: float = FAULT_H) -> Fault:
    """Reference that touches an electrode from some moment on [h]."""

    def fault(week: Week, random: np.random.Generator) -> Week:
        touched = week.time_h > from_h
        before, place_V = sound(week, random), getattr(week, f"{to}_V")
        after = week.against(place_V)
        return replace(
            week,
            positive_V=np.where(touched, after.positive_V, before.positive_V),
            negative_V=np.where(touched, after.negative_V, before.negative_V),
        )

    return fault


def wrong_gain(share: float) -> Fault:
    """Channel of the cell voltage whose gain is wrong by a share."""
    return lambda week, random: replace(sound(week, random), cell_V=week.cell_V * (1.0 + share))


def exchanged(week: Week, random: np.random.Generator) -> Week:
    """Leads of positive and negative exchanged at the channels."""
    right = sound(week, random)
    return replace(right, positive_V=right.negative_V, negative_V=right.positive_V)


def reversed_positive(week: Week, random: np.random.Generator) -> Week:
    """Channel of the positive the wrong way round."""
    right = sound(week, random)
    return replace(right, positive_V=-right.positive_V)
