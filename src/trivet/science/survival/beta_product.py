"""Limits of a product-limit curve for few ends: the beta product confidence procedure."""

from __future__ import annotations

import numpy as np
from scipy.special import betaincinv

from trivet.science.survival.product_limit import ProductLimit

HALF_LEFT = 0.5 + 1e-12
"""A limit that equals one half but for rounding is at one half."""


def beta_product_limits(
    curve: ProductLimit, *, confidence: float = 0.95
) -> tuple[np.ndarray, np.ndarray]:
    """Limits of survival at each step of a curve, defined at survival 1 and 0 too.

    At an end with n at risk the share left is drawn from a beta law (n, 1); the lower limit goes
    one end further, as if the next cell at risk ended at once: a cell of those left after the ends
    and censorings of the row, since the limit holds up to the next row. The limit of the last row
    holds at its own time. The law of the product is taken
    as the beta law of the same mean and variance, which is exact without censoring: the limits
    are then those of Clopper and Pearson.

    Parameters
    ----------
    curve : ProductLimit
        The curve; its lives start at 0 (no delayed entry).
    confidence : float
        Central confidence of the limits [1].

    Returns
    -------
    tuple of numpy.ndarray
        Lower and upper limits, shape (n_steps,) [1].

    References
    ----------
    Fay, Brittain & Proschan 2013, Biostatistics 14, 723-736 (method of moments).
    """
    tail = (1 - confidence) / 2
    n = curve.at_risk.astype(float)
    ends = curve.events.astype(float)
    # what is known from a row to the next is known of the cells that are left behind it; behind
    # the last row nothing is, and its limit is that at its own time, when all were seen alive
    after = n - ends - np.append(curve.censored[:-1], 0)[: len(n)]
    # ends tied at a time end one after another: the product of their laws is beta (n - d + 1, d)
    first = np.where(ends > 0, (n - ends + 1) / (n + 1), 1.0)
    second = first * np.where(ends > 0, (n - ends + 2) / (n + 2), 1.0)
    mean, square = np.cumprod(first), np.cumprod(second)
    upper = _quantile(mean, square, 1 - tail)
    lower = _quantile(mean * after / (after + 1), square * after / (after + 2), tail)
    return lower, upper


def beta_product_start(cells: int, *, confidence: float = 0.95) -> float:
    """Lower limit of survival before the first end; the upper one is 1.

    Parameters
    ----------
    cells : int
        Cells at risk from the start, one or more [1].
    confidence : float
        Central confidence of the limits [1].

    Returns
    -------
    float
        Share [1]: the limit of Clopper and Pearson for no end among the cells.
    """
    return float(((1 - confidence) / 2) ** (1 / cells))


def beta_product_median(curve: ProductLimit, *, confidence: float = 0.95) -> tuple[float, float]:
    """Limits of the median from the beta product limits of the curve.

    Parameters
    ----------
    curve : ProductLimit
        The curve; its lives start at 0 (no delayed entry).
    confidence : float
        Central confidence of the limits [1].

    Returns
    -------
    tuple of float
        First times at which the lower and the upper limit are at most one half [unit of the
        times]. The lower is 0 where so few cells can't exclude it (fewer than 6 at 95 %); NaN
        where a limit stays above one half.

    References
    ----------
    Fay, Brittain & Proschan 2013, Biostatistics 14, 723-736. Without censoring these are the
    order statistics of the exact interval by the sign test.
    """
    if not len(curve.time):
        return float("nan"), float("nan")
    before_any_end = beta_product_start(int(curve.at_risk[0]), confidence=confidence)
    lower, upper = beta_product_limits(curve, confidence=confidence)
    times = np.append(0.0, curve.time)
    reached = [
        times[np.append(start, limit) <= HALF_LEFT]
        for start, limit in ((before_any_end, lower), (1.0, upper))
    ]
    first, last = (float(each[0]) if len(each) else float("nan") for each in reached)
    return first, last


def _quantile(mean: np.ndarray, square: np.ndarray, share: float) -> np.ndarray:
    """Quantile of the beta law with a mean and a mean square; the mean where it has no spread."""
    variance = square - mean**2
    spread = (mean < 1 - 1e-12) & (mean > 1e-12) & (variance > 1e-15)
    m, v = np.where(spread, mean, 0.5), np.where(spread, variance, 0.05)
    size = m * (1 - m) / v - 1
    return np.where(spread, betaincinv(m * size, (1 - m) * size, share), mean)
