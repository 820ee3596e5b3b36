"""Differential capacity dQ/dV of a half-cycle, such that its area gives back the charge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.cycling.integrals import Floats

_AT_ONCE = 4096
"""Intervals that are binned at once: a matrix of a few megabytes."""


@dataclass(frozen=True)
class Differential:
    """Differential capacity in bins of potential, empty bins left out; shape (k,) each.

    Attributes
    ----------
    potential_V : ndarray
        Middle of each bin [V].
    charge_mAh : ndarray
        Charge that passed within it [mAh].
    dq_dv_mAh_V : ndarray
        Charge over the width of the bin, not negative in either direction [mAh/V].
    """

    potential_V: Floats
    charge_mAh: Floats
    dq_dv_mAh_V: Floats


def differential_capacity(charge_mAh: Floats, potential_V: Floats, *, bin_V: float) -> Differential:
    """Distribute the charge of a half-cycle over bins of potential.

    The charge between two rows is spread evenly over the potentials between them, or falls in one
    bin where they are equal. Nothing is smoothed beyond the bin, and no charge is lost, also
    where the potential turns back.

    Parameters
    ----------
    charge_mAh : ndarray, shape (n - 1,)
        Charge that passed between the rows [mAh].
    potential_V : ndarray, shape (n,)
        Potential of the rows [V].
    bin_V : float
        Width of the bins; their edges are whole multiples of it [V].

    Returns
    -------
    Differential
        Bins that hold charge, in order of potential; charge between rows of which one has no
        potential is left out.
    """
    low = np.minimum(potential_V[:-1], potential_V[1:])
    high = np.maximum(potential_V[:-1], potential_V[1:])
    known = np.isfinite(low + high) & (charge_mAh > 0.0)
    low, high, charge = low[known], high[known], charge_mAh[known]
    if not charge.size:
        return Differential(np.zeros(0), np.zeros(0), np.zeros(0))
    # A bin more on either side: an edge times its width may round to the other side of a potential.
    first = int(np.floor(low.min() / bin_V)) - 1
    last = int(np.floor(high.max() / bin_V)) + 2
    edges: Floats = np.arange(first, last + 1, dtype=np.float64) * bin_V
    inside = np.zeros(edges.size - 1)
    for start in range(0, charge.size, _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        inside += _in_bins(edges, low[part], high[part], charge[part])
    # Rounding alone may leave a trace of charge in a bin that none fell in.
    kept = np.flatnonzero(inside > 1e-12 * charge.sum())
    middle = (edges[kept] + edges[kept + 1]) / 2.0
    return Differential(middle, inside[kept], inside[kept] / bin_V)


def _in_bins(edges: Floats, low: Floats, high: Floats, charge: Floats) -> Floats:
    """Charge of some intervals in each bin."""
    flat = high == low
    # Charge below each edge: the part of every interval that lies below it.
    below = np.clip((edges[:, None] - low) / np.where(flat, 1.0, high - low), 0.0, 1.0)
    below[:, flat] = edges[:, None] > low[flat]
    inside: Floats = np.diff(below @ charge)
    return inside
