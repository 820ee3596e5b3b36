"""The design of a campaign: its cells, batches, starts and looks, and others of other sizes."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from trivet.campaign.look_times import look_times
from trivet.schema.planned_end import in_zone
from trivet.schema.settings.inference import Comparison
from trivet.science.comparison.design_power import Design


@dataclass(frozen=True)
class Calendar:
    """When a campaign is looked at.

    Attributes
    ----------
    planned_end : str or None
        As set for the campaign.
    time_zone : str
        Its zone.
    """

    planned_end: str | None
    time_zone: str


def design_of(
    group: np.ndarray,
    *,
    batch: np.ndarray,
    start_s: np.ndarray,
    comparison: Comparison,
    calendar: Calendar,
    entry: np.ndarray | None = None,
) -> Design:
    """Give the design of cells at hand, or as the build sheet has them.

    Parameters
    ----------
    group : numpy.ndarray
        Number of the group, 0 for the control, shape (n_cells,) [1].
    batch : numpy.ndarray
        Label of the batch, shape (n_cells,).
    start_s : numpy.ndarray
        Unix time at which the clock of each cell starts, NaN where unknown, shape (n_cells,) [s].
    comparison : Comparison
        Settings: level, strata, looks.
    calendar : Calendar
        Looks are planned where it has a planned end and starts are known.
    entry : numpy.ndarray or None
        As in `Design`; there are then no looks.
    """
    stratum = np.zeros(len(group), dtype=int)
    if comparison.stratify_by == "batch":
        stratum = np.unique(batch, return_inverse=True)[1]
    start: np.ndarray = np.zeros(len(group))
    looks: tuple[float, ...] = (1.0,)
    if calendar.planned_end is not None and entry is None and np.all(np.isfinite(start_s)):
        start, looks = _on_the_calendar(start_s, comparison, calendar)
    return Design(group, stratum, start, looks, 1 - comparison.confidence, entry)


def _on_the_calendar(
    start_s: np.ndarray, comparison: Comparison, calendar: Calendar
) -> tuple[np.ndarray, tuple[float, ...]]:
    """Starts and looks as shares of the planned time; a plan that is over is not spread out."""
    end = in_zone(str(calendar.planned_end), _zone(calendar))
    first_s = float(start_s.min())
    span_s = end.timestamp() - first_s
    if not float(start_s.max()) < end.timestamp():
        return np.zeros(len(start_s)), (1.0,)
    found = look_times(
        looks=comparison.looks,
        planned_end=str(calendar.planned_end),
        time_zone=calendar.time_zone,
        cut=end,
        first_s=first_s,
    )
    return (start_s - first_s) / span_s, (*(f for f in found.fractions if f < 1), 1.0)


def _zone(calendar: Calendar) -> ZoneInfo:
    """Zone of the calendar."""
    return ZoneInfo(calendar.time_zone)


def design_of_size(like: Design, cells: int) -> Design:
    """Give a design of other size: the same groups and batches, cells handed out in turn.

    Parameters
    ----------
    like : Design
        The design at hand.
    cells : int
        Cells of each group [1].
    """
    groups, batches = int(like.group.max()) + 1, int(like.stratum.max()) + 1
    batches = min(batches, max(1, cells // 2))
    starts = np.array([like.start[like.stratum == number].mean() for number in range(batches)])
    group = np.repeat(np.arange(groups), cells)
    stratum = np.tile(np.arange(cells) % batches, groups)
    return Design(group, stratum, starts[stratum], like.looks, like.alpha)
