"""Charge left: what the measuring channels have not yet drained of the plated lithium."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trivet.reference_checks import ReferenceCheck
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.integrals import Floats
from trivet.science.reference.checks.watched import PlatedSpan, Watch, Watched
from trivet.science.reference.plating import drained_mAh
from trivet.science.reference.trust import Check, assess


def watch(cell: Watched) -> Watch:
    """Give the charge left at the last row of each plating, and where it first passes a limit."""
    hours = cell.record.time_s / SECONDS_PER_HOUR
    resistance_ohm = cell.channel_resistance_ohm
    limits = cell.limits.of(ReferenceCheck.CHARGE_LEFT)

    def checks(span: PlatedSpan) -> Iterator[Check]:
        rows = np.flatnonzero(span.holds(hours))
        usable_mAh = span.plating.usable_mAh
        if usable_mAh is None or resistance_ohm is None or not rows.size:
            return
        left = charge_left(
            cell.record.time_s[rows],
            tuple(part[rows] for part in cell.measured),
            usable_mAh=usable_mAh,
            resistance_ohm=resistance_ohm,
        )
        marks = {rows.size - 1}
        for limit in limits:
            marks |= set(np.flatnonzero(left < limit)[:1].tolist())
        for mark in sorted(marks):
            yield assess(
                ReferenceCheck.CHARGE_LEFT,
                float(hours[rows[mark]]),
                float(left[mark]),
                limits=limits,
                doubt_to_h=span.stop_h,
            )

    return checks


def charge_left(
    time_s: Floats,
    potentials_V: tuple[Floats, ...],
    *,
    usable_mAh: float,
    resistance_ohm: float,
) -> Floats:
    """Share of the usable plated charge that the measuring channels have left (check R8).

    An upper bound: corrosion and water take more. Each measured pair drains E / R.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time from the plating on [s].
    potentials_V : tuple of ndarray, shape (n,)
        Potentials that were measured against the reference [V].
    usable_mAh : float
        Plated charge times efficiency, above zero [mAh].
    resistance_ohm : float
        Input resistance of each channel [ohm].

    Returns
    -------
    ndarray, shape (n,)
        Share left [1], not below zero.

    References
    ----------
    Ohm's law, see `drained_mAh`.
    """
    drained = drained_mAh(time_s, potentials_V, resistance_ohm=resistance_ohm)
    return np.maximum(1.0 - drained / usable_mAh, 0.0)
