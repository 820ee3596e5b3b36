"""Every sum of scores that a group could have had, with labels permuted within strata."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

GRID = 1e-9
"""Sums closer than this share of the scores' range are one sum: rounding is far below, true
differences of log-rank scores of some dozens of cells are far above."""

PAIRS_PER_HELD = 64
"""Sums counted without being held, for one held: comparing a sum costs much less than drawing
a permutation."""


@dataclass(frozen=True)
class Stratum:
    """Distinct scores of a stratum and the sizes of its groups.

    Attributes
    ----------
    values : numpy.ndarray
        Distinct scores in rising order, shape (n_values,) [1].
    repeats : tuple of int
        How many cells have each score [1].
    sizes : tuple of int
        Cells of each group [1].
    """

    values: np.ndarray
    repeats: tuple[int, ...]
    sizes: tuple[int, ...]

    @property
    def permutations(self) -> int:
        """Number of ways to hand out the labels."""
        return multinomial(self.sizes)


@dataclass(frozen=True)
class Sums:
    """Distinct sums and how many permutations give each.

    Attributes
    ----------
    sums : numpy.ndarray
        Score sums of all groups but the last, shape (n_sums, n_groups - 1) [1].
    weights : numpy.ndarray
        Permutations that give the sum, shape (n_sums,) [1].
    """

    sums: np.ndarray
    weights: np.ndarray


def multinomial(parts: Sequence[int]) -> int:
    """Ways to split as many things as the parts add up to into these parts."""
    ways, total = 1, 0
    for part in parts:
        total += part
        ways *= math.comb(total, part)
    return ways


def strata_of(
    scores: np.ndarray, *, group: np.ndarray, stratum: np.ndarray, groups: int
) -> tuple[Stratum, ...]:
    """Distinct scores and group sizes of each stratum that holds at least two groups.

    Parameters
    ----------
    scores : numpy.ndarray
        Scores that add up to 0 in each stratum, shape (n_cells,) [1].
    group, stratum : numpy.ndarray
        Numbers of group and stratum from 0 on, shape (n_cells,) [1].
    groups : int
        Number of groups [1].

    Returns
    -------
    tuple of Stratum
    """
    unit = GRID * max(float(np.ptp(scores)), 1e-3) if len(scores) else 1.0
    found = []
    for number in np.unique(stratum):
        inside = stratum == number
        sizes = tuple(int(np.sum(group[inside] == k)) for k in range(groups))
        if sum(size > 0 for size in sizes) < 2:
            continue
        own = np.sort(scores[inside])
        first = np.concatenate([[True], np.diff(own) > unit])
        repeats = np.diff(np.append(np.flatnonzero(first), len(own)))
        found.append(Stratum(own[first], tuple(int(r) for r in repeats), sizes))
    return tuple(found)


def splits(total: int, *, room: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every way to hand out equal things to groups that have room for so many each."""
    if len(room) == 1:
        if total <= room[0]:
            yield (total,)
        return
    rest = sum(room[1:])
    for own in range(max(0, total - rest), min(total, room[0]) + 1):
        for others in splits(total - own, room=room[1:]):
            yield (own, *others)


def distinct_allocations(stratum: Stratum, *, limit: float = math.inf) -> int:
    """Number of ways to hand out the labels that differ in more than cells of equal score.

    Counting stops once the number is beyond the limit, since it never falls on the way.
    """
    states: dict[tuple[int, ...], int] = {stratum.sizes: 1}
    for repeat in stratum.repeats:
        following: dict[tuple[int, ...], int] = {}
        for room, ways in states.items():
            for split in splits(repeat, room=room):
                left = tuple(a - b for a, b in zip(room, split, strict=True))
                following[left] = following.get(left, 0) + ways
        states = following
        if sum(states.values()) > limit:
            break
    return sum(states.values())


def stratum_sums(stratum: Stratum, level: np.ndarray | None = None) -> Sums:
    """All score sums of one stratum, equal ones merged.

    Parameters
    ----------
    stratum : Stratum
        Scores and sizes.
    level : numpy.ndarray or None
        Level of each group, shape (n_groups,) [any unit]: the sums are then those of level times
        score over all groups, of width 1; None: the sums of each group but the last.
    """
    width = len(stratum.sizes) - 1
    weigh = np.eye(width + 1)[:, :width] if level is None else np.asarray(level, float)[:, None]
    states = {stratum.sizes: Sums(np.zeros((1, weigh.shape[1])), np.ones(1))}
    for value, repeat in zip(stratum.values, stratum.repeats, strict=True):
        following: dict[tuple[int, ...], list[Sums]] = {}
        for room, held in states.items():
            for split in splits(repeat, room=room):
                left = tuple(a - b for a, b in zip(room, split, strict=True))
                step = value * (np.array(split, dtype=float) @ weigh)
                moved = Sums(held.sums + step, held.weights * multinomial(split))
                following.setdefault(left, []).append(moved)
        states = {room: _joined(parts) for room, parts in following.items()}
        if level is not None:
            states = {room: merged(held) for room, held in states.items()}
    return merged(states[(0,) * len(stratum.sizes)])


def _joined(parts: list[Sums]) -> Sums:
    """Lists of sums as one list."""
    if len(parts) == 1:
        return parts[0]
    return Sums(
        np.concatenate([part.sums for part in parts]),
        np.concatenate([part.weights for part in parts]),
    )


def merged(held: Sums) -> Sums:
    """Equal sums as one, with their weights added."""
    unit = GRID * max(float(np.abs(held.sums).max()), 1e-3)
    places = np.rint(held.sums / unit).astype(np.int64)
    keys = places[:, 0] if places.shape[1] == 1 else places
    _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    weights = np.bincount(inverse.reshape(-1), weights=held.weights)
    return Sums(held.sums[first], weights)


def split_sums(strata: Sequence[Stratum], *, limit: int) -> tuple[Sums, Sums] | None:
    """All sums over strata, as two lists whose pairs are all permutations.

    Parameters
    ----------
    strata : sequence of Stratum
        At least one.
    limit : int
        Most sums to hold at once [1].

    Returns
    -------
    tuple of Sums, or None
        None where there are more sums than the limit lets hold or count.
    """
    if any(distinct_allocations(stratum, limit=limit) > limit for stratum in strata):
        return None
    return paired([stratum_sums(stratum) for stratum in strata], limit=limit)


def paired(parts: Sequence[Sums], *, limit: int) -> tuple[Sums, Sums] | None:
    """All sums over parts, as two lists whose pairs are all of them.

    Parameters
    ----------
    parts : sequence of Sums
        Sums of each stratum, at least one, of one width.
    limit : int
        As in `split_sums`.

    Returns
    -------
    tuple of Sums, or None
        As in `split_sums`.
    """
    nothing = Sums(np.zeros((1, parts[0].sums.shape[1])), np.ones(1))
    pair = [nothing, nothing]
    for part in reversed(sorted(parts, key=lambda s: len(s.weights))):
        pair.sort(key=lambda s: len(s.weights))
        if len(pair[0].weights) * len(part.weights) > limit:
            return None
        pair[0] = merged(combined(pair[0], part))
    if len(pair[0].weights) * len(pair[1].weights) > PAIRS_PER_HELD * limit:
        return None
    return pair[0], pair[1]


def combined(left: Sums, right: Sums) -> Sums:
    """Every sum of one list with every sum of the other."""
    sums = left.sums[:, None, :] + right.sums[None, :, :]
    weights = left.weights[:, None] * right.weights[None, :]
    return Sums(sums.reshape(-1, sums.shape[2]), weights.reshape(-1))
