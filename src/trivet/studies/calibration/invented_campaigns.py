"""Campaigns drawn from a known law with all that may happen to one: stops, looks, checks, entry.

Times are in hours. Lives of the control have the scale `LIFE_H`; groups last `ratio` times as long,
and all cells of a batch share another factor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.reasons import StopReason
from trivet.studies.calibration.invented_lives import BATCH_SPREAD

Floats = NDArray[np.float64]
WEEK_H = 168.0
LIFE_H = 4 * WEEK_H
"""Weibull scale of the control."""
KNOWN_AFTER_H = 24.0
"""An end by capacity is known at the third cycle in a row; cycles of twelve hours."""
FAILING = 0.9
"""Share of its life at which a cell looks bad."""
_EARLIEST, _LATEST = 0.1, 0.9
"""Between these shares of `LIFE_H` cells are stopped for reasons outside of them."""


@dataclass(frozen=True)
class Stops:
    """Cells that are stopped for one reason.

    Attributes
    ----------
    reason : StopReason
        What is known of it afterwards.
    cells : tuple of int
        How many cells of the control and of each group are chosen; one that ends before is not
        stopped [1].
    failing : bool
        Whether each is stopped at nine tenths of its own life; else at a time that has nothing to
        do with it.
    """

    reason: StopReason
    cells: tuple[int, ...]
    failing: bool = False


@dataclass(frozen=True)
class Campaign:
    """A campaign to draw many times.

    Attributes
    ----------
    words : str
        What is special in it, for a table.
    batches : tuple of tuple of int
        Cells of the control and of each group, by batch [1].
    spread : float
        Scale of log time of the Weibull lives [1].
    weeks : float
        From the start of the first batch to the last data cut [weeks].
    apart_weeks : float
        Between the starts of two batches [weeks].
    looks : bool
        Whether the last data cut is a planned end, with a look every week.
    stops : tuple of Stops
        Cells stopped.
    checks_h : tuple of float
        Interval of checks of the control and of each group, between which lives are known [h];
        empty: lives are known to the hour.
    entry_h : tuple of float
        Latest entry of the control and of each group, even between 0 and it [h]; empty: all cells
        are under observation from their start.
    stratified : bool
        Whether batches are strata.
    batch_spread : float
        Standard deviation of log time between batches [1]; 0 where they need not be strata.
    """

    words: str
    batches: tuple[tuple[int, ...], ...] = ((4, 4), (4, 4))
    spread: float = 0.3
    weeks: float = 6.0
    apart_weeks: float = 0.0
    looks: bool = False
    stops: tuple[Stops, ...] = ()
    checks_h: tuple[float, ...] = ()
    entry_h: tuple[float, ...] = ()
    stratified: bool = True
    batch_spread: float = BATCH_SPREAD

    @property
    def groups(self) -> int:
        """Number of groups, with the control."""
        return len(self.batches[0])

    @property
    def cells(self) -> str:
        """Cells by group, for a table."""
        return " v ".join(str(sum(sizes)) for sizes in zip(*self.batches, strict=True))

    @property
    def cuts_h(self) -> tuple[float, ...]:
        """Data cuts since the start of the first batch: every week where looks are, else one."""
        last = self.weeks * WEEK_H
        if not self.looks:
            return (last,)
        return tuple(last - WEEK_H * week for week in reversed(range(int(self.weeks))))


@dataclass(frozen=True)
class Truth:
    """What became of every cell, whether or not anybody saw it; arrays of shape (n_cells,).

    Attributes
    ----------
    group, batch : numpy.ndarray
        Numbers [1].
    start_h : numpy.ndarray
        Start of the cell since that of the first batch [h].
    entry_h : numpy.ndarray
        Age from which it was under observation, 0 from its start [h].
    end_h, stop_h : numpy.ndarray
        Age at its end, and age at which it is stopped, infinite where it is not [h].
    reason : numpy.ndarray
        Reason of the stop, text.
    known_after_h : float
        From an end until it is known [h].
    """

    group: NDArray[np.int64]
    batch: NDArray[np.int64]
    start_h: Floats
    entry_h: Floats
    end_h: Floats
    stop_h: Floats
    reason: NDArray[np.object_]
    known_after_h: float


@dataclass(frozen=True)
class Seen:
    """What is known of the cells that had begun by a data cut; arrays of shape (n_cells,).

    Attributes
    ----------
    group, batch, start_h, entry_h
        As in `Truth`.
    duration_h, lower_h, upper_h : numpy.ndarray
        Life or last sight, and its bounds, `upper_h` NaN where not ended [h].
    observed : numpy.ndarray
        1 where the end was seen [1].
    reason : numpy.ndarray
        Reason of the stop, text; empty where not stopped.
    known_h : numpy.ndarray
        Age at which the end was known, NaN where it was not [h].
    """

    group: NDArray[np.int64]
    batch: NDArray[np.int64]
    start_h: Floats
    entry_h: Floats
    duration_h: Floats
    lower_h: Floats
    upper_h: Floats
    observed: NDArray[np.int64]
    reason: NDArray[np.object_]
    known_h: Floats

    @property
    def logged(self) -> NDArray[np.bool_]:
        """Cells that a person stopped, for any reason or none, with an entry in the log."""
        return ~np.isin(self.reason, (StopReason.NONE, StopReason.NOT_EXPLAINED))


def draw_campaign(
    campaign: Campaign,
    *,
    ratio: float,
    generator: np.random.Generator,
    factor: Floats | None = None,
) -> Truth:
    """Draw what becomes of every cell.

    Parameters
    ----------
    campaign : Campaign
        What is drawn.
    ratio : float
        True ratio of times, each group over the control [1].
    generator : numpy.random.Generator
        Source of randomness.
    factor : numpy.ndarray or None
        What else every life is multiplied by, shape (n_cells,) [1].
    """
    group, batch = cells_of(campaign)
    shift = generator.normal(0.0, campaign.batch_spread, len(campaign.batches))
    scale = LIFE_H * np.exp(shift[batch]) * np.where(group > 0, ratio, 1.0)
    scale = scale if factor is None else scale * factor
    entry = np.zeros(group.size)
    if campaign.entry_h:
        entry = generator.random(group.size) * np.array(campaign.entry_h)[group]
    # a cell that enters later is one that had not ended by then
    hazard = (entry / scale) ** (1 / campaign.spread) + generator.exponential(size=group.size)
    end = scale * hazard**campaign.spread
    stop, reason = _stopped(campaign, group, end, generator)
    return Truth(
        group=group,
        batch=batch,
        start_h=(batch * campaign.apart_weeks * WEEK_H).astype(np.float64),
        entry_h=entry,
        end_h=end,
        stop_h=stop,
        reason=reason,
        known_after_h=KNOWN_AFTER_H if campaign.looks else 0.0,
    )


def cells_of(campaign: Campaign) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Numbers of group and batch of every cell, each of shape (n_cells,)."""
    places = [
        (group, batch)
        for batch, sizes in enumerate(campaign.batches)
        for group, size in enumerate(sizes)
        for _ in range(size)
    ]
    group, batch = np.array(places, dtype=np.int64).T
    return group, batch


def _stopped(
    campaign: Campaign, group: NDArray[np.int64], end: Floats, generator: np.random.Generator
) -> tuple[Floats, NDArray[np.object_]]:
    """Age at which each cell is stopped, and why."""
    stop = np.full(group.size, np.inf)
    reason = np.full(group.size, StopReason.NONE.value, dtype=object)
    free = generator.permutation(group.size)
    for stops in campaign.stops:
        for number, cells in enumerate(stops.cells):
            mine = [cell for cell in free if group[cell] == number][:cells]
            free = np.array([cell for cell in free if cell not in mine], dtype=int)
            outside = LIFE_H * generator.uniform(_EARLIEST, _LATEST, len(mine))
            stop[mine] = FAILING * end[mine] if stops.failing else outside
            reason[mine] = stops.reason.value
    return stop, reason


def seen_at(truth: Truth, cut_h: float, *, checks_h: Sequence[float] = ()) -> Seen:
    """What is known at a data cut.

    Parameters
    ----------
    truth : Truth
        What became of the cells.
    cut_h : float
        Data cut since the start of the first batch [h].
    checks_h : sequence of float
        As in `Campaign`.
    """
    age = cut_h - truth.start_h
    begun = age > truth.entry_h
    own = {
        name: getattr(truth, name)[begun]
        for name in ("group", "batch", "start_h", "entry_h", "end_h", "stop_h", "reason")
    }
    end, stop = own.pop("end_h"), own.pop("stop_h")
    until = np.minimum(stop, age[begun])
    lower = upper = end
    known = end + truth.known_after_h
    if checks_h:
        every = np.array(checks_h)[own["group"]]
        lower, until = every * np.floor(end / every), every * np.floor(until / every)
        upper = known = lower + every
    seen = known <= until
    own["reason"] = np.where(~seen & (stop < age[begun]), own["reason"], StopReason.NONE.value)
    return Seen(
        **own,
        duration_h=np.where(seen, upper, until),
        lower_h=np.where(seen, lower, until),
        upper_h=np.where(seen, upper, np.nan),
        observed=seen.astype(np.int64),
        known_h=np.where(seen, known, np.nan),
    )
