"""Lives known only between checks: Turnbull's estimate on (lower, upper], and test scores."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from trivet.science.survival.log_rank import checked_groups

MOST_STEPS = 200_000
"""Most rounds of the estimate; slow only where the data hardly tell two times apart."""

SETTLED = 1e-12
"""Largest change of a share in a round at which the estimate has settled [1]."""

MOST_PAIRS = 4_000_000
"""Distinct lives times distinct upper limits that are held."""


@dataclass(frozen=True)
class Turnbull:
    """Nonparametric estimate for interval-censored lives.

    Attributes
    ----------
    lower, upper : numpy.ndarray
        Each interval (lower, upper] holds some of the ends; where in it is not known. Shape
        (n_steps,) [unit of the lives].
    mass : numpy.ndarray
        Share of cells that end in it, shape (n_steps,) [1].
    survival : numpy.ndarray
        Share left after it, shape (n_steps,) [1].
    """

    lower: np.ndarray
    upper: np.ndarray
    mass: np.ndarray
    survival: np.ndarray


def checked_bounds(lower: np.ndarray, upper: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Bounds as floats; `upper` is infinite where the end was not reached.

    Parameters
    ----------
    lower, upper : numpy.ndarray
        Last time known good, first time known bad, shape (n_cells,) [any unit]; equal where the
        time is known.

    Raises
    ------
    ValueError
        Shapes differ, a bound is missing or negative, or the upper lies below the lower.
    """
    low, high = np.asarray(lower, dtype=float), np.asarray(upper, dtype=float)
    if low.ndim != 1 or low.shape != high.shape:
        raise ValueError(f"bounds {low.shape} and {high.shape} must be two equal rows")
    if np.any(np.isnan(high)) or not np.all(np.isfinite(low)) or np.any(low < 0):
        raise ValueError("a bound is negative or missing")
    if np.any(high < low):
        raise ValueError("an upper bound lies below its lower bound")
    return low, high


def turnbull(lower: np.ndarray, *, upper: np.ndarray, weight: np.ndarray | None = None) -> Turnbull:
    """Self-consistent estimate of survival from lives in (lower, upper].

    Parameters
    ----------
    lower, upper : numpy.ndarray
        Bounds, shape (n_cells,) [any unit]; equal where the time is known, `upper` infinite
        where the end was not reached.
    weight : numpy.ndarray or None
        Cells with these bounds, shape (n_cells,) [1]; None: one each.

    Returns
    -------
    Turnbull

    Raises
    ------
    ValueError
        See `checked_bounds`; also where there are too many distinct lives to hold.

    References
    ----------
    Turnbull 1976, J. R. Stat. Soc. B 38, 290-295; 1974, J. Am. Stat. Assoc. 69, 169-173.
    """
    low, high = checked_bounds(lower, upper)
    counts = np.ones(len(low)) if weight is None else np.asarray(weight, dtype=float)
    if not len(low):
        return Turnbull(low, high, low, low)
    pairs, inverse = np.unique(np.stack([low, high], axis=1), axis=0, return_inverse=True)
    counts = np.bincount(inverse.reshape(-1), weights=counts)
    member, start, end = _support(pairs[:, 0], pairs[:, 1])
    mass = np.full(len(end), 1.0 / len(end))
    share = counts / counts.sum()
    for _ in range(MOST_STEPS):
        following = mass * (member.T @ (share / (member @ mass)))
        change = float(np.abs(following - mass).max())
        mass = following
        if change < SETTLED:
            break
    kept = (mass > 1e-9) & np.isfinite(end)
    left = 1.0 - np.cumsum(mass)
    return Turnbull(start[kept], end[kept], mass[kept], np.maximum(left[kept], 0.0))


def _support(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Which life may end in which innermost interval, and the intervals' bounds.

    An innermost interval runs from a lower bound to the next upper bound with no other bound
    between; only these can hold ends. A time that is known is an interval of its own.
    """
    points = [(value, 1, 0) for value in np.unique(low[low < high])]  # opens just after the value
    points += [(value, 0, 1) for value in np.unique(high[low < high])]  # closes at the value
    known = np.unique(low[low == high])
    points += [(value, -1, 0) for value in known] + [(value, 0, 1) for value in known]
    points = sorted(set(points))
    inner = [
        (first[0], second[0])
        for first, second in pairwise(points)
        if first[2] == 0 and second[2] == 1
    ]
    start = np.array([first for first, _ in inner])
    end = np.array([second for _, second in inner])
    if len(low) * len(end) > MOST_PAIRS:
        raise ValueError(f"{len(low)} lives over {len(end)} intervals are too many to estimate")
    exact = low == high
    within = (low[:, None] <= start[None]) & (end[None] <= high[:, None])
    point = start == end
    inside = np.where(exact[:, None], point[None] & (end[None] == high[:, None]),
                      within & ~(point[None] & (low[:, None] == end[None])))  # fmt: skip
    return inside.astype(float), start, end


def interval_scores(
    lower: np.ndarray, *, upper: np.ndarray, stratum: np.ndarray | None = None
) -> np.ndarray:
    """Log-rank scores of lives in (lower, upper], from the estimate over both groups.

    Parameters
    ----------
    lower, upper : numpy.ndarray
        As in `turnbull`.
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: one stratum.

    Returns
    -------
    numpy.ndarray
        Scores that add up to 0 in each stratum, shape (n_cells,) [1]; positive: ended early.

    Raises
    ------
    ValueError
        See `checked_bounds` and `turnbull`.

    References
    ----------
    Finkelstein 1986, Biometrics 42, 845-854; as permutation scores Fay & Shaw 2010, J. Stat.
    Softw. 36(2), equation for `logrank2` (from memory): [S(l) log S(l) - S(r) log S(r)] over
    [S(l) - S(r)], here for a proportional-hazards alternative.
    """
    low, high = checked_bounds(lower, upper)
    _, strata = checked_groups(np.zeros(len(low), dtype=int), stratum, len(low))
    scores = np.zeros(len(low))
    for number in np.unique(strata):
        own = strata == number
        given = turnbull(low[own], upper=high[own])
        before = _left(given, low[own], known=low[own] == high[own])
        after = _left(given, high[own], known=np.zeros(int(own.sum()), dtype=bool))
        gap = before - after
        rise = _entropy(before) - _entropy(after)
        safe = np.where(gap > 0, gap, 1.0)
        raw = np.where(gap > 1e-12, rise / safe, 0.0)
        scores[own] = raw - raw.mean()
    return scores


def _left(given: Turnbull, at: np.ndarray, *, known: np.ndarray) -> np.ndarray:
    """Share left at times; just before them where the time of the end is known."""
    survival = np.concatenate([[1.0], given.survival])
    after = np.searchsorted(given.upper, at, side="right")
    before = np.searchsorted(given.upper, at, side="left")
    left: np.ndarray = survival[np.where(known, before, after)]
    return np.where(np.isinf(at), 0.0, left)


def _entropy(share: np.ndarray) -> np.ndarray:
    """Share times its logarithm, 0 at 0."""
    safe = np.where(share > 0, share, 1.0)
    return np.where(share > 0, share * np.log(safe), 0.0)
