"""What was done to a cell when, and which points of which cycles are drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.integrals import Booleans, Floats, Integers, long_gaps

SHORTEST_PHASE_H = 1.0
"""Shorter pauses between cycles belong to the cycle before, and shorter gaps are not a phase of
their own; common practice, no source."""


@dataclass(frozen=True)
class Phases:
    """Phases of a cell in order of time, shape (k,) each.

    Attributes
    ----------
    starts_h, ends_h : ndarray
        Begin and end [h].
    states : tuple of str
        `rest`, a kind of cycle, or `no rows`.
    """

    starts_h: Floats
    ends_h: Floats
    states: tuple[str, ...]


def phases(time_s: Floats, cycles: Cycles, *, longest_gap_s: float) -> Phases:
    """Divide the life of a cell into phases without holes.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time of the rows, counted from the cell's clock start [s].
    cycles : Cycles
        Cycles of the record.
    longest_gap_s : float
        Gaps longer than this, and than an hour, are `no rows` [s].

    Returns
    -------
    Phases
        Neighbours differ; empty where the rows span no time.
    """
    first_h, last_h = time_s[0] / SECONDS_PER_HOUR, time_s[-1] / SECONDS_PER_HOUR
    next_h = np.append(cycles.start_h[1:], last_h)
    until_h = np.where(next_h - cycles.end_h <= SHORTEST_PHASE_H, next_h, cycles.end_h)
    gaps = np.flatnonzero(
        long_gaps(time_s, longest_gap_s=max(longest_gap_s, SHORTEST_PHASE_H * SECONDS_PER_HOUR))
    )
    from_h, to_h = time_s[gaps] / SECONDS_PER_HOUR, time_s[gaps + 1] / SECONDS_PER_HOUR
    edges = np.unique(np.concatenate([[first_h, last_h], cycles.start_h, until_h, from_h, to_h]))
    middle = (edges[:-1] + edges[1:]) / 2.0
    states = np.full(middle.size, "rest", dtype=object)
    if cycles.start_h.size:
        owner = np.searchsorted(cycles.start_h, middle, side="right") - 1
        inside = (owner >= 0) & (middle < until_h[owner])
        states[inside] = cycles.kind[owner[inside]]
    if gaps.size:
        owner = np.searchsorted(from_h, middle, side="right") - 1
        inside = (owner >= 0) & (middle < to_h[owner])
        states[inside] = "no rows"
    if not middle.size:
        return Phases(np.zeros(0), np.zeros(0), ())
    changes = np.flatnonzero(states[1:] != states[:-1]) + 1
    begin = np.concatenate([[0], changes])
    end = np.concatenate([changes, [middle.size]])
    return Phases(edges[begin], edges[end], tuple(str(states[index]) for index in begin))


def drawn_cycles(cycles: Cycles, *, count: int) -> Integers:
    """Choose the complete ageing cycles to draw: the first, the last, and evenly between.

    Parameters
    ----------
    cycles : Cycles
        Cycles of the record.
    count : int
        How many at most; one gives the first.

    Returns
    -------
    ndarray of int, shape (k,)
        Their places in `cycles`, in order.
    """
    ageing = np.flatnonzero((cycles.kind == "ageing") & (cycles.complete == 1))
    return ageing[thinned(ageing.size, most=count)]


def slow_cycles(cycles: Cycles, usable: Booleans) -> Integers:
    """Choose the slow cycles whose differential capacity is given: the first and the last check-up.

    Where fewer than two check-ups are complete and usable, formation cycles count too, and among
    these the first cycle of the cell only where there is no other: layers still form in it.

    Parameters
    ----------
    cycles : Cycles
        Cycles of the record.
    usable : ndarray of bool, shape (m,)
        Cycles whose curves the reference serves.

    Returns
    -------
    ndarray of int, shape (k,)
        Places of two complete cycles, or of the only one, in order.
    """
    whole = (cycles.complete == 1) & usable
    check_ups = np.flatnonzero(whole & (cycles.kind == "check-up"))
    slow = np.flatnonzero(whole & np.isin(cycles.kind.astype(str), ["formation", "check-up"]))
    places = check_ups if check_ups.size > 1 else slow
    if places.size > 2 and places[0] == 0:
        places = places[1:]
    return np.unique(places[[0, -1]]) if places.size else places


def thinned(size: int, *, most: int) -> Integers:
    """Indices that keep the first and the last of a run and spread the rest evenly.

    Parameters
    ----------
    size : int
        Length of the run.
    most : int
        How many to keep at most.

    Returns
    -------
    ndarray of int, shape (min(size, most),)
    """
    kept = min(size, most)
    return np.rint(np.linspace(0, size - 1, kept)).astype(np.int64) if kept else np.arange(0)
