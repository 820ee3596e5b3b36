"""The sign of the current, proved against the voltage in stretches of constant current."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_CONSTANT = 0.02
"""A stretch is constant where the current stays within this share of its largest."""
_ROWS = 5
_SMALLEST_mA = 0.002
"""Smaller currents may be the offset of a channel at rest; common practice, no source."""
_NOISE_V = 0.002
"""A voltage that moves less than this in a stretch proves nothing; common practice, no source."""


@dataclass(frozen=True)
class SignEvidence:
    """What the voltage says about the sign of the current.

    Attributes
    ----------
    agreeing_mAh, contradicting_mAh : float
        Charge of the stretches in which the voltage moves as the sign says, and against it [mAh].
    first_row : int or None
        First row of the first stretch that contradicts.
    """

    agreeing_mAh: float
    contradicting_mAh: float
    first_row: int | None = None

    @property
    def found(self) -> bool:
        """Whether there is any evidence."""
        return self.agreeing_mAh + self.contradicting_mAh > 0

    @property
    def contradicts(self) -> bool:
        """Whether most of the charge says that the sign is wrong."""
        return self.contradicting_mAh > self.agreeing_mAh


def sign_evidence(
    time_s: np.ndarray, *, current_mA: np.ndarray, voltage_V: np.ndarray
) -> SignEvidence:
    """Hold the sign of the current against the slope of the voltage.

    A charging cell's voltage rises, a discharging cell's falls. Only stretches of at least five
    rows count whose current is constant within 2 %; the first row of each is left out, because
    it may still bear the voltage before the step.

    Parameters
    ----------
    time_s : numpy.ndarray, shape (n_rows,)
        Time [s].
    current_mA : numpy.ndarray, shape (n_rows,)
        Current, taken to be positive in charge [mA].
    voltage_V : numpy.ndarray, shape (n_rows,)
        Cell voltage [V].

    Returns
    -------
    SignEvidence
        Charges for and against.
    """
    known = np.isfinite(current_mA) & np.isfinite(voltage_V)
    usable = None if np.all(known) else np.flatnonzero(known)
    if usable is not None:
        time_s, current_mA, voltage_V = time_s[usable], current_mA[usable], voltage_V[usable]
    starts, stops = _stretches(current_mA)
    if not len(starts):
        return SignEvidence(0.0, 0.0)
    rise = voltage_V[stops - 1] - voltage_V[starts + 1]
    charge = np.abs(current_mA[starts]) * (time_s[stops - 1] - time_s[starts]) / 3600.0
    clear = np.abs(rise) > _NOISE_V
    agrees = np.sign(rise) == np.sign(current_mA[starts])
    against = clear & ~agrees
    first = int(starts[int(np.argmax(against))]) if np.any(against) else None
    first = first if first is None or usable is None else int(usable[first])
    return SignEvidence(float(charge[clear & agrees].sum()), float(charge[against].sum()), first)


def _stretches(current_mA: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First and past-last rows of stretches of constant current."""
    if len(current_mA) < _ROWS:
        return np.zeros(0, dtype=int), np.zeros(0, dtype=int)
    up, down, size = current_mA > 0, current_mA < 0, np.abs(current_mA)
    runs = np.flatnonzero(np.append(True, _changes(up) | _changes(down)))
    lengths = np.diff(runs, append=len(size))
    steady = size >= np.repeat((1 - _CONSTANT) * np.maximum.reduceat(size, runs), lengths)
    steady &= size >= _SMALLEST_mA
    begins = np.append(True, _changes(steady))
    begins[runs] = True
    edges = np.flatnonzero(begins)
    stops = np.append(edges[1:], len(size))
    long = steady[edges] & (stops - edges >= _ROWS)
    return edges[long], stops[long]


def _changes(mask: np.ndarray) -> np.ndarray:
    """Where a mask changes from one row to the next, shape (n_rows - 1,)."""
    return np.asarray(mask[1:] != mask[:-1])
