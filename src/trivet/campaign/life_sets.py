"""Sets of lives to analyse: the cells that count, by endpoint, clock and factor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.campaign.table_lives import TABLE
from trivet.reasons import BOUNDED_STOPS, StopReason
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.inference import Factor
from trivet.science.lives.lives import Lives
from trivet.store.tables import arrays

ENDPOINTS = ("cell", "reference")
CLOCKS = ("hours", "cycles")
ENDED_FIRST = "cell ended first"
REFERENCE_LOST = "reference lost"
NARROW = 0.02
"""Bounds that differ by so little of the upper one count as a time; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class LifeSet(Lives):
    """Lives of one endpoint on one clock, grouped by one factor; times in hours or cycles.

    Attributes
    ----------
    endpoint, clock, factor : str
        What the lives are, and what groups them.
    groups : tuple of str
        Names of the groups; the control stands first, whether or not a cell has it.
    cell : numpy.ndarray
        Its id, text, shape (n_cells,).
    known_h : numpy.ndarray
        Hours at which its end was known, NaN where not seen or not said, shape (n_cells,) [h].
    start_s : numpy.ndarray
        Unix time at which its clock starts, NaN where not known, shape (n_cells,) [s].

    Notes
    -----
    Among the causes an end of the cell before that of its reference is included.
    """

    endpoint: str
    clock: str
    factor: str
    groups: tuple[str, ...]
    batch: np.ndarray
    entry: np.ndarray
    cause: np.ndarray
    cell: np.ndarray
    known_h: np.ndarray
    start_s: np.ndarray

    def about(self, group: str) -> dict[str, Any]:
        """Columns that say what a row is about."""
        return {
            "endpoint": self.endpoint,
            "clock": self.clock,
            "factor": self.factor,
            "group": group,
        }


def life_sets(
    cells: pa.Table, *, lifetimes: pa.Table, factors: Sequence[Factor]
) -> tuple[tuple[LifeSet, ...], list[Finding]]:
    """Sets of lives of the included cells, for each factor, endpoint and clock that has any.

    Parameters
    ----------
    cells, lifetimes : pyarrow.Table
        Tables of these names.
    factors : sequence of Factor
        Factors and their controls; the first is the primary one, whose values are the groups.

    Returns
    -------
    tuple
        The sets, and what was noticed: a factor without column, a cell without value, a life
        without a usable duration (counted as censored at 0).
    """
    built, lives = arrays(cells), arrays(lifetimes)
    included = set(built["cell"][built["included"] == 1])
    keep = np.array([cell in included for cell in lives["cell"]], dtype=bool)
    lives = {name: column[keep] for name, column in lives.items()}
    lives["duration"], found = _usable(lives)
    sets = []
    for place, factor in enumerate(factors):
        column = built.get(factor.factor, built["group"] if place == 0 else None)
        if column is None:
            found.append(_no_column(factor.factor))
            continue
        value_of = dict(zip(built["cell"], column, strict=True))
        empty = sorted(cell for cell in included if not value_of[cell])
        found += [_no_value(cell, factor.factor) for cell in empty]
        sets += _sets_of(lives, factor, value_of)
    return tuple(sets), found


def _sets_of(
    lives: dict[str, np.ndarray], factor: Factor, value_of: dict[str, str]
) -> list[LifeSet]:
    """Sets of one factor."""
    values = np.array([value_of[cell] for cell in lives["cell"]], dtype=object)
    names = sorted({value for value in values if value} - {factor.control})
    groups = (factor.control, *names)
    place_of = {name: place for place, name in enumerate(groups)}
    sets = []
    for endpoint in ENDPOINTS:
        for clock in CLOCKS:
            mine = (lives["endpoint"] == endpoint) & (lives["clock"] == clock) & (values != "")
            if not np.any(mine):
                continue
            cause = lives["cause"][mine].copy()
            observed = lives["observed"][mine].astype(int)
            if endpoint == "reference":
                cause[observed == 1] = REFERENCE_LOST
                cause[lives["censored_because"][mine] == ENDED_FIRST] = ENDED_FIRST
            cause[(observed == 1) & (cause == "")] = "other"
            causes = tuple(sorted({name for name in cause if name}))
            lower, upper = _bounds(lives, mine, endpoint)
            sets.append(
                LifeSet(
                    endpoint=endpoint,
                    clock=clock,
                    factor=factor.factor,
                    groups=groups,
                    duration=lives["duration"][mine],
                    observed=observed,
                    group=np.array([place_of[value] for value in values[mine]], dtype=int),
                    batch=lives["batch"][mine].astype(str),
                    causes=causes,
                    cause=np.array([causes.index(c) + 1 if c else 0 for c in cause], dtype=int),
                    entry=np.nan_to_num(lives["entry"][mine].astype(float)),
                    stopped=np.isin(lives["stop_reason"][mine], BOUNDED_STOPS) & (observed == 0),
                    looked_bad=(lives["stop_reason"][mine] == StopReason.LOOKED_BAD)
                    & (observed == 0),
                    cell=lives["cell"][mine].astype(str),
                    known_h=lives["known_h"][mine].astype(float),
                    start_s=lives["start_s"][mine].astype(float),
                    lower=lower,
                    upper=upper,
                )
            )
    return sets


def _bounds(
    lives: dict[str, np.ndarray], mine: np.ndarray, endpoint: str
) -> tuple[np.ndarray | None, np.ndarray | None]:
    """Bounds of lives that are known only between checks; none for others.

    References are, and what a table of lives gives with two bounds. The end of a cell is known
    to the cycle, which is fine enough to count as a time.
    """
    duration, seen = lives["duration"][mine], lives["observed"][mine] == 1
    low = np.maximum(lives["lower"][mine].astype(float), 0.0)
    low = np.where(seen & np.isfinite(low), np.minimum(low, duration), duration)
    high = lives["upper"][mine].astype(float)
    high = np.where(seen & np.isfinite(high), np.maximum(high, duration), duration)
    wide = seen & (high - low > NARROW * high)
    if endpoint != "reference":
        wide &= lives["decided_by"][mine] == TABLE
    if not np.any(wide):
        return None, None
    return np.where(wide | ~seen, low, duration), np.where(
        seen, np.where(wide, high, duration), np.inf
    )


def _usable(lives: dict[str, np.ndarray]) -> tuple[np.ndarray, list[Finding]]:
    """Durations, and the findings on those that are missing or negative.

    Such a cell counts, as censored at 0, so that it is in every number of cells and in no
    estimate.
    """
    duration = lives["duration"].astype(float)
    bad = ~(duration >= 0)
    found = []
    for place in np.flatnonzero(bad):
        missing = bool(np.isnan(duration[place]))
        found.append(
            Finding(
                cell=str(lives["cell"][place]),
                check="usable duration",
                severity="caution",
                message=f"The {lives['endpoint'][place]} life in {lives['clock'][place]} has "
                f"{'no duration' if missing else 'a duration below 0'}.",
                action="counted as censored at 0",
                value=None if missing else float(duration[place]),
                limit=0.0,
                unit="h" if lives["clock"][place] == "hours" else "1",
            )
        )
    lives["observed"] = np.where(bad, 0, lives["observed"])
    lives["cause"] = np.where(bad, "", lives["cause"])
    return np.where(bad, 0.0, duration), found


def _no_column(factor: str) -> Finding:
    """Finding for a factor that the table of cells does not have."""
    return Finding(
        cell="",
        check="factor in the build sheet",
        severity="fault",
        message=f"The build sheet has no column '{factor}', so its groups are not compared.",
        action="factor left out",
    )


def _no_value(cell: str, factor: str) -> Finding:
    """Finding for a cell without a value of a factor."""
    return Finding(
        cell=cell,
        check="factor in the build sheet",
        severity="caution",
        message=f"Cell {cell} has no value of '{factor}'.",
        action="left out of the groups of this factor",
    )
