"""Complex least squares of one circuit: parameters, standard errors, criteria.

The sum of the arcs is robust, their split is not: it is given only where the time constants
are ten apart and every standard error is small. Standard errors do not cover a wrong model.

References
----------
B. A. Boukamp, Solid State Ionics 20 (1986) 31 (complex least squares, analytic derivatives).
H. Akaike, IEEE Trans. Autom. Control 19 (1974) 716; G. Schwarz, Ann. Stat. 6 (1978) 461
(AIC, BIC; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from trivet.science.circuit.arc_split import largest_correlation, split_refused
from trivet.science.circuit.model import Model
from trivet.science.circuit.solver import Problem

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

SMALLEST_RELATIVE = 1e-9
"""Relative residuals below this are rounding: no criterion may choose between models by them."""
ORDERED = 3.0
"""Neighbours follow each other beyond this many standard errors of their correlation."""
AT_BOUND = 1e-6
"""A fitted parameter this near a bound stands at it."""


class FitError(ValueError):
    """The data can't be fitted, and why."""


@dataclass(frozen=True)
class SpectrumFit:
    """A fitted circuit.

    Attributes
    ----------
    circuit : Circuit
        Which elements.
    parameters : numpy.ndarray
        In the order of `circuit.names`, arcs in order of their time constants, shape (p,).
    standard_errors : numpy.ndarray
        In the units of the parameters; NaN for a parameter at its bound, shape (p,).
    at_bound : tuple of str
        Names of parameters at a bound.
    polarisation_resistance_ohm : float
        Sum of the arcs; of a model written out, its resistance to direct current without the
        ohmic part and diffusion, NaN where it blocks [ohm].
    polarisation_resistance_se_ohm : float or None
        Its standard error, from the covariance [ohm].
    resistance_correlation : float or None
        Largest correlation between the widths of neighbouring arcs; None for one arc or at a
        bound [1].
    sum_of_squares : float
        Sum of squared relative residuals of both parts [1].
    rms_percent : float
        Root mean square of the 2N parts of the relative residuals [%].
    aic, aicc, bic : float
        Information criteria with n = 2N [1].
    starts_agreeing : int
        Starting points that led to this minimum.
    split_refused : tuple of str
        Why the arcs may not be read one by one; empty where they may, or where there is one.
    """

    circuit: Model
    parameters: Floats
    standard_errors: Floats
    at_bound: tuple[str, ...]
    polarisation_resistance_ohm: float
    polarisation_resistance_se_ohm: float | None
    resistance_correlation: float | None
    sum_of_squares: float
    rms_percent: float
    aic: float
    aicc: float
    bic: float
    starts_agreeing: int
    split_refused: tuple[str, ...]

    def value(self, name: str) -> float:
        """Value of a parameter by name, in its unit."""
        return float(self.parameters[self.circuit.names.index(name)])

    def standard_error(self, name: str) -> float | None:
        """Standard error of a parameter by name, in its unit; None at a bound."""
        error = float(self.standard_errors[self.circuit.names.index(name)])
        return error if np.isfinite(error) else None

    def stands_out(self, name: str, nothing: float) -> bool:
        """Whether a parameter is more than three standard errors from a value."""
        error = self.standard_error(name)
        return error is not None and abs(self.value(name) - nothing) > 3 * error


def fit_circuit(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    circuit: Model,
    starts: int = 5,
    known_starts: Sequence[Floats] = (),
) -> SpectrumFit:
    """Fit one circuit by complex least squares with weights 1/|Z|, from several starts.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Measured impedance, shape (N,) [ohm].
    circuit : Circuit
        Which elements.
    starts : int
        Number of starting points, the same for the same data.
    known_starts : sequence of numpy.ndarray
        Further starting points, in the units of the parameters, shape (p,) each.

    Raises
    ------
    FitError
        Fewer points than parameters, or an impedance whose real part is never positive.
    """
    found = explore(
        frequency_Hz, impedance_ohm, circuit=circuit, starts=starts, known_starts=known_starts
    )
    return refine(found)


@dataclass(frozen=True)
class Explored:
    """Rough ends of all starts of one circuit.

    Attributes
    ----------
    problem : Problem
        The spectrum and the circuit.
    ends : tuple of numpy.ndarray
        Parameters as fitted, shape (p,) each.
    costs : numpy.ndarray
        Sum of squared relative residuals at each [1].
    """

    problem: Problem
    ends: tuple[Floats, ...]
    costs: Floats

    @cached_property
    def refined(self) -> SpectrumFit:
        """The minimum and what it says, computed when first asked for."""
        return refine(self)

    @property
    def bic(self) -> float:
        """Criterion at the best rough end; the minimum is a little lower [1]."""
        points, size = 2 * len(self.problem.weight), len(self.ends[0])
        return _deviance(float(np.min(self.costs)), points) + size * float(np.log(points))


def explore(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    circuit: Model,
    starts: int,
    known_starts: Sequence[Floats] = (),
) -> Explored:
    """Follow every start of one circuit roughly; arguments and errors as of `fit_circuit`."""
    if len(frequency_Hz) < len(circuit.names):
        raise FitError(f"{len(frequency_Hz)} points for {len(circuit.names)} parameters")
    if not np.any(impedance_ohm.real > 0):
        raise FitError("the real part is nowhere positive")
    problem = Problem(frequency_Hz, impedance_ohm, circuit)
    if not starts and len(known_starts) == 1:
        only = circuit.inner(known_starts[0])
        return Explored(problem, (only,), np.array([problem.cost(only)]))
    first = [circuit.inner(start) for start in known_starts]
    first += [problem.start(number) for number in range(starts)]
    ends, costs = problem.follow(np.array(first))
    return Explored(problem, tuple(ends), costs)


def refine(found: Explored) -> SpectrumFit:
    """Go from the best rough end to the minimum, within the bounds."""
    problem, costs = found.problem, found.costs
    best = int(np.argmin(costs))
    agreeing = int(np.count_nonzero(costs <= 1.01 * costs[best] + 1e-12))
    ends = [problem.minimum(found.ends[best])]
    inside = [problem.is_inside(end) for end in found.ends]
    if any(inside) and not inside[best]:
        ends.append(problem.minimum(found.ends[int(np.argmin(np.where(inside, costs, np.inf)))]))
    return _summary(problem, min(ends, key=problem.cost), agreeing)


def _deviance(squares: float, points: int) -> float:
    """Give n ln(S/n) of n = 2N parts, with a floor at rounding [1]."""
    return points * float(np.log(max(squares / points, SMALLEST_RELATIVE**2)))


def _summary(problem: Problem, inner: Floats, agreeing: int) -> SpectrumFit:
    """Parameters, errors and criteria at a minimum; arcs in order of time constant."""
    inner = ordered_arcs(problem.circuit, inner)
    circuit, points = problem.circuit, 2 * len(problem.weight)
    residuals, slopes = problem.evaluate(inner)
    squares = float(np.sum(residuals**2))
    size = len(inner)
    bound = (inner - problem.low < AT_BOUND) | (problem.high - inner < AT_BOUND)
    inverse = inverse_of_normal(slopes, ~bound)
    covariance = inverse * (squares / max(points - size, 1)) * repeated(residuals)
    values = circuit.outer(inner)
    scale = np.where(circuit.logarithmic, values, 1.0)
    errors = scale * np.sqrt(np.diag(covariance))
    arcs = list(circuit.arc_places)
    polarisation, gradient = circuit.polarisation(values)
    used = gradient != 0
    variance = float(gradient[used] @ covariance[np.ix_(used, used)] @ gradient[used])
    # rounding may leave less than nothing where parameters undo each other
    known = bool(np.isfinite(variance) and variance >= 0.0 and np.isfinite(polarisation))
    correlation = largest_correlation(inverse[np.ix_(arcs, arcs)])
    deviance = _deviance(squares, points)
    aic = deviance + 2 * size
    at_bound = tuple(n for n, hit in zip(circuit.names, bound, strict=True) if hit)
    return SpectrumFit(
        circuit=circuit,
        parameters=values,
        standard_errors=errors,
        at_bound=at_bound,
        polarisation_resistance_ohm=polarisation if np.isfinite(polarisation) else float("nan"),
        polarisation_resistance_se_ohm=float(np.sqrt(variance)) if known else None,
        resistance_correlation=correlation,
        sum_of_squares=squares,
        rms_percent=100 * float(np.sqrt(squares / points)),
        aic=aic,
        aicc=aic + 2 * size * (size + 1) / max(points - size - 1, 1),
        bic=deviance + size * float(np.log(points)),
        starts_agreeing=agreeing,
        split_refused=split_refused(problem, values, errors, at_bound, correlation),
    )


def ordered_arcs(circuit: Model, inner: Floats) -> Floats:
    """Give inner parameters with the arcs in order of time constant, shape (p,)."""
    places = np.array(circuit.arc_places, dtype=int)
    if len(places) < 2:
        return inner
    blocks = places[:, None] + np.arange(3)
    ordered = inner.copy()
    ordered[blocks] = inner[blocks[np.argsort(inner[places + 1])]]
    return ordered


def repeated(residuals: Floats) -> float:
    """How many residuals say what one says; 1 for noise without order.

    Where a model does not fit, residuals follow each other along the sweep: there are fewer values
    than points, and errors are wider. The sum of their correlations while these are positive.

    Parameters
    ----------
    residuals : numpy.ndarray
        Real and imaginary parts by turns, by falling frequency, shape (2N,) [1].

    References
    ----------
    Geyer (1992), Stat. Sci. 7, 473 (sum of correlations while they are positive; from memory).
    """
    pairs = residuals.reshape(-1, 2)
    square = float(np.sum(pairs**2))
    if square <= 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, len(pairs) // 2):
        follow = float(np.sum(pairs[lag:] * pairs[:-lag])) / square
        if follow <= 0.0 or (lag == 1 and follow < ORDERED / float(np.sqrt(len(residuals)))):
            break
        total += 2.0 * follow
    return total


def inverse_of_normal(slopes: Floats, free: NDArray[np.bool_]) -> Floats:
    """(J'J)^-1 of the free parameters, (p, p); NaN where not free or singular; slopes (p, 2N)."""
    inverse = np.full((len(free), len(free)), np.nan)
    # By singular values, since J'J squares the condition number of nearly merged arcs.
    _, sizes, directions = np.linalg.svd(slopes[free].T, full_matrices=False)
    if len(sizes) and sizes[-1] > 1e-14 * sizes[0]:
        inverse[np.ix_(free, free)] = (directions.T / sizes**2) @ directions
    return inverse
