"""Linear Kramers-Kronig test of a spectrum.

Can a causal, linear, stationary system have it? The measured points are fitted, by one linear
least squares, with resistors and time constants fixed on a logarithmic grid; what such a model
can't follow violates the relations. The test sees drift, jumps, outliers and non-linearity. It
does not see a misplaced reference.

References
----------
B. A. Boukamp, J. Electrochem. Soc. 142 (1995) 1885, doi 10.1149/1.2044210.
M. Schoenleber, D. Klotz, E. Ivers-Tiffee, Electrochim. Acta 131 (2014) 20,
doi 10.1016/j.electacta.2014.01.034 (the measure mu).
C. M. Hurvich, C.-L. Tsai, Biometrika 76 (1989) 297 (the criterion AICc; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.impedance.linear_system import LinearSystem, stacked

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Flags = NDArray[np.bool_]

FEWEST_PER_DECADE = 2.0
"""Time constants a decade at least; fewer can't follow one arc."""
MOST_PER_DECADE = 5.0
"""Time constants a decade at most; more take noise for arcs."""
MOST_UNKNOWNS = 2 / 3
"""Share of the 2N values that may be unknowns, so that residuals are left to judge."""
SAFETY = 2
"""Unknowns beside the time constants that never count against the points: R0 and one to spare."""
ROUNDING = 1e-7
"""Relative residuals below this are rounding of the file: no criterion follows them down."""
TOP_MULTIPLE = 2.0
"""The top of an arc is an outlier only this many times beyond the limit; common practice."""


@dataclass(frozen=True)
class LinearTest:
    """Result of the linear test.

    Attributes
    ----------
    time_constants : int
        Number M of time constants.
    mu : float
        1 - (sum of negative resistances)/(sum of positive ones); near 1 is underfit [1].
    pseudo_chi_squared : float
        Sum of squared relative residuals of both parts [1].
    series_resistance_ohm : float
        R0 [ohm].
    resistances_ohm : numpy.ndarray
        R_k, shape (M,) [ohm].
    model_ohm : numpy.ndarray
        The fitted spectrum, shape (N,) [ohm].
    residuals : numpy.ndarray
        (Z - model)/|Z|, complex, shape (N,) [1].
    rms_percent : float
        Root mean square of the 2N parts of the residuals [%].
    largest_percent : float
        Largest size of a part of a residual [%].
    neighbour_correlation : float
        Lag-one autocorrelation of the residuals along the sweep; near 0 or below for noise,
        towards 1 for a drift [1].
    """

    time_constants: int
    mu: float
    pseudo_chi_squared: float
    series_resistance_ohm: float
    resistances_ohm: Floats
    model_ohm: Complex
    residuals: Complex
    rms_percent: float
    largest_percent: float
    neighbour_correlation: float


@dataclass(frozen=True)
class Screened:
    """Result of the linear test after outliers were set aside.

    Attributes
    ----------
    test : LinearTest
        Test of the points kept.
    kept : numpy.ndarray
        Which of the points given were kept, shape (N,).
    outliers : tuple of tuple of (int, float, float)
        Index of each point set aside, its residual and the limit it was held against [1].
    """

    test: LinearTest
    kept: Flags
    outliers: tuple[tuple[int, float, float], ...]


def linear_test(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    time_constants: int | None = None,
    capacitance: bool = True,
    inductance: bool = True,
) -> LinearTest:
    """Fit the linear model Z = R0 + sum R_k/(1 + jw tau_k) [+ jwL] [+ 1/(jwC)].

    Weights are 1/|Z|, real and imaginary parts are fitted together, columns are scaled.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Measured impedance, shape (N,) [ohm].
    time_constants : int or None
        Number M of time constants; None takes the one of least AICc between two and five a
        decade. The measure mu is given and does not end the search: an ideal arc between two
        time constants has resistances of both signs, and mu takes them for overfit at once.
    capacitance, inductance : bool
        Whether the model has a series capacitor, a series inductor.

    Raises
    ------
    ValueError
        Too few points: fewer than `fewest_points`, or fewer than the unknowns asked for.

    References
    ----------
    tau_k from 1/w_max to 1/w_min, logarithmic; Schoenleber et al. 2014 (from memory). AICc =
    n ln(S/n) + 2p + 2p(p + 1)/(n - p - 1) with n = 2N; Hurvich & Tsai 1989 (from memory).
    """
    system = LinearSystem(frequency_Hz, impedance_ohm, capacitance, inductance)
    if time_constants is not None:
        return _result(system, time_constants, system.values(time_constants))
    fewest, most = _range_of_search(frequency_Hz)
    tried = [(count, system.values(count)) for count in range(fewest, most + 1)]
    count, values = min(tried, key=lambda found: _criterion(system, *found))
    return _result(system, count, values)


def _criterion(system: LinearSystem, count: int, values: Floats) -> float:
    """AICc of a number of time constants."""
    points = 2 * len(system.size)
    unknowns = count + system.fixed
    residuals = (system.impedance - system.model(count, values)) / system.size
    mean_square = float(np.sum(np.abs(residuals) ** 2)) / points + ROUNDING**2
    spare = max(points - unknowns - 1, 1)
    return points * float(np.log(mean_square)) + 2 * unknowns * (1 + (unknowns + 1) / spare)


def screen(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    multiple: float = 5.0,
    smallest: float = 0.005,
    largest_share: float = 0.05,
) -> Screened:
    """Set single bad points aside, the worst first, and repeat the automatic test each time.

    A bad point is off the model of all others by more than the limit, while its neighbours, held
    against that model, are not: a model that can't follow an arc misses neighbours alike. The
    top of an arc, to which two points on each side rise, has to be off by twice the limit.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Measured impedance, shape (N,) [ohm].
    multiple : float
        A point is an outlier beyond this many robust standard deviations; common practice [1].
    smallest : float
        A residual up to this size is never an outlier; common practice [1].
    largest_share : float
        At most this share of the points, but always one, may be set aside: a spectrum with
        more bad points is a bad spectrum [1].

    Raises
    ------
    ValueError
        Too few points for the test.
    """
    kept = np.ones(len(frequency_Hz), dtype=bool)
    outliers: list[tuple[int, float, float]] = []
    allowed = max(1, int(largest_share * len(frequency_Hz)))
    test = linear_test(frequency_Hz, impedance_ohm)
    while len(outliers) < allowed and np.count_nonzero(kept) > fewest_points(frequency_Hz[kept]):
        found = _worst_point(frequency_Hz[kept], impedance_ohm[kept], test, multiple, smallest)
        if found is None:
            break
        place, size, limit, again = found
        index = int(np.flatnonzero(kept)[place])
        outliers.append((index, size, limit))
        kept[index], test = False, again
    return Screened(test=test, kept=kept, outliers=tuple(outliers))


def _worst_point(
    frequency_Hz: Floats, impedance_ohm: Complex, test: LinearTest, multiple: float, smallest: float
) -> tuple[int, float, float, LinearTest] | None:
    """Place, residual and limit of the worst outlier, and the test without it; None for none."""
    residual, limit = np.abs(test.residuals), outlier_limit(test.residuals, multiple, smallest)
    for worst in np.argsort(-residual, kind="stable"):
        if residual[worst] <= limit:
            return None
        without = np.arange(len(residual)) != worst
        again = linear_test(frequency_Hz[without], impedance_ohm[without])
        if _stands_out(
            int(worst), frequency_Hz, impedance_ohm, again=again, residual=residual, limit=limit
        ):
            return int(worst), float(residual[worst]), limit, again
    return None


def _stands_out(
    worst: int,
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    again: LinearTest,
    residual: Floats,
    limit: float,
) -> bool:
    """Whether a point is off while its neighbours are not, and is not the top of an arc.

    `residual` is that of the test with the point, `again` the test without it.
    """
    order = np.argsort(-frequency_Hz, kind="stable")
    place = int(np.flatnonzero(order == worst)[0])
    beside = [order[i] for i in (place - 1, place + 1) if 0 <= i < len(order)]
    left = np.insert(np.abs(again.residuals), worst, 0.0)
    if max(left[index] for index in beside) > limit:
        return False
    around = order[max(place - 2, 0) : place + 3]
    height = -impedance_ohm.imag[around]
    at = min(place, 2)
    rises = len(around) == 5 and bool(np.all(np.diff(height[: at + 1]) > 0))
    is_top = rises and bool(np.all(np.diff(height[at:]) < 0))
    return bool(residual[worst] > limit * (TOP_MULTIPLE if is_top else 1.0))


def outlier_limit(residuals: Complex, multiple: float, smallest: float) -> float:
    """Size of a residual above which its point is an outlier [1].

    Parameters
    ----------
    residuals : numpy.ndarray
        Complex relative residuals, shape (N,) [1].
    multiple : float
        Robust standard deviations of a part (1.4826 times the median size) [1].
    smallest : float
        The limit is never below this [1].
    """
    return max(smallest, multiple * 1.4826 * float(np.median(np.abs(stacked(residuals)))))


def fewest_points(frequency_Hz: Floats) -> int:
    """Points without which the test of this span says nothing: one for each unknown.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    """
    return _range_of_search(frequency_Hz)[0] + SAFETY


def _range_of_search(frequency_Hz: Floats) -> tuple[int, int]:
    """Fewest and most time constants for a span of frequencies."""
    decades = float(np.log10(np.max(frequency_Hz) / np.min(frequency_Hz)))
    fewest = max(2, int(np.ceil(FEWEST_PER_DECADE * decades)) + 1)
    spare = int(2 * len(frequency_Hz) * MOST_UNKNOWNS) - SAFETY - 1
    most = min(int(MOST_PER_DECADE * decades) + 1, spare)
    return fewest, max(fewest, most)


def _result(system: LinearSystem, time_constants: int, values: Floats) -> LinearTest:
    """Give the whole result for values fitted."""
    model = system.model(time_constants, values)
    residuals = (system.impedance - model) / system.size
    squares = float(np.sum(np.abs(residuals) ** 2))
    resistances = system.resistances(values)
    return LinearTest(
        time_constants=time_constants,
        mu=_mu(resistances),
        pseudo_chi_squared=squares,
        series_resistance_ohm=float(values[0]),
        resistances_ohm=resistances,
        model_ohm=model,
        residuals=residuals,
        rms_percent=100 * float(np.sqrt(squares / (2 * len(residuals)))),
        largest_percent=100 * float(np.max(np.abs(stacked(residuals)))),
        neighbour_correlation=_neighbour_correlation(residuals[np.argsort(-system.frequency)]),
    )


def _mu(resistances_ohm: Floats) -> float:
    """Measure of overfit: how much the signs of the resistances alternate [1]."""
    negative = -np.sum(resistances_ohm[resistances_ohm < 0])
    positive = np.sum(resistances_ohm[resistances_ohm >= 0])
    return float(1 - negative / positive) if positive > 0 else 0.0


def _neighbour_correlation(residuals: Complex) -> float:
    """Lag-one autocorrelation about zero of both parts, in order of frequency [1]."""
    squares = float(np.sum(np.abs(residuals) ** 2))
    products = float(np.sum((residuals[1:] * np.conj(residuals[:-1])).real))
    return products / squares if squares > 0 else 0.0
