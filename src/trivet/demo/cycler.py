"""The invented cycler: runs the protocol on one cell and records rows.

The current is piecewise linear between rows, so that the charge of the model is the exact
integral of the rows before they are rounded for the file.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from trivet.demo.physics import (
    DRY_OHM,
    LOWER_VOLTAGE_V,
    NEGATIVE_CAPACITY_MAH,
    STARVATION_OHM,
    UPPER_VOLTAGE_V,
    Exponential,
    Resistances,
    cell_voltage_V,
    negative_potential_V,
    positive_potential_V,
    starvation_ohm,
)
from trivet.demo.plan import DESIGN_CAPACITY_MAH, CellPlan

SLOW_MA = 0.1 * DESIGN_CAPACITY_MAH
FAST_MA = 0.5 * DESIGN_CAPACITY_MAH
TAPER_MA = 0.05 * DESIGN_CAPACITY_MAH
FORMATION_LOSS_MA = (0.0085, 0.0015)
"""Side reaction while the interphase forms, in the first and the second cycle [mA]."""


@dataclass(frozen=True)
class CheckUp:
    """Where and in which state a spectrum was taken.

    Attributes
    ----------
    cycle : int
        Cycle in which it was taken, from 1.
    hours : float
        Hours since crimping [h].
    positive, negative : Resistances
        Resistances of the model at that time.
    """

    cycle: int
    hours: float
    positive: Resistances
    negative: Resistances


@dataclass
class Recorder:
    """Rows of one cell and the state that the protocol works on.

    Attributes
    ----------
    seconds : float
        Time since crimping [s].
    positive_mAh, negative_mAh : float
        Lithium in the electrodes [mAh].
    passed_mAh : float
        Charge passed since the start, discharge subtracted [mAh].
    cycle : int
        Cycle now running, from 1; 0 before the first charge.
    dry : bool
        Whether the separator is dry.
    rows : list of ndarray, shape (7, n_rows)
        Time [s], current [mA], lithium of both [mAh], resistance of both [ohm], cycle.
    check_ups : list of CheckUp
        Spectra taken.
    """

    plan: CellPlan
    seconds: float
    positive_mAh: float
    negative_mAh: float = 0.0
    passed_mAh: float = 0.0
    cycle: int = 0
    dry: bool = False
    rows: list[np.ndarray] = field(default_factory=list)
    check_ups: list[CheckUp] = field(default_factory=list)

    @property
    def hours(self) -> float:
        """Time since crimping [h]."""
        return self.seconds / 3600.0

    @property
    def resistance_ohm(self) -> tuple[float, float]:
        """Resistance of positive and negative to direct current [ohm]."""
        positive, negative = self.plan.ageing.resistances(self.hours)
        return positive.total_ohm + (DRY_OHM if self.dry else 0.0), negative.total_ohm

    def _currents(self) -> tuple[float, float]:
        """Side reaction and internal short [mA]."""
        loss_mA = self.plan.ageing.loss_mA(self.hours)
        if 1 <= self.cycle <= len(FORMATION_LOSS_MA):
            loss_mA += FORMATION_LOSS_MA[self.cycle - 1]
        return loss_mA, self.plan.ageing.short_mA(self.hours)

    def run(self, offsets_s: np.ndarray, *, currents_mA: np.ndarray) -> None:
        """Record rows and move the lithium.

        Parameters
        ----------
        offsets_s : ndarray, shape (n_rows,)
            Time since now [s], starting at 0.
        currents_mA : ndarray, shape (n_rows,)
            Current at these times, linear in between, charge positive [mA].
        """
        loss_mA, short_mA = self._currents()
        mean_mA = 0.5 * (currents_mA[1:] + currents_mA[:-1])
        passed_mAh = np.concatenate(([0.0], np.cumsum(mean_mA * np.diff(offsets_s)))) / 3600.0
        hours = offsets_s / 3600.0
        positive = self.positive_mAh - passed_mAh + short_mA * hours
        negative = self.negative_mAh + passed_mAh - (short_mA + loss_mA) * hours
        block = np.empty((7, offsets_s.size))
        block[:2] = self.seconds + offsets_s, currents_mA
        block[2:4] = positive, np.maximum(negative, 0.0)
        block[4:6] = np.array(self.resistance_ohm)[:, None]
        block[6] = self.cycle
        self.rows.append(block)
        self.seconds += float(offsets_s[-1])
        self.passed_mAh += float(passed_mAh[-1])
        self.positive_mAh = float(positive[-1])
        self.negative_mAh = max(float(negative[-1]), 0.0)

    def rest(self, duration_s: float, *, spacing_s: float = 300.0) -> None:
        """Rest without current, for the duration and with rows at the spacing [s]."""
        grid = _grid(duration_s, spacing_s=spacing_s)
        self.run(grid, currents_mA=np.zeros(grid.size))

    def time_to_limit_s(self, current_mA: float) -> float:
        """Time until the cell voltage reaches its limit at constant current [s].

        Bisection: the voltage is monotone in time up to where one electrode is empty.
        """
        loss_mA, short_mA = self._currents()
        resistance_ohm = sum(self.resistance_ohm)
        positive_mA, negative_mA = short_mA - current_mA, current_mA - short_mA - loss_mA
        charging = current_mA > 0.0
        limit_V = UPPER_VOLTAGE_V if charging else LOWER_VOLTAGE_V
        store_mAh = self.positive_mAh if charging else self.negative_mAh
        early, late = 0.0, 0.9999 * store_mAh / abs(positive_mA if charging else negative_mA)
        for _ in range(44):
            middle = 0.5 * (early + late)
            voltage_V = cell_voltage_V(
                (self.positive_mAh + positive_mA * middle) / self.plan.positive_capacity_mAh,
                negative_mAh=self.negative_mAh + negative_mA * middle,
                current_mA=current_mA,
                resistance_ohm=resistance_ohm,
            )
            reached = voltage_V >= limit_V if charging else voltage_V <= limit_V
            early, late = (early, middle) if reached else (middle, late)
        return late * 3600.0

    def constant_current(self, current_mA: float, *, duration_s: float) -> None:
        """Run a constant current [mA] for a duration [s]; rows closer where the voltage bends."""
        grid = _grid(duration_s, spacing_s=540.0 if abs(current_mA) < FAST_MA else 330.0)
        bends = np.array([duration_s - before for before in (90.0, 25.0, 6.0)] + [10.0, 90.0])
        grid = np.unique(np.concatenate((grid, bends[(bends > 0.0) & (bends < duration_s)])))
        self.run(grid, currents_mA=np.full(grid.size, current_mA))

    def constant_voltage(self) -> None:
        """Hold the upper voltage until the current is down to C/20, or falls no further."""
        floor_mA = max(TAPER_MA, 1.1 * self._currents()[1])
        now = self.positive_mAh / self.plan.positive_capacity_mAh
        first_mA = float(self._hold_mA(now, exponential=math.exp))
        if first_mA <= floor_mA:
            self.run(np.array([0.0, 5.0]), currents_mA=np.full(2, first_mA))
            return
        content = np.geomspace(now, self._content_at(floor_mA, start=now), 22)
        currents_mA = self._hold_mA(content)
        mean_mA = 0.5 * (currents_mA[1:] + currents_mA[:-1]) - self._currents()[1]
        steps_h = -np.diff(content) * self.plan.positive_capacity_mAh / mean_mA
        self.run(np.concatenate(([0.0], np.cumsum(steps_h) * 3600.0)), currents_mA=currents_mA)

    def _driving_V(self, content: Any, *, exponential: Exponential = np.exp) -> Any:  # noqa: ANN401
        """Upper limit less the equilibrium voltage [V], at contents of the positive [1]."""
        moved_mAh = self.positive_mAh - content * self.plan.positive_capacity_mAh
        negative = (self.negative_mAh + moved_mAh) / NEGATIVE_CAPACITY_MAH
        return (
            UPPER_VOLTAGE_V
            - positive_potential_V(content, exponential=exponential)
            + negative_potential_V(negative, exponential=exponential)
        )

    def _hold_mA(self, content: Any, *, exponential: Exponential = np.exp) -> Any:  # noqa: ANN401
        """Current that holds the upper limit [mA], at contents of the positive [1]."""
        total_ohm = sum(self.resistance_ohm) + starvation_ohm(content, charging=True)
        return 1000.0 * self._driving_V(content, exponential=exponential) / total_ohm

    def _content_at(self, current_mA: float, *, start: float) -> float:
        """Content of the positive [1] at which the held current is down to a value [mA]."""
        content, fixed_ohm = start, sum(self.resistance_ohm)
        for _ in range(10):
            total_ohm = 1000.0 * float(self._driving_V(content, exponential=math.exp)) / current_mA
            content = STARVATION_OHM / (total_ohm - fixed_ohm + STARVATION_OHM)
        return content


def _grid(duration_s: float, *, spacing_s: float) -> np.ndarray:
    """Times from 0 to the duration, ten seconds after the start included [s]."""
    if duration_s <= 20.0:
        return np.array([0.0, duration_s])
    count = int(np.ceil(duration_s / spacing_s)) + 1
    return np.unique(np.concatenate((np.linspace(0.0, duration_s, count), [10.0])))
