"""Errors of a registration: widened by misfit, and by what repeats."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LARGER_OF_TWO = 1.3
"""What the larger of a squared residual and their mean is divided by. For plain normal noise its
mean is 1.48 (1 + 2 phi(1), phi the density), for a few points that tell a shift it is less: with
1.3 the intervals of shares, shifts and offset all hold what they say (studies.registration)."""


def bounded(residuals: Floats) -> Floats:
    """Residuals as the loss counts them: large ones hardly more.

    Parameters
    ----------
    residuals : ndarray
        In units of the spread.

    Returns
    -------
    ndarray
        At most 2 in size.
    """
    return np.asarray(residuals / np.sqrt(1.0 + residuals**2 / 4.0))


def _repeated(residuals: Floats) -> float:
    """How many points say what one says: the sum of correlations until they turn negative."""
    square = float(residuals @ residuals)
    if square <= 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, residuals.size // 2):
        follow = float(residuals[lag:] @ residuals[:-lag]) / square
        if follow <= 0.0:
            break
        total += 2.0 * follow
    return total


def noise_covariance(
    residuals: Floats,
    slopes: Floats,
    held: NDArray[np.bool_],
    known_before: Floats,
    least: Floats,
) -> Floats:
    """Covariance widened by the misfit, at `least` so large by curve.

    A model that is wrong leaves residuals that follow each other, so that a curve holds fewer
    values than points.

    Parameters
    ----------
    residuals : ndarray, shape (4, n)
        At the minimum, in units of the spread.
    slopes : ndarray, shape (4, n, 9)
        Slopes of what the earlier curves certainly tell.
    held : ndarray of bool, shape (9,)
        Parameters at a bound.
    known_before : ndarray, shape (9,)
        Inverse variance of what is known of each parameter by its bounds.
    least : ndarray, shape (4,)
        Smallest mean square of residuals that is believed.

    Returns
    -------
    ndarray, shape (9, 9)
        Infinite on the diagonal where nothing is known.

    References
    ----------
    Geyer (1992), Stat. Sci. 7, 473 (sum of correlations while they are positive; from memory);
    White (1982), Econometrica 50, 1 (the sandwich of a wrong model; from memory).
    """
    as_counted = bounded(residuals)
    bend = (1.0 + residuals**2 / 4.0) ** -1.5
    count, free = slopes.shape[2], np.flatnonzero(~held)
    normal = np.einsum("cnp,cn,cnq->pq", slopes, bend, slopes) + np.diag(known_before)
    inverse = _inverse(normal, free)[0]
    leverage = np.clip(bend * np.einsum("cnp,pq,cnq->cn", slopes, inverse, slopes), 0.0, 1.0)
    between, counted = np.zeros((count, count)), 0.0
    for here, steep, taken, floor in zip(as_counted, slopes, leverage, least, strict=True):
        mean_square, repeated = max(float(np.mean(here**2)), float(floor)), _repeated(here)
        # Few points tell a shift: their own residuals count, where these are larger than usual,
        # and what the parameters took of them.
        own = np.maximum(here**2, mean_square)
        own /= 1.0 + (LARGER_OF_TWO - 1.0) * (1.0 - taken)
        between += steep.T @ (steep * own[:, None]) * repeated
        counted += here.size / repeated
    # Residuals have lost what the parameters took; with few values that is most of them.
    between *= counted / max(counted - count, counted / 6.0)
    return _sandwich(normal, between + np.diag(known_before), free)


def _inverse(normal: Floats, free: NDArray[np.int64]) -> tuple[Floats, NDArray[np.int64]]:
    """Inverse over the free parameters, 0 elsewhere, and those of them that nothing is known of."""
    size = np.sqrt(np.diag(normal)[free])
    blind = size <= 0.0
    size = np.where(blind, 1.0, size)
    scaled = normal[np.ix_(free, free)] / np.outer(size, size)
    power, axes = np.linalg.eigh(scaled)
    weak = power < 1e-10
    whole = np.zeros_like(normal)
    inverse = (axes[:, ~weak] / power[~weak]) @ axes[:, ~weak].T
    whole[np.ix_(free, free)] = inverse / np.outer(size, size)
    return whole, free[blind | (np.sum(axes[:, weak] ** 2, axis=1) > 1e-6)]


def _sandwich(normal: Floats, between: Floats, free: NDArray[np.int64]) -> Floats:
    """Inverse, between, inverse, over the free parameters; infinite where nothing is known.

    A direction without information makes every parameter in it unknown.
    """
    inverse, unknown = _inverse(normal, free)
    covariance = np.asarray(inverse @ between @ inverse)
    held = np.setdiff1d(np.arange(normal.shape[0]), free)
    for index in [*held, *unknown]:
        covariance[index, index] = np.inf
    return covariance
