"""An invented cell with a sloping positive and graphite: a physical model.

Half-cell functions are invented: an oxide that slopes from 4.3 to 3.3 V with two weak steps, and a
graphite with a plateau near 85 mV, one near 120 mV and a steep end. Each electrode has a resistance
that grows, a diffusion overpotential of first order (so that it relaxes), and the cell loses
lithium with every cycle. The reference adds an offset that the user chooses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

CAPACITY_mAh = 2.0
START_s = 1.7e9
STEP_s, REST_STEP_s = 120.0, 60.0
UPPER_V, LOWER_V = 4.15, 3.0


def positive_V(share: float) -> float:
    """Potential of the oxide; `share` is the charge from the full electrode."""
    step = 0.05 * np.tanh((share - 0.2) / 0.07) + 0.04 * np.tanh((share - 0.6) / 0.1)
    return float(4.28 - 0.62 * share - step - 0.3 * np.exp((share - 1.1) / 0.04))


def negative_V(filled: float) -> float:
    """Potential of the graphite by how full it is."""
    steps = 0.0175 * (1 - np.tanh((filled - 0.52) / 0.025))
    steps += 0.04 * (1 - np.tanh((filled - 0.22) / 0.04))
    end = 0.5 * np.exp(-filled / 0.025)
    return float(0.085 - 0.006 * (filled - 0.75) + steps + end)


@dataclass(frozen=True)
class Ageing:
    """What changes by cycle: lithium lost [mAh], growth of resistance [share]."""

    lithium_mAh: float = 0.004
    resistance: float = 0.01


def simulated(
    rates: Sequence[float],
    *,
    offset_mV: Callable[[np.ndarray], np.ndarray] | None = None,
    ageing: Ageing | None = None,
    noise_mV: float = 0.1,
    seed: int = 0,
) -> dict[str, np.ndarray]:
    """Columns of a series: a rest, then cycles at these rates, each with a rest after each half.

    Parameters
    ----------
    rates : sequence of float
        Rate of each cycle [1/h].
    offset_mV : callable or None
        What the reference adds to both potentials, by hours since the start [mV].
    ageing : Ageing or None
        Ageing of each cycle.
    noise_mV : float
        Noise of each channel [mV].
    seed : int
        Seed of the noise.
    """
    given = ageing or Ageing()
    rows: list[tuple[float, float, float, float]] = []
    time_s, from_full, filled = 0.0, 0.95 * CAPACITY_mAh, 0.03
    lag = [0.0, 0.0]

    def step(current_mA: float, seconds: float, growth: float) -> float:
        nonlocal time_s, from_full, filled
        passed = current_mA * seconds / 3600.0
        from_full -= passed
        filled += passed / (CAPACITY_mAh * 1.1)
        time_s += seconds
        for side, (size_ohm, tau_s) in enumerate(((6.0, 300.0), (5.0, 200.0))):
            lag[side] += (current_mA * size_ohm * growth - lag[side]) * -np.expm1(-seconds / tau_s)
        up = positive_V(from_full / CAPACITY_mAh) + (lag[0] + 9.0 * growth * current_mA) / 1000.0
        down = negative_V(filled) - (lag[1] + 4.0 * growth * current_mA) / 1000.0
        rows.append((time_s, current_mA, up, down))
        return up - down

    for _ in range(20):
        step(0.0, STEP_s, 1.0)
    for number, rate in enumerate(rates):
        growth = 1.0 + given.resistance * number
        level = rate * CAPACITY_mAh
        for sign, limit in ((1.0, UPPER_V), (-1.0, LOWER_V)):
            # A row right after each step of the current.
            voltage = step(sign * level, 1.0, growth)
            step(sign * level, 9.0, growth)
            while sign * (limit - voltage) > 0 and from_full + 0.3 > 0.0:
                voltage = step(sign * level, STEP_s, growth)
            step(0.0, 1.0, growth)
            for _ in range(60):
                step(0.0, REST_STEP_s, growth)
        filled -= given.lithium_mAh / (CAPACITY_mAh * 1.1)
    columns = np.array(rows).T
    random = np.random.default_rng(seed)
    noise = random.normal(0.0, noise_mV / 1000.0, (3, columns.shape[1]))
    hours = columns[0] / 3600.0
    moved = np.zeros(hours.size) if offset_mV is None else offset_mV(hours) / 1000.0
    return {
        "time_s": START_s + columns[0],
        "current_mA": columns[1],
        "cell_V": columns[2] - columns[3] + noise[0],
        "positive_V": columns[2] + moved + noise[1],
        "negative_V": columns[3] + moved + noise[2],
    }


def check_ups(number: int, *, between: int = 10) -> list[float]:
    """Rates of a formation cycle and check-ups with ageing cycles between them."""
    rates = [0.1]
    for _ in range(number):
        rates += [0.1, *[0.5] * between]
    return rates[: len(rates) - between] if between else rates
