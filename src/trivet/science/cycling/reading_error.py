"""Noise and step of readings of a potential, from the rows themselves."""

from __future__ import annotations

import numpy as np

from trivet.science.cycling.integrals import Floats

_STEP_SHARE = 0.5
"""Potentials are of steps where so many neighbours in order of size lie whole steps apart."""
_FINEST_STEP_V = 1e-7
"""Steps are not looked for below: no instrument shows them [V]; common practice, no source."""
_STEADY = 0.02
"""A current that moves by more than this share of the largest has stepped."""
_ROWS_AFTER = 4
"""Rows behind a step in which a potential may still run too fast for third differences."""
_ENOUGH_AT_REST = 50
"""Differences at rest that tell the noise to a tenth."""
_MOST_ROWS = 20_000
"""Rows that a step is looked for in: more tell no more."""


def noise_V(potential_V: Floats, current_mA: Floats | None = None) -> float:
    """Standard deviation of the noise from row to row, by third differences.

    Parameters
    ----------
    potential_V : ndarray, shape (n,)
        Potential of rows in order of time; missing values are NaN [V].
    current_mA : ndarray, shape (n,), or None
        Current of these rows, 0 at rest: differences across its steps, and the next ones, are left
        out, and those under current where there are enough at rest [mA].

    Returns
    -------
    float
        Robust spread of third differences over the square root of 20, which is that of
        independent noise: what is smooth over four rows is gone in them [V]. 0 for fewer rows.
    """
    known = np.isfinite(potential_V)
    thirds = np.abs(np.diff(potential_V[known], 3))
    if current_mA is not None and thirds.size:
        steps = np.abs(np.diff(current_mA[known]))
        turned = np.flatnonzero(steps > _STEADY * np.nanmax(np.abs(current_mA)))
        calm = np.ones(thirds.size, dtype=bool)
        for after in range(-2, _ROWS_AFTER):
            place = turned + after
            calm[place[(place >= 0) & (place < calm.size)]] = False
        resting = np.abs(current_mA[known]) <= 0.0
        resting = resting[:-3] & resting[1:-2] & resting[2:-1] & resting[3:] & calm
        # at rest nothing moves but noise; under current rows far apart show the curve itself
        thirds = thirds[resting if np.count_nonzero(resting) >= _ENOUGH_AT_REST else calm]
    return float(1.4826 * np.median(thirds) / np.sqrt(20.0)) if thirds.size else 0.0


def step_of_V(potential_V: Floats) -> float:
    """Step in which potentials are given.

    Parameters
    ----------
    potential_V : ndarray, shape (n,)
        Potential of rows in order of time; missing values are NaN [V].

    Returns
    -------
    float
        Step; 0 where they come in none [V].
    """
    known = potential_V[np.isfinite(potential_V)][:_MOST_ROWS]
    levels = np.unique(np.round(known, 9))
    apart = np.diff(levels)
    if not apart.size or levels.size > 0.95 * known.size:
        return 0.0
    step_V = float(np.median(apart[apart <= 1.5 * apart.min()]))
    whole = np.abs(apart / step_V - np.rint(apart / step_V)) < 0.02
    return step_V if step_V > _FINEST_STEP_V and np.mean(whole) > _STEP_SHARE else 0.0


def reading_error_V(
    potential_V: Floats,
    current_mA: Floats | None = None,
    *,
    known_noise_V: float | None = None,
) -> float:
    """Standard error of a single reading: noise, and the rounding to a step.

    Parameters
    ----------
    potential_V : ndarray, shape (n,)
        Potential of rows in order of time; missing values are NaN [V].
    current_mA : ndarray, shape (n,), or None
        Current of these rows, as in `noise_V` [mA].
    known_noise_V : float or None
        Noise of these rows where it was found before; None: it is looked for [V].

    Returns
    -------
    float
        Error [V]; rounding counts as uniform within a step. Too large by up to a third where a step
        is coarser than the noise, since noise that shows holds some of the rounding.
    """
    spread_V = noise_V(potential_V, current_mA) if known_noise_V is None else known_noise_V
    return float(np.hypot(spread_V, step_of_V(potential_V) / np.sqrt(12.0)))
