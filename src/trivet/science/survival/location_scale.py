"""Right-censored location-scale models of the logarithm of time, fitted by maximum likelihood.

log t = X b + s W, where W has the smallest-extreme-value law (t is Weibull) or the normal law (t
is lognormal). In 1 / s and b / s the log-likelihood is concave, so Newton's method finds the one
maximum or runs off to infinity, which is reported as no fit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import log_ndtr

Family = Literal["weibull", "lognormal"]

LOG_ROOT_TWO_PI = 0.5 * np.log(2 * np.pi)
MOST_PRECISION = 1e4
"""A spread of log time below one over this is no spread: the ends fall together."""
FARTHEST = 400.0
"""Distance of a location from the mean log time beyond which it has run off."""


@dataclass(frozen=True)
class Data:
    """What is fitted.

    Attributes
    ----------
    log_time : numpy.ndarray
        Logarithms of the durations, shape (n_cells,).
    seen : numpy.ndarray
        Whether the end was seen, shape (n_cells,).
    design : numpy.ndarray
        Columns of the location, shape (n_cells, n_columns) [1].
    family : Family
        Law of W.
    """

    log_time: np.ndarray
    seen: np.ndarray
    design: np.ndarray
    family: Family


@dataclass(frozen=True)
class Fit:
    """Maximum of the likelihood.

    Attributes
    ----------
    coefficients : numpy.ndarray
        Location, shape (n_columns,) [log of the unit of time].
    spread : float
        Scale s of log time [1].
    covariance : numpy.ndarray
        Inverse observed information of (coefficients, log s).
    log_likelihood : float
        Of the times, not their logarithms.
    """

    coefficients: np.ndarray
    spread: float
    covariance: np.ndarray
    log_likelihood: float


def _terms(z: np.ndarray, data: Data) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Log density or log survival at z, and its first and second derivative."""
    if data.family == "weibull":
        hazard = np.exp(np.minimum(z, 300.0))
        return np.where(data.seen, z, 0.0) - hazard, data.seen - hazard, -hazard
    log_density = -0.5 * z**2 - LOG_ROOT_TWO_PI
    log_left = log_ndtr(-z)
    ratio = np.exp(np.minimum(log_density - log_left, 300.0))
    value = np.where(data.seen, log_density, log_left)
    first = np.where(data.seen, -z, -ratio)
    second = np.where(data.seen, -1.0, -ratio * (ratio - z))
    return value, first, second


def _newton(
    columns: np.ndarray,
    offset: np.ndarray,
    start: np.ndarray,
    *,
    data: Data,
    precision_at: int | None,
) -> tuple[np.ndarray, float] | None:
    """Maximise over theta in z = columns theta + offset; None where there is no maximum.

    `precision_at` is the place of 1 / s in theta, or None where 1 / s is fixed.
    """
    ends = float(np.sum(data.seen))

    def value_at(theta: np.ndarray) -> float:
        if precision_at is not None and not theta[precision_at] > 0:
            return -np.inf
        total = float(np.sum(_terms(columns @ theta + offset, data)[0]))
        return total + (
            ends * float(np.log(theta[precision_at])) if precision_at is not None else 0
        )

    theta, value = start, value_at(start)
    for _ in range(200):
        _, first, second = _terms(columns @ theta + offset, data)
        gradient = columns.T @ first
        curvature = -(columns.T * second) @ columns
        if precision_at is not None:
            gradient[precision_at] += ends / theta[precision_at]
            curvature[precision_at, precision_at] += ends / theta[precision_at] ** 2
        try:
            step = np.linalg.solve(curvature, gradient)
        except np.linalg.LinAlgError:
            return None
        gain, share = float(gradient @ step), 1.0
        if not np.isfinite(gain) or gain < -1e-8:
            return None
        if gain < 1e-18 * max(1.0, abs(value)):
            break
        while (trial := value_at(theta + share * step)) < value and share > 1e-12:
            share /= 2
        theta, value = (theta + share * step, trial) if trial >= value else (theta, value)
        if gain < 1e-13 * max(1.0, abs(value)) or share <= 1e-12:
            break
        if precision_at is not None and theta[precision_at] > MOST_PRECISION:
            return None
    else:
        return None
    return theta, value


def fit(data: Data) -> Fit | None:
    """Fit a model.

    Parameters
    ----------
    data : Data
        What is fitted.

    Returns
    -------
    Fit or None
        None where the likelihood has no maximum: a location or the spread runs off.

    References
    ----------
    Meeker & Escobar, Statistical Methods for Reliability Data, chapters 8 and 17. Concavity:
    Burridge 1981, J. R. Stat. Soc. B 43, 41-45 (from memory).
    """
    count = data.design.shape[1]
    if np.linalg.matrix_rank(data.design) < count or not np.any(data.seen):
        return None
    columns = np.column_stack([-data.design, data.log_time])
    found = _newton(columns, np.zeros(len(data.seen)), _start(data), data=data, precision_at=count)
    if found is None:
        return None
    theta, value = found
    spread = 1 / float(theta[count])
    coefficients = theta[:count] * spread
    covariance = _covariance(data, coefficients, spread)
    if covariance is None or np.abs(coefficients - data.log_time.mean()).max() > FARTHEST:
        return None
    jacobian = float(np.sum(data.log_time[data.seen]))
    return Fit(coefficients, spread, covariance, value - jacobian)


def _start(data: Data) -> np.ndarray:
    """Least squares through all times, seen or not."""
    located, *_ = np.linalg.lstsq(data.design, data.log_time)
    spread = max(float(np.std(data.log_time - data.design @ located)), 0.05)
    return np.append(located, 1.0) / spread


def _covariance(data: Data, coefficients: np.ndarray, spread: float) -> np.ndarray | None:
    """Inverse observed information of (coefficients, log spread); None where it is singular."""
    z = (data.log_time - data.design @ coefficients) / spread
    _, first, second = _terms(z, data)
    x = data.design / spread
    mixed = -x.T @ (first + second * z)
    corner = -float(np.sum(second * z**2 + first * z))
    information = np.block([[-(x.T * second) @ x, mixed[:, None]], [mixed, np.array([corner])]])
    eigenvalues = np.linalg.eigvalsh(information)
    if eigenvalues[0] <= 1e-10 * eigenvalues[-1]:
        return None
    covariance: np.ndarray = np.linalg.inv(information)
    return covariance


def profile_location(data: Data, value: float, *, column: int = 0, anchor: float = 0.0) -> float:
    """Largest log-likelihood with one location fixed.

    Parameters
    ----------
    data : Data
        What is fitted.
    value : float
        Value of the location [log of the unit of time].
    column : int
        Which column of the design it belongs to [1].
    anchor : float
        With a design of ones only: W's value at the location, so that a quantile can be fixed;
        0 fixes the location itself [1].

    Returns
    -------
    float
        Log-likelihood of the times; minus infinity where there is no maximum.
    """
    others = np.delete(data.design, column, axis=1)
    moved = data.log_time - data.design[:, column] * value
    columns = np.column_stack([-others, moved])
    place = others.shape[1]
    start = _start(Data(moved, data.seen, others, data.family))
    offset = np.full(len(moved), anchor)
    found = _newton(columns, offset, start, data=data, precision_at=place)
    jacobian = float(np.sum(data.log_time[data.seen]))
    return -np.inf if found is None else found[1] - jacobian


def profile_spread(data: Data, log_spread: float) -> float:
    """Largest log-likelihood with the logarithm of the spread fixed [1]."""
    precision = np.exp(-log_spread)
    start = _start(data)
    found = _newton(
        -data.design,
        data.log_time * precision,
        start[:-1] / start[-1] * precision,
        data=data,
        precision_at=None,
    )
    if found is None:
        return -np.inf
    ends = float(np.sum(data.seen))
    return found[1] - ends * log_spread - float(np.sum(data.log_time[data.seen]))
