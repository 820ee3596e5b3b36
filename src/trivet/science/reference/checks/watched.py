"""What a check of a reference is given: the whole record once, then one plating after another."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from trivet.reasons import AnchorKind
from trivet.reference_checks import ReferenceCheck
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.integrals import Booleans, Floats
from trivet.science.reference.record import Plating, Record, TrustLimits
from trivet.science.reference.trust import Check, assess

Z95 = 1.959964
"""Half width of a 95 % interval in standard errors."""


@dataclass(frozen=True)
class Anchor:
    """The known potential that the reference is held against.

    Attributes
    ----------
    kind : AnchorKind
        Rest of the positive on its plateau, plateau of a graphite negative at low rate, rest of a
        lithium negative, or none.
    potential_V : float
        Potential of the plateau [V]; a lithium negative rests at 0 V.
    from_share, to_share : float
        State of charge between which the plateau of the positive holds [1].
    rest_s : float
        Rest before it is read [s].
    uncertainty_mV : float
        Standard uncertainty of the known potential [mV].
    """

    kind: AnchorKind
    potential_V: float
    from_share: float
    to_share: float
    rest_s: float
    uncertainty_mV: float = 0.0


@dataclass(frozen=True)
class Readings:
    """Values of one check in order of time, shape (k,) each.

    Attributes
    ----------
    time_h : ndarray
        When [h].
    value : ndarray
        What was found, in the unit of the check.
    """

    time_h: Floats
    value: Floats


@dataclass(frozen=True)
class AnchorReadings:
    """Offsets from known potentials, in order of time, shape (k,) each.

    Attributes
    ----------
    time_h, value, uncertainty : ndarray
        When [h], measured less known, standard uncertainty of the known potential [mV].
    """

    time_h: Floats
    value: Floats
    uncertainty: Floats

    def between(self, start_h: float, stop_h: float) -> AnchorReadings:
        """Readings from one time on and before another."""
        keep = (self.time_h >= start_h) & (self.time_h < stop_h)
        return AnchorReadings(self.time_h[keep], self.value[keep], self.uncertainty[keep])

    def joined(self, other: AnchorReadings) -> AnchorReadings:
        """Both in order of time."""
        time_h = np.concatenate([self.time_h, other.time_h])
        order = np.argsort(time_h, kind="stable")
        value = np.concatenate([self.value, other.value])[order]
        uncertainty = np.concatenate([self.uncertainty, other.uncertainty])[order]
        return AnchorReadings(time_h[order], value, uncertainty)


def no_readings() -> AnchorReadings:
    """No anchor at all."""
    return AnchorReadings(np.zeros(0), np.zeros(0), np.zeros(0))


@dataclass(frozen=True)
class Watched:
    """A cell whose reference is checked.

    Attributes
    ----------
    record : Record
        Its rows.
    halves, cycles : Halves, Cycles
        Its half-cycles and cycles.
    anchor : Anchor
        What the offset is held against.
    logged : AnchorReadings
        Offsets that a person measured.
    limits : TrustLimits
        Limits of the checks.
    zero_current_mA : float
        Half width of the zero band [mA].
    channel_resistance_ohm : float or None
        Input resistance of the measuring channels [ohm].
    measured : tuple of ndarray, shape (n,)
        Potentials that a channel measured against the reference, so drains it [V].
    wrong_leads : bool
        Whether leads look exchanged or reversed.
    """

    record: Record
    halves: Halves
    cycles: Cycles
    anchor: Anchor
    logged: AnchorReadings
    limits: TrustLimits
    zero_current_mA: float
    channel_resistance_ohm: float | None
    measured: tuple[Floats, ...]
    wrong_leads: bool


@dataclass(frozen=True)
class PlatedSpan:
    """One plating, up to the next.

    Attributes
    ----------
    plating : Plating
        The plating.
    stop_h : float
        Time of the next one [h]; infinite where there is none.
    found : tuple of Check
        What the checks that run before have found in it.
    """

    plating: Plating
    stop_h: float
    found: tuple[Check, ...] = ()

    @property
    def start_h(self) -> float:
        """Time of the plating [h]."""
        return self.plating.time_h

    def holds(self, time_h: Floats) -> Booleans:
        """Which times lie in it, shape as given."""
        return (time_h >= self.start_h) & (time_h < self.stop_h)

    def part(self, readings: Readings, *, from_h: float | None = None) -> Readings:
        """Readings in it, from a later time on where one is given [h]."""
        keep = self.holds(readings.time_h)
        if from_h is not None:
            keep &= readings.time_h >= from_h
        return Readings(readings.time_h[keep], readings.value[keep])


Watch = Callable[[PlatedSpan], Iterable[Check]]
"""Gives the checks of one plating; the `watch` of a check's module makes it for the record."""


def graded(check: ReferenceCheck, readings: Readings, limits: tuple[float, float]) -> list[Check]:
    """Hold every reading of one check against its limits.

    Parameters
    ----------
    check : ReferenceCheck
        The check.
    readings : Readings
        What was found.
    limits : tuple of float
        Beyond the first suspect, beyond the second lost [unit of the check].
    """
    return [
        assess(check, float(time), float(value), limits=limits)
        for time, value in zip(readings.time_h, readings.value, strict=True)
    ]
