"""Follow all starts of one circuit at once: their least squares in step, as arrays.

A start costs little more beside others than alone, since what is slow is to call the library and
not what it computes. Ends are rough; the best one is taken to the minimum elsewhere.

References
----------
D. W. Marquardt, J. Soc. Ind. Appl. Math. 11 (1963) 431; damping by the gain as in K. Madsen,
H. B. Nielsen, O. Tingleff, Methods for non-linear least squares problems, 2004 (from memory).
"""

from __future__ import annotations

import numpy as np

from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.model import Complex, Floats, Grid, cut

MOST_STEPS = 60
FIRST_DAMPING = 1e-2
LEAST_DAMPING = 1e-13
"""Still seen beside 1 by rounding, so that no two parameters that do the same make a step
impossible."""
LARGEST_DAMPING = 1e8
LONGEST_STEP = 2.0
"""No fitted parameter, most of them logarithms, moves by more in one step."""
QUARTER_TURN = 0.5j * np.pi


def evaluate_many(
    circuit: Circuit, grid: Grid, inner: Floats, *, impedance_ohm: Complex, weight: Floats
) -> tuple[Floats, Floats]:
    """Weighted misfits of several places of one circuit, and their slopes.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    grid : Grid
        The frequencies, N of them.
    inner : numpy.ndarray
        Places, parameters as fitted, shape (S, p).
    impedance_ohm : numpy.ndarray
        Measured, shape (N,) [ohm].
    weight : numpy.ndarray
        One over its modulus, shape (N,) [1/ohm].

    Returns
    -------
    tuple of numpy.ndarray
        Real and imaginary parts by turns, shape (S, 2N); slopes, shape (S, p, 2N) [1].

    References
    ----------
    Slopes as in `trivet.science.circuit.arcs.Circuit.impedance_and_slopes`.
    """
    first, arcs, angular = circuit.first_arc, circuit.arcs, grid.logarithm.real
    sizes = np.exp(cut(inner))[:, :, None]
    slopes = np.empty((*inner.shape, len(angular)), dtype=np.complex128)
    if circuit.inductance:
        slopes[:, 0] = sizes[:, 0] * grid.laplace_rad_s
    slopes[:, first - 1] = sizes[:, first - 1]
    last = first + 3 * arcs
    exponent = _within(inner[:, first + 2 : last : 3, None], 2.0)
    turned = angular + inner[:, first + 1 : last : 3, None]
    power = np.exp(_within(exponent * turned, 300.0)) * np.exp(QUARTER_TURN * exponent)
    share = 1 / (1 + power)
    arc = sizes[:, first:last:3] * share
    falling = arc * (share - 1)
    slopes[:, first:last:3] = arc
    slopes[:, first + 1 : last : 3] = falling * exponent
    slopes[:, first + 2 : last : 3] = falling * (turned + QUARTER_TURN)
    total = arc.sum(axis=1) + slopes[:, :first].sum(axis=1)
    if circuit.tail == "warburg":
        slopes[:, -1] = sizes[:, -1] * grid.diffusion
        total += slopes[:, -1]
    elif circuit.tail == "free":
        tail = _within(inner[:, -1:], 2.0)
        slopes[:, -2] = sizes[:, -2] * np.exp(-QUARTER_TURN * tail) * np.exp(-tail * angular)
        slopes[:, -1] = -slopes[:, -2] * grid.logarithm
        total += slopes[:, -2]
    slopes *= weight
    misfit = (total - impedance_ohm) * weight
    return misfit.view(np.float64), slopes.view(np.float64)


def _within(values: Floats, limit: float) -> Floats:
    """Values cut at a limit on either side."""
    return np.minimum(np.maximum(values, -limit), limit)


def follow(
    circuit: Circuit,
    grid: Grid,
    starts: Floats,
    *,
    impedance_ohm: Complex,
    weight: Floats,
    tolerance: float,
) -> tuple[Floats, Floats]:
    """Follow starts downhill until none falls by more than a share of its sum of squares.

    Parameters
    ----------
    circuit, grid, impedance_ohm, weight
        As in `evaluate_many`.
    starts : numpy.ndarray
        Parameters as fitted, shape (S, p).
    tolerance : float
        The share [1].

    Returns
    -------
    tuple of numpy.ndarray
        Ends, shape (S, p), and their sums of squared relative residuals, shape (S,) [1].
    """
    ends = starts.copy()

    def measured(places: Floats) -> tuple[Floats, Floats, Floats]:
        """Sum of squares, downhill direction and normal matrix of places."""
        misfit, slopes = evaluate_many(
            circuit, grid, places, impedance_ohm=impedance_ohm, weight=weight
        )
        downhill = -(slopes @ misfit[:, :, None])[:, :, 0]
        return np.vecdot(misfit, misfit), downhill, slopes @ slopes.transpose(0, 2, 1)

    costs, downhill, normal = measured(ends)
    damping = np.full(len(ends), FIRST_DAMPING)
    growth = np.full(len(ends), 2.0)
    moving = np.arange(len(ends))
    for _ in range(MOST_STEPS):
        step, promised = _steps(downhill[moving], normal[moving], damping[moving])
        tried = ends[moving] + step
        reached, falls, bends = measured(tried)
        gained = costs[moving] - reached
        better = gained > 0
        done = better & (gained <= tolerance * costs[moving])
        taken = moving[better]
        ends[taken], costs[taken] = tried[better], reached[better]
        downhill[taken], normal[taken] = falls[better], bends[better]
        gain = np.minimum(np.maximum(gained / np.maximum(promised, 1e-150), -1.0), 1.0)
        eased = damping[moving] * np.maximum(1 / 3, 1 - (2 * gain - 1) ** 3)
        least = np.maximum(eased, LEAST_DAMPING)
        damping[moving] = np.where(better, least, damping[moving] * growth[moving])
        growth[moving] = np.where(better, 2.0, 2 * growth[moving])
        moving = moving[~(done | (damping[moving] > LARGEST_DAMPING))]
        if not len(moving):
            break
    return ends, costs


def _steps(downhill: Floats, normal: Floats, damping: Floats) -> tuple[Floats, Floats]:
    """Give damped steps, shape (S, p), and the fall that the linear model promises, shape (S,)."""
    damped = normal.copy()
    diagonal = np.einsum("spp->sp", damped)
    added = damping[:, None] * np.maximum(diagonal, 1e-12)
    diagonal += added
    step = np.linalg.solve(damped, downhill[:, :, None])[:, :, 0]
    step = np.minimum(np.maximum(step, -LONGEST_STEP), LONGEST_STEP)
    return step, np.vecdot(step, added * step + downhill)
