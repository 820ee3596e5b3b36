"""Where the ends of a group stand on a probability plot."""

from __future__ import annotations

import numpy as np

from trivet.science.survival.product_limit import ProductLimit


def plotting_positions(curve: ProductLimit) -> np.ndarray:
    """Share ended at each end: the middle of the step of the product-limit curve.

    Parameters
    ----------
    curve : ProductLimit
        The curve.

    Returns
    -------
    numpy.ndarray
        Shape (n_steps,) [1]; NaN where nothing ended.

    References
    ----------
    Meeker & Escobar, Statistical Methods for Reliability Data, section 6.4 (from memory):
    half of the step, so that without censoring the i-th of n stands at (i - 0.5) / n.
    """
    before = np.append(1.0, curve.survival)[:-1]
    middle = 1.0 - (before + curve.survival) / 2
    return np.where(curve.events > 0, middle, np.nan)
