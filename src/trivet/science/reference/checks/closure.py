"""Closure: cell voltage less positive plus negative, which no reference can move."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trivet.reference_checks import ReferenceCheck
from trivet.science.cycling.integrals import Floats, Integers
from trivet.science.electrodes.electrode_cycles import closure_V
from trivet.science.reference.checks.watched import PlatedSpan, Watch, Watched
from trivet.science.reference.trust import Check, assess


def watch(cell: Watched) -> Watch:
    """Take the median closure of every cycle; it throws doubt on that cycle only."""
    record, cycles = cell.record, cell.cycles
    closure = closure_V(record.cell_V, record.positive_V, record.negative_V)
    closure = np.where(record.closable, closure, np.nan)
    medians = median_closure_mV(closure, cycles.first_row, cycles.last_row)
    limits = cell.limits.of(ReferenceCheck.CLOSURE)

    def checks(span: PlatedSpan) -> Iterator[Check]:
        for index in np.flatnonzero(np.isfinite(medians) & span.holds(cycles.end_h)):
            yield assess(
                ReferenceCheck.CLOSURE,
                float(cycles.end_h[index]),
                float(medians[index]),
                limits=limits,
                doubt_from_h=float(cycles.start_h[index]),
                doubt_to_h=float(cycles.end_h[index]),
            )

    return checks


def median_closure_mV(closure: Floats, first_row: Integers, last_row: Integers) -> Floats:
    """Median closure of each cycle (check R4).

    Parameters
    ----------
    closure : ndarray, shape (n,)
        Closure of each row [V].
    first_row, last_row : ndarray of int, shape (m,)
        First and last row of each cycle.

    Returns
    -------
    ndarray, shape (m,)
        Median [mV]; NaN where a cycle has no row with all three.
    """
    out = np.full(first_row.size, np.nan)
    for index, (first, last) in enumerate(zip(first_row, last_row, strict=True)):
        part = closure[first : last + 1]
        part = part[np.isfinite(part)]
        if part.size:
            out[index] = np.median(part) * 1000.0
    return out
