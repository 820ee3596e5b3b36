"""Several contrasts against one control: shown only where every joint hypothesis falls too.

A contrast is shown where it and every intersection of hypotheses that contains it are rejected.
Unlike with an adjustment by the number of contrasts, another contrast's p can turn a verdict only
through the joint test of both.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

MOST_CONTRASTS = 5
"""Contrasts up to which all intersections are tested; 31 tests at most."""


def closed_p(
    contrasts: Sequence[int],
    own: Sequence[float],
    joint: Callable[[tuple[int, ...]], float],
) -> tuple[float, ...]:
    """Adjusted p of each contrast by closed testing.

    Parameters
    ----------
    contrasts : sequence of int
        Numbers of the groups that are compared with the control.
    own : sequence of float
        Exact p of each contrast; NaN where nothing can be compared, which leaves it out [1].
    joint : callable
        Exact p of the hypothesis that the groups of a tuple and the control last the same [1];
        NaN where nothing can be compared.

    Returns
    -------
    tuple of float
        The largest p of all intersections that contain a contrast, its own among them [1].

    Raises
    ------
    ValueError
        More contrasts than `MOST_CONTRASTS`.

    References
    ----------
    Marcus, Peritz & Gabriel 1976, Biometrika 63, 655.
    """
    tested = [place for place, p in enumerate(own) if p == p]  # noqa: PLR0124 (NaN)
    if len(tested) > MOST_CONTRASTS:
        raise ValueError(f"{len(tested)} contrasts, closed testing takes {MOST_CONTRASTS} at most")
    adjusted = [own[place] if place in tested else float("nan") for place in range(len(own))]
    for size in range(2, len(tested) + 1):
        for places in combinations(tested, size):
            p = joint(tuple(contrasts[place] for place in places))
            for place in places:
                adjusted[place] = max(adjusted[place], p) if p == p else adjusted[place]  # noqa: PLR0124
    return tuple(adjusted)
