"""Whether the arcs of a fit may be read one by one, or only their sum.

References
----------
Cramer-Rao bounds of two arcs (own, as in the test of them): a split is worth reading where the
time constants are ten apart and every width is known to a tenth; common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trivet.science.circuit.solver import Problem

Floats = NDArray[np.float64]

SPLIT_RATIO = 10.0
"""Time constants must be this far apart; from Cramer-Rao bounds, common practice, no source."""
SPLIT_ERROR = 0.10
"""And each width known this well."""
SPLIT_EXPONENT = 0.6
"""And no exponent below; a flatter arc is several that merged; common practice, no source."""
SPLIT_CORRELATION = 0.99
"""And widths that do not only trade with each other; common practice, no source."""


def largest_correlation(block: Floats) -> float | None:
    """Largest correlation in size between neighbouring arcs [1]; None for one arc or at a bound.

    Parameters
    ----------
    block : numpy.ndarray
        Rows and columns of the widths in (J'J)^-1, shape (arcs, arcs).
    """
    if len(block) < 2 or not np.all(np.isfinite(block)):
        return None
    size = np.sqrt(np.diag(block))
    neighbours = np.diag(block / np.outer(size, size), 1)
    return float(neighbours[np.argmax(np.abs(neighbours))])


def split_refused(
    problem: Problem,
    values: Floats,
    errors: Floats,
    at_bound: tuple[str, ...],
    correlation: float | None,
) -> tuple[str, ...]:
    """Why the arcs may not be read one by one; empty where they may, or where there is one.

    Parameters
    ----------
    problem : Problem
        The spectrum and its circuit.
    values, errors : numpy.ndarray
        Parameters and their standard errors, arcs in order of time constant, shape (p,).
    at_bound : tuple of str
        Names of parameters at a bound.
    correlation : float or None
        Largest correlation of neighbouring widths [1].
    """
    names, firsts = problem.circuit.names, problem.circuit.arc_places
    if len(firsts) < 2:
        return ()
    reasons = []
    ratio = min(values[b + 1] / values[a + 1] for a, b in pairwise(firsts))
    if ratio < SPLIT_RATIO:
        reasons.append(f"time constants only {ratio:.3g} apart, {SPLIT_RATIO:g} needed")
    angular = problem.grid.laplace_rad_s.imag
    for at in firsts:
        if not errors[at] <= SPLIT_ERROR * values[at]:
            share = 100 * errors[at] / values[at]
            found = f"{share:.3g} %" if np.isfinite(share) else "not known"
            limit = f"at most {100 * SPLIT_ERROR:g} %"
            reasons.append(f"standard error of {names[at]} {found}, {limit}")
        if values[at + 2] < SPLIT_EXPONENT:
            found = f"{names[at + 2]} is {values[at + 2]:.2f}, at least {SPLIT_EXPONENT:g}"
            reasons.append(f"{found} needed: merged arcs")
        if not angular[-1] <= 1 / values[at + 1] <= angular[0]:
            reasons.append(f"peak of {names[at]} outside the measured frequencies")
    if correlation is not None and abs(correlation) > SPLIT_CORRELATION:
        reasons.append(f"widths correlate by {correlation:.3f}, at most {SPLIT_CORRELATION:g}")
    of_arcs = {name for at in firsts for name in names[at : at + 3]}
    reasons += [f"{name} at its bound" for name in at_bound if name in of_arcs]
    return tuple(reasons)
