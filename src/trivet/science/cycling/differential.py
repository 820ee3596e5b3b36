"""Differential capacity dQ/dV of a half-cycle, such that its area gives back the charge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.cycling.integrals import Floats
from trivet.science.cycling.reading_error import noise_V, step_of_V

HEIGHT_ERROR = 0.05
"""Noise may move the height of the narrowest bin by this share; common practice, no source."""
FEWEST_NOISES = 3.0
"""Bins are at least so many standard deviations of the noise wide, since noise spreads charge that
far, however many rows there are; common practice, no source."""
FINEST_BIN_V = 2e-4
"""No bin is narrower, whatever the data allow: a hundredth of a plateau's width [V]; common
practice, no source."""
LEAST_SHARE = 1.0 / 250.0
"""A bin holds at least this share of the charge of its half-cycle, so that no height is made from
a few rows; common practice, no source."""

MOST_BINS = 100_000
"""Bins over all potentials of a half-cycle [1]: 20 V at the narrowest, so that potentials in a
wrong unit cost no minutes."""


@dataclass(frozen=True)
class Differential:
    """Differential capacity in bins of potential, empty bins left out; shape (k,) each.

    Attributes
    ----------
    potential_V, width_V : ndarray
        Middle and width of each bin [V].
    charge_mAh : ndarray
        Charge that passed within it [mAh].
    dq_dv_mAh_V : ndarray
        Charge over the width of the bin, not negative in either direction [mAh/V].
    """

    potential_V: Floats
    width_V: Floats
    charge_mAh: Floats
    dq_dv_mAh_V: Floats


@dataclass(frozen=True)
class Resolution:
    """Bins that the data of a half-cycle bear.

    Attributes
    ----------
    bin_V : float
        Narrowest width [V].
    edge_V : float
        An edge; all others lie whole widths from it [V].
    noise_V, step_V : float
        Standard deviation of the noise, and step in which potentials are given; 0 where none shows
        [V].
    """

    bin_V: float
    edge_V: float
    noise_V: float
    step_V: float


def resolution(potential_V: Floats, *, known_noise_V: float | None = None) -> Resolution:
    """Choose the narrowest bins that noise and step of the potentials bear.

    Noise (`noise_V`) moves the charge at both edges
    of a bin: by sqrt(2) noise over the width, as a share of the height, and by the square root of
    the rows within the noise of an edge less where there are several. Where potentials come in
    steps, a bin is an odd number of steps, at least three, with a level in its middle, so that each
    holds the same number of levels.

    Parameters
    ----------
    potential_V : ndarray, shape (n,)
        Potential of the rows of one half-cycle, in order of time; missing values are NaN [V].
    known_noise_V : float or None
        Noise as seen elsewhere, at rest, where the curve itself does not look like noise between
        rows far apart; None: that of these rows [V].

    Returns
    -------
    Resolution
    """
    known = potential_V[np.isfinite(potential_V)]
    spread_V = noise_V(known) if known_noise_V is None else known_noise_V
    step_V = step_of_V(known)
    rows = max(1.0, 2.0 * spread_V / max(_way_a_row_V(known), 1e-12))
    noises = max(FEWEST_NOISES, np.sqrt(2.0 / rows) / HEIGHT_ERROR)
    range_V = float(np.ptp(known)) if known.size else 0.0
    width_V = max(FINEST_BIN_V, noises * spread_V, range_V / MOST_BINS)
    if step_V == 0.0:
        return Resolution(width_V, 0.0, spread_V, 0.0)
    levels = max(3, int(np.ceil(width_V / step_V - 1e-6)))
    levels += 1 - levels % 2
    return Resolution(levels * step_V, float(known.min()) - step_V / 2.0, spread_V, step_V)


def _way_a_row_V(known_V: Floats) -> float:
    """How far the potential goes from row to row where it is flat: a quarter goes less [V]."""
    over = max(1, known_V.size // 50)
    way = np.abs(known_V[over:] - known_V[:-over]) / over
    return float(np.quantile(way, 0.25)) if way.size else 0.0


def differential_capacity(
    charge_mAh: Floats,
    potential_V: Floats,
    *,
    bin_V: float,
    edge_V: float = 0.0,
    least_share: float = 0.0,
) -> Differential:
    """Distribute the charge of a half-cycle over bins of potential.

    The charge between two rows is spread evenly over the potentials between them, or falls in one
    bin where they are equal. Nothing is smoothed beyond the bin, and no charge is lost, also
    where the potential turns back. Neighbours with little charge are taken together.

    Parameters
    ----------
    charge_mAh : ndarray, shape (n - 1,)
        Charge that passed between the rows [mAh].
    potential_V : ndarray, shape (n,)
        Potential of the rows [V].
    bin_V : float
        Width of the narrowest bins [V].
    edge_V : float
        An edge; the others are whole multiples of the width from it [V].
    least_share : float
        Share of the charge that a bin holds at least, else it is joined to the next; 0 joins
        none [1].

    Returns
    -------
    Differential
        Bins that hold charge, in order of potential; charge between rows of which one has no
        potential is left out.
    """
    low = np.minimum(potential_V[:-1], potential_V[1:]) - edge_V
    high = np.maximum(potential_V[:-1], potential_V[1:]) - edge_V
    known = np.isfinite(low + high) & (charge_mAh > 0.0)
    low, high, charge = low[known], high[known], charge_mAh[known]
    if not charge.size:
        return Differential(*(np.zeros(0) for _ in range(4)))
    # A bin more on either side: an edge times its width may round to the other side of a potential.
    first = int(np.floor(low.min() / bin_V)) - 1
    last = int(np.floor(high.max() / bin_V)) + 2
    edges: Floats = np.arange(first, last + 1, dtype=np.float64) * bin_V
    inside = _in_bins(edges, low, high, charge)
    # Rounding alone may leave a trace of charge in a bin that none fell in.
    kept = np.flatnonzero(inside > 1e-12 * charge.sum())
    begin, end, inside = edges[kept] + edge_V, edges[kept + 1] + edge_V, inside[kept]
    if least_share > 0.0:
        owner = _joined(inside, least_share * float(inside.sum()))
        starts = np.flatnonzero(np.diff(owner, prepend=-1))
        begin, inside = begin[starts], np.add.reduceat(inside, starts)
        end = end[np.append(starts[1:], owner.size) - 1]
    width = end - begin
    return Differential((begin + end) / 2.0, width, inside, inside / width)


def _joined(inside: Floats, least_mAh: float) -> NDArray[np.int64]:
    """Number of the joined bin of each bin; the last takes what is left over."""
    owner = np.zeros(inside.size, dtype=np.int64)
    number, held = 0, 0.0
    for place, charge in enumerate(inside):
        owner[place] = number
        held += charge
        if held >= least_mAh:
            number, held = number + 1, 0.0
    if held > 0.0 and number:
        owner[owner == number] = number - 1
    return owner


def _in_bins(edges: Floats, low: Floats, high: Floats, charge: Floats) -> Floats:
    """Charge of all intervals in each bin."""
    count = edges.size - 1
    from_bin = np.searchsorted(edges, low, side="right") - 1
    to_bin = np.maximum(np.searchsorted(edges, high, side="left") - 1, from_bin)
    within = from_bin == to_bin
    inside: Floats = np.bincount(from_bin[within], charge[within], minlength=count).astype(float)
    wide = ~within
    low, high, charge = low[wide], high[wide], charge[wide]
    from_bin, to_bin, a_volt = from_bin[wide], to_bin[wide], charge / (high - low)
    inside += np.bincount(from_bin, (edges[from_bin + 1] - low) * a_volt, minlength=count)
    inside += np.bincount(to_bin, (high - edges[to_bin]) * a_volt, minlength=count)
    # what lies between the first and the last bin of an interval fills whole bins evenly
    begins = np.bincount(from_bin + 1, a_volt, minlength=count + 1)
    ends = np.bincount(to_bin, a_volt, minlength=count + 1)
    covering = np.bincount(from_bin + 1, minlength=count + 1) - np.bincount(
        to_bin, minlength=count + 1
    )
    # rounding of the sums is no charge where no interval covers the bin
    whole = np.where(np.cumsum(covering) > 0, np.cumsum(begins - ends), 0.0)[:count]
    filled: Floats = inside + whole * np.diff(edges)
    return filled
