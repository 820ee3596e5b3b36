"""Physical model of the invented cells: potentials, resistances, ageing, the reference.

A cell is two stores of lithium. `positive_mAh` is the lithium in the LFP, `negative_mAh` that in
the graphite. Current moves lithium between them, a side reaction takes it from the graphite for
good, an internal short carries it back. What the model leaves out: slow relaxation at rest,
temperature, hysteresis of the two electrodes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

Exponential = Callable[[Any], Any]

NEGATIVE_CAPACITY_MAH = 2.70
UPPER_VOLTAGE_V = 3.65
LOWER_VOLTAGE_V = 2.5
PLATEAU_V = 3.425
"""Rest plateau of LFP against lithium; common practice, no source."""
STARVATION_OHM = 8.0
"""Scale of the charging overpotential of LFP as it runs out of lithium; chosen for a taper of a
few percent of the capacity, not measured."""
BARE_COPPER_V = 2.9
"""Potential of a bare copper mesh against lithium; common practice 2.5-3.3 V, no source."""
RAIL_V = 5.0
"""Reading of a channel whose circuit is open."""


def positive_potential_V(lithium: Any, *, exponential: Exponential = np.exp) -> Any:  # noqa: ANN401
    """Equilibrium potential of LFP against lithium.

    Parameters
    ----------
    lithium : float or ndarray
        Lithium content x of LixFePO4 [1].
    exponential : callable
        `numpy.exp` for arrays, `math.exp` for the scalar solver.

    Returns
    -------
    float or ndarray
        Potential [V]: the plateau with its two ends.
    """
    return (
        PLATEAU_V
        + 0.02 * exponential(-lithium / 0.02)
        - 0.25 * exponential(-(1.0 - lithium) / 0.015)
    )


def negative_potential_V(lithium: Any, *, exponential: Exponential = np.exp) -> Any:  # noqa: ANN401
    """Equilibrium potential of graphite against lithium.

    Parameters
    ----------
    lithium : float or ndarray
        Lithium content y of LiyC6 [1].
    exponential : callable
        `numpy.exp` for arrays, `math.exp` for the scalar solver.

    Returns
    -------
    float or ndarray
        Potential [V]: plateaus near 0.21, 0.12 and 0.085 V (common practice, no source), and
        the steep rise where the graphite is empty.
    """
    return (
        0.085
        + 0.035 / (1.0 + exponential((lithium - 0.50) / 0.012))
        + 0.090 / (1.0 + exponential((lithium - 0.20) / 0.015))
        + 0.65 * exponential(-lithium / 0.010)
        + 0.24 * exponential(-lithium / 0.040)
    )


@dataclass(frozen=True)
class Resistances:
    """Resistances of one electrode.

    Attributes
    ----------
    ohmic_ohm, first_arc_ohm, second_arc_ohm : float
        Ohmic part and the two arcs [ohm].
    """

    ohmic_ohm: float
    first_arc_ohm: float
    second_arc_ohm: float

    @property
    def total_ohm(self) -> float:
        """Resistance to direct current once both arcs have settled [ohm]."""
        return self.ohmic_ohm + self.arcs_ohm

    @property
    def arcs_ohm(self) -> float:
        """Sum of the arcs [ohm]."""
        return self.first_arc_ohm + self.second_arc_ohm


def starvation_ohm(lithium: Any, *, charging: Any) -> Any:  # noqa: ANN401
    """Extra resistance of LFP where lithium (charging) or empty sites (discharging) run out.

    Parameters
    ----------
    lithium : float or ndarray
        Lithium content x of LixFePO4 [1].
    charging : bool or ndarray of bool
        Direction of the current.

    Returns
    -------
    float or ndarray
        Resistance [ohm]; 0 at the start of either direction, without bound at its end.
    """
    left = charging * lithium + (1 - charging) * (1.0 - lithium)
    return STARVATION_OHM * (1.0 / left - 1.0)


def cell_voltage_V(
    lithium: float, *, negative_mAh: float, current_mA: float, resistance_ohm: float
) -> float:
    """Cell voltage of one state, for the scalar solver.

    Parameters
    ----------
    lithium : float
        Lithium content x of LixFePO4 [1].
    negative_mAh : float
        Lithium in the graphite [mAh].
    current_mA : float
        Current, charge positive [mA].
    resistance_ohm : float
        Sum of both electrodes' resistances [ohm].

    Returns
    -------
    float
        Voltage [V].
    """
    equilibrium_V = positive_potential_V(lithium, exponential=math.exp) - negative_potential_V(
        negative_mAh / NEGATIVE_CAPACITY_MAH, exponential=math.exp
    )
    extra_ohm = starvation_ohm(lithium, charging=current_mA > 0.0) if current_mA else 0.0
    return float(equilibrium_V + current_mA * (resistance_ohm + extra_ohm) / 1000.0)


@dataclass(frozen=True)
class Ageing:
    """How one cell ages by the calendar, driven by what leaks through the lead passage.

    Attributes
    ----------
    life_h : float
        Hours at which the leak has taken a fifth of the lithium [h].
    positive, negative : Resistances
        Resistances of the fresh electrodes.
    leak_h : float or None
        Hours at which electrolyte starts to run out through the seal [h]; None: never.
    dry_h : float or None
        Hours after which the next discharge finds the separator dry [h]; None: never.
    short_h : float or None
        Hours at which an internal short starts to grow [h]; None: never.
    """

    life_h: float
    positive: Resistances
    negative: Resistances
    leak_h: float | None = None
    dry_h: float | None = None
    short_h: float | None = None

    def loss_mA(self, hours: float) -> float:
        """Side-reaction current that takes lithium for good [mA], at `hours` since crimping."""
        share = hours / self.life_h
        return 0.2 * 2.0 * (0.5 + 1.5 * share**2) / self.life_h

    def short_mA(self, hours: float) -> float:
        """Current through the internal short [mA], at `hours` since crimping."""
        if self.short_h is None or hours <= self.short_h:
            return 0.0
        return min(0.18, 0.002 * (hours - self.short_h))

    def resistances(self, hours: float) -> tuple[Resistances, Resistances]:
        """Positive and negative resistances at `hours` since crimping."""
        share = hours / self.life_h
        ohmic = 1.0 + 0.45 * share
        arcs = 1.0 + 0.7 * share**1.5
        if self.leak_h is not None and hours > self.leak_h:
            ohmic *= math.exp((hours - self.leak_h) / 120.0)
        grown = [
            Resistances(
                part.ohmic_ohm * ohmic, part.first_arc_ohm * arcs, part.second_arc_ohm * arcs
            )
            for part in (self.positive, self.negative)
        ]
        return grown[0], grown[1]


DRY_OHM = 1200.0
"""Resistance that a dry separator adds, all of it on the positive side [ohm]."""


CHANNEL_OHM = 1e9
"""Input resistance of the invented measuring channels [ohm]."""
USABLE_SHARE = 0.8
"""Share of the plated charge that is usable lithium; an assumption."""


@dataclass(frozen=True)
class ReferenceModel:
    """Potential of the plated mesh against lithium.

    Attributes
    ----------
    offset_mV : float
        Offset right after plating [mV].
    drift_mV_per_day : float
        Slow drift [mV/d].
    plated_h : float
        Hours since crimping at which it was plated [h].
    plated_mAh : float
        Charge plated [mAh].
    lead_leak_mA : float
        Current that a damaged insulation of the lead takes from the mesh [mA].
    """

    offset_mV: float
    drift_mV_per_day: float
    plated_h: float
    plated_mAh: float
    lead_leak_mA: float = 0.0

    @property
    def drain_mA(self) -> float:
        """Current that takes lithium off the mesh: measuring channel and lead [mA]."""
        return PLATEAU_V / CHANNEL_OHM * 1000.0 + self.lead_leak_mA

    @property
    def exhausted_h(self) -> float:
        """Hours since crimping at which the last lithium is gone [h]."""
        return self.plated_h + USABLE_SHARE * self.plated_mAh / self.drain_mA

    def charge_left_mAh(self, hours: float) -> float:
        """Lithium left on the mesh [mAh], at `hours` since crimping."""
        drained = self.drain_mA * (hours - self.plated_h)
        return max(USABLE_SHARE * self.plated_mAh - drained, 0.0)

    def offset_V(self, hours: np.ndarray) -> np.ndarray:
        """Potential of the reference against lithium.

        Parameters
        ----------
        hours : ndarray, shape (n_rows,)
            Time since crimping [h].

        Returns
        -------
        ndarray, shape (n_rows,)
            Offset [V]: a slow drift, then a jump of some hundred millivolts when the lithium
            is used up and a slide to the potential of bare copper.
        """
        since_plating_d = (hours - self.plated_h) / 24.0
        offset = (self.offset_mV + self.drift_mV_per_day * since_plating_d) / 1000.0
        since_h = np.maximum(hours - self.exhausted_h, 0.0)
        copper = BARE_COPPER_V - (BARE_COPPER_V - 0.35) * np.exp(-since_h / 12.0)
        return np.where(hours >= self.exhausted_h, copper, offset)
