"""Curves of slow cycles: which cycles are compared, and their four curves for registration."""

from __future__ import annotations

import numpy as np

from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.integrals import Integers, Sign, without_offset
from trivet.science.electrodes.registration import (
    Curve,
    CycleCurves,
    constant_current_curve,
)
from trivet.science.reference.record import Record

RATE_TOLERANCE = 0.1
"""Cycles whose currents differ by less are at one rate; common practice, no source."""
MOST_CYCLES = 24
"""Slow cycles that are registered, spread evenly over the life: each takes some 20 ms."""


def slow_places(cycles: Cycles) -> Integers:
    """Places of complete slow cycles that may be compared: one rate, not the first cycle.

    The first cycle of a cell forms layers on the negative; it serves only where no other does.

    Parameters
    ----------
    cycles : Cycles
        Cycles of the record.

    Returns
    -------
    ndarray of int, shape (k,)
        The first is the base of the comparison; fewer than two compare nothing.
    """
    slow = np.isin(cycles.kind.astype(str), ["formation", "check-up"]) & (cycles.complete == 1)
    places = np.flatnonzero(slow & (cycles.charge >= 0) & (cycles.discharge >= 0))
    if places.size > 2 and places[0] == 0:
        places = places[1:]
    if places.size > MOST_CYCLES:
        places = places[np.rint(np.linspace(0, places.size - 1, MOST_CYCLES)).astype(np.int64)]
    return places


def curves_of(
    record: Record, halves: Halves, cycles: Cycles, place: int, *, zero_current_mA: float
) -> CycleCurves | None:
    """The four curves of one cycle against the charge from the top of charge.

    Parameters
    ----------
    record, halves, cycles : Record, Halves, Cycles
        The cell.
    place : int
        Place of the cycle.
    zero_current_mA : float
        Half width of the zero band [mA].

    Returns
    -------
    CycleCurves or None
        None where a half-cycle is broken or has too few rows at its constant current.
    """
    by_half: dict[tuple[str, str], Curve] = {}
    both: tuple[tuple[str, int, Sign], ...] = (
        ("charge", int(cycles.charge[place]), 1),
        ("discharge", int(cycles.discharge[place]), -1),
    )
    for half, index, sign in both:
        if halves.broken[index]:
            return None
        first, last = int(halves.rows.first_row[index]), int(halves.rows.last_row[index])
        rows = slice(first, last + 1)
        current = without_offset(record.current_mA[rows], zero_current_mA=zero_current_mA)
        total = np.concatenate([[0.0], np.cumsum(halves.passed[sign][first:last])])
        from_top = total[-1] - total if sign > 0 else total
        for electrode, potential in (
            ("positive", record.positive_V),
            ("negative", record.negative_V),
        ):
            curve = constant_current_curve(from_top, potential[rows], current)
            if curve is None:
                return None
            by_half[electrode, half] = curve
    return CycleCurves(
        by_half["positive", "charge"],
        by_half["positive", "discharge"],
        by_half["negative", "charge"],
        by_half["negative", "discharge"],
    )


def mean_currents_mA(record: Record, halves: Halves, cycles: Cycles, place: int) -> float:
    """Median size of the current of the discharge of a cycle [mA]."""
    index = int(cycles.discharge[place])
    rows = slice(int(halves.rows.first_row[index]), int(halves.rows.last_row[index]) + 1)
    return float(np.nanmedian(np.abs(record.current_mA[rows])))


def same_rate(record: Record, halves: Halves, cycles: Cycles, places: Integers) -> Integers:
    """Those of the places whose discharge runs at the rate of the first."""
    if not places.size:
        return places
    sizes = np.array([mean_currents_mA(record, halves, cycles, int(place)) for place in places])
    kept: Integers = places[np.abs(sizes / sizes[0] - 1.0) <= RATE_TOLERANCE]
    return kept
