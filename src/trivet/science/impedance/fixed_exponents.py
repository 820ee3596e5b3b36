"""Second pass: a spectrum fitted again with its exponents held at those of the campaign.

The exponent of an arc and its width are nearly exchangeable, so that exponents free in every
spectrum scatter the widths. Held at the median of the campaign, the split of two arcs is about
three times as sharp, and so are trends.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from trivet.science.circuit.arc_split import split_refused
from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.fit import AT_BOUND, FitError, inverse_of_normal, ordered_arcs, repeated
from trivet.science.circuit.solver import FINE, ROUGH, Problem

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

TAIL_EXPONENT = "tail_exponent"
LARGEST_STEP = 3.0
"""From spectrum to spectrum the time constant of one process changes less; common practice."""


@dataclass(frozen=True)
class FixedFit:
    """A circuit fitted with its exponents held.

    Attributes
    ----------
    circuit : Circuit
        Which elements.
    parameters : numpy.ndarray
        In the order of `circuit.names`, arcs in order of their time constants, shape (p,).
    standard_errors : numpy.ndarray
        In the units of the parameters; NaN for an exponent or a parameter at its bound, shape (p,).
    polarisation_resistance_ohm : float
        Sum of the arcs [ohm].
    polarisation_resistance_se_ohm : float or None
        Its standard error from the covariance; None where an arc stands at a bound [ohm].
    rms_percent : float
        Root mean square of the 2N parts of the relative residuals [%].
    split_refused : tuple of str
        Why the arcs may not be read one by one; empty where they may, or where there is one.
    """

    circuit: Circuit
    parameters: Floats
    standard_errors: Floats
    polarisation_resistance_ohm: float
    polarisation_resistance_se_ohm: float | None
    rms_percent: float
    split_refused: tuple[str, ...]

    def value(self, name: str) -> float:
        """Value of a parameter by name, in its unit."""
        return float(self.parameters[self.circuit.names.index(name)])

    def standard_error(self, name: str) -> float | None:
        """Standard error of a parameter by name, in its unit; None where it has none."""
        error = float(self.standard_errors[self.circuit.names.index(name)])
        return error if np.isfinite(error) else None


def exponent_names(circuit: Circuit) -> tuple[str, ...]:
    """Names of the exponents of a circuit: of its arcs, and of a free tail."""
    arcs = tuple(f"n{arc}" for arc in range(1, circuit.arcs + 1))
    return (*arcs, TAIL_EXPONENT) if circuit.tail == "free" else arcs


def circuit_of(names: Sequence[str]) -> Circuit:
    """Circuit whose parameters have these names.

    Raises
    ------
    FitError
        No circuit of series arcs has them.
    """
    tail = "warburg" if "sigma_ohm_per_root_s" in names else "none"
    circuit = Circuit(
        sum(f"R{arc}_ohm" in names and f"tau{arc}_s" in names for arc in range(1, len(names))),
        "free" if TAIL_EXPONENT in names else tail,  # type: ignore[arg-type]  # one of the words
        "L_H" in names,
    )
    if circuit.arcs < 1 or set(circuit.names) != set(names):
        raise FitError("the model is not one of arcs in series")
    return circuit


def median_exponents(found: Sequence[Mapping[str, float]], *, circuit: Circuit) -> dict[str, float]:
    """Median of each exponent over the spectra of a campaign.

    Parameters
    ----------
    found : sequence of mapping of str to float
        Exponents of each spectrum by name; those at a bound left out.
    circuit : Circuit
        The circuit whose exponents are wanted.

    Raises
    ------
    FitError
        No spectrum knows one of them.
    """
    medians = {}
    for name in exponent_names(circuit):
        known = [one[name] for one in found if name in one]
        if not known:
            raise FitError(f"no accepted spectrum has {name} within its bounds")
        medians[name] = float(np.median(known))
    return medians


def fit_fixed(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    circuit: Circuit,
    exponents: Mapping[str, float],
    starts: int = 2,
    known_starts: Sequence[Floats] = (),
) -> FixedFit:
    """Fit a circuit by complex least squares with weights 1/|Z|, its exponents held.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Measured impedance, shape (N,) [ohm].
    circuit : Circuit
        Which elements.
    exponents : mapping of str to float
        Value of every exponent of the circuit by name [1].
    starts : int
        Starting points taken from the data, the same for the same data.
    known_starts : sequence of numpy.ndarray
        Further starting points in the units of the parameters, shape (p,) each; their exponents
        do not count.

    Raises
    ------
    FitError
        Fewer points than free parameters, or an impedance whose real part is never positive.

    References
    ----------
    B. A. Boukamp, Solid State Ionics 20 (1986) 31 (complex least squares).
    """
    held = [circuit.names.index(name) for name in exponent_names(circuit)]
    if len(frequency_Hz) < len(circuit.names) - len(held):
        raise FitError(f"{len(frequency_Hz)} points for {len(circuit.names) - len(held)} unknowns")
    if not np.any(impedance_ohm.real > 0):
        raise FitError("the real part is nowhere positive")
    problem = Problem(frequency_Hz, impedance_ohm, circuit)
    values = [exponents[name] for name in exponent_names(circuit)]
    free = np.ones(len(circuit.names), dtype=bool)
    free[held] = False
    places = [circuit.inner(start) for start in known_starts]
    places += [problem.start(number) for number in range(starts)]
    for place in places:
        place[held] = values
    ends = [problem.free_minimum(place, tolerance=ROUGH, free=free) for place in places]
    # An exponent belongs to its place in the order of the arcs.
    ordered = [end for end in ends if _in_order(circuit, end)]
    best = min(ordered or ends, key=problem.cost)
    return _summary(problem, circuit, _minimum(problem, best, free), free)


def _in_order(circuit: Circuit, inner: Floats) -> bool:
    """Whether the time constants of the arcs rise."""
    first = circuit.first_arc + 1
    return bool(np.all(np.diff(inner[first : first + 3 * circuit.arcs - 1 : 3]) > 0))


def _minimum(problem: Problem, start: Floats, free: NDArray[np.bool_]) -> Floats:
    """Go from a rough end to the minimum; where it leaves the bounds a slower solver keeps them."""
    place = problem.free_minimum(start, tolerance=FINE, free=free)
    if np.all(((place >= problem.low) & (place <= problem.high))[free]):
        return place
    margin = 1e-3 * (problem.high - problem.low)
    whole = place.copy()

    def at(values: Floats) -> Floats:
        whole[free] = values
        return whole

    def misfit(values: Floats) -> Floats:
        return problem.evaluate(at(values))[0]

    def slopes(values: Floats) -> Floats:
        return problem.evaluate(at(values))[1][free].T

    found = least_squares(
        misfit,
        np.clip(place, problem.low + margin, problem.high - margin)[free],
        jac=slopes,
        bounds=(problem.low[free], problem.high[free]),
        xtol=1e-10,
        ftol=1e-10,
        max_nfev=100,
    )
    return at(np.asarray(found.x)).copy()


def _summary(
    problem: Problem, circuit: Circuit, inner: Floats, free: NDArray[np.bool_]
) -> FixedFit:
    """Parameters and errors at a minimum, arcs in order of time constant."""
    inner = ordered_arcs(circuit, inner)
    residuals, slopes = problem.evaluate(inner)
    squares, points = float(residuals @ residuals), len(residuals)
    inside = (inner - problem.low >= AT_BOUND) & (problem.high - inner >= AT_BOUND)
    moving = free & inside
    unknowns = int(np.count_nonzero(free))
    covariance = inverse_of_normal(slopes, moving) * (squares / max(points - unknowns, 1))
    covariance *= repeated(residuals)
    values = circuit.outer(inner)
    scale = np.where(circuit.logarithmic, values, 1.0)
    errors = scale * np.sqrt(np.diag(covariance))
    widths = list(circuit.arc_places)
    variance = float(values[widths] @ covariance[np.ix_(widths, widths)] @ values[widths])
    return FixedFit(
        circuit=circuit,
        parameters=values,
        standard_errors=errors,
        polarisation_resistance_ohm=float(np.sum(values[widths])),
        polarisation_resistance_se_ohm=float(np.sqrt(variance)) if np.isfinite(variance) else None,
        rms_percent=100 * float(np.sqrt(squares / points)),
        split_refused=split_refused(problem, values, errors, (), None),
    )


def arcs_jump(earlier: FixedFit, later: FixedFit) -> tuple[str, ...]:
    """Why the arcs of two spectra in a row may not be the same processes.

    Parameters
    ----------
    earlier, later : FixedFit
        Fits of the same circuit.
    """
    names = [f"tau{arc}_s" for arc in range(1, later.circuit.arcs + 1)]
    factors = {name: later.value(name) / earlier.value(name) for name in names}
    return tuple(
        f"{name} changed by a factor of {factor:.3g}, at most {LARGEST_STEP:g} either way"
        for name, factor in factors.items()
        if not 1 / LARGEST_STEP <= factor <= LARGEST_STEP
    )
