"""Ends by cause: cumulative incidence, never one less the survival of a single cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.lives.delayed_entry import checked_entry
from trivet.science.survival.product_limit import checked, log_log_limits


@dataclass(frozen=True)
class CumulativeIncidence:
    """Cumulative incidence of each cause.

    Attributes
    ----------
    time : numpy.ndarray
        Distinct times of ends, shape (n_steps,) [unit of the durations].
    incidence, lower, upper : numpy.ndarray
        Share ended from the cause by the time, shape (n_causes, n_steps) [1]; limits are NaN
        where the share is 0 or 1.
    survival : numpy.ndarray
        Share not ended, shape (n_steps,) [1].
    """

    time: np.ndarray
    incidence: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    survival: np.ndarray


def cumulative_incidence(
    duration: np.ndarray,
    *,
    cause: np.ndarray,
    causes: int,
    entry: np.ndarray | None = None,
    confidence: float = 0.95,
) -> CumulativeIncidence:
    """Aalen-Johansen incidence of each cause, with log-log limits from the delta-method variance.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    cause : numpy.ndarray
        0 where censored, else the number of the cause from 1 on, shape (n_cells,) [1].
    causes : int
        Number of causes [1].
    entry : numpy.ndarray or None
        See `trivet.science.lives.delayed_entry`; a cell is at risk after its entry only.
    confidence : float
        Confidence of the limits [1].

    Returns
    -------
    CumulativeIncidence
        At every time incidences of all causes and survival add up to 1.

    Raises
    ------
    ValueError
        See `checked`.

    References
    ----------
    Aalen & Johansen 1978, Scand. J. Stat. 5, 141-150. Variance: Dinse & Larson 1986, Biometrika
    73, 379, equation 6; with one cause it is Greenwood's.
    """
    number = np.asarray(cause, dtype=int)
    times, seen = checked(duration, (number > 0).astype(int))
    steps = np.unique(times[seen])
    entered = checked_entry(entry, times)
    n = np.array([np.sum((times >= step) & (entered < step)) for step in steps], dtype=float)
    by_cause = np.array(
        [[np.sum((number == k + 1) & (times == step)) for step in steps] for k in range(causes)],
        dtype=float,
    ).reshape(causes, len(steps))
    ended = by_cause.sum(axis=0)
    survival = np.cumprod(1 - ended / n)
    before = np.concatenate([[1.0], survival[:-1]])[: len(steps)]
    incidence = np.minimum(np.cumsum(before * by_cause / n, axis=1), 1.0)
    # [F(t) - F(t_j)] for t_j <= t, shape (causes, t, t_j); 0 where the risk set empties
    rise = np.tril(incidence[:, :, None] - incidence[:, None, :])
    left = n - ended
    common = ended / np.where(left > 0, n * left, np.inf)
    own = np.cumsum(before**2 * by_cause * (n - by_cause) / n**3, axis=1)
    mixed = np.einsum("ctj,cj->ct", rise, before * by_cause / n**2)
    variance = np.einsum("ctj,j->ct", rise**2, common) + own - 2 * mixed
    error = np.sqrt(np.maximum(variance, 0.0))
    lower, upper = log_log_limits(incidence, standard_error=error, confidence=confidence)
    return CumulativeIncidence(steps, incidence, lower, upper, survival)
