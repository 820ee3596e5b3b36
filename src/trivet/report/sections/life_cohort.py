"""Lives of many cells in one picture: a thin line a cell, groups apart, the shortest first."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.marks import each_of_a_cell
from trivet.report.frame.style import (
    FAINT,
    INK,
    SINCE_START,
    SOFT,
    Drawing,
    GroupStyle,
    Margins,
    group_styles,
    key,
    new_figure,
    panels,
    time_ticks,
)
from trivet.report.frame.wording import plural, short

_HEIGHT_IN = 7.6
_GAP = 0.03
"""Empty room above each group, as a share of all lines [1]."""


def life_cohort(data: ReportData, name: str) -> Drawing:
    """Draw the life of every cell as a thin line.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    name : str
        Name of the figure.
    """
    rows = _lives(data)
    figure = new_figure(_HEIGHT_IN)
    axes = panels(figure, 1, 1, margins=Margins(left=1.1, top=0.4, bottom=0.4))[0][0]
    gap = max(_GAP * len(rows), 1.0)
    place, middles = 0.0, []
    for group, style in group_styles(data.groups).items():
        own = where(rows, group=group)
        if own:
            _draw_group(axes, own, style, place)
            middles.append(
                (place + len(own) / 2, f"{short(group, 20)}\n{plural(len(own), 'cell')}")
            )
            place += len(own) + gap
    last = max((row["duration"] for row in rows), default=1.0)
    axes.set_ylim(place, -gap)
    axes.set_xlim(-0.01 * last, 1.03 * last)
    axes.set_yticks([middle for middle, _ in middles], [words for _, words in middles])
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    time_ticks(axes, last)
    axes.set_xlabel(SINCE_START)
    key(figure, [
        Line2D([], [], color=INK, marker="o", ms=2.4, lw=0, label="end seen"),
        Line2D([], [], color=SOFT, marker="o", mfc="white", ms=2.4, lw=0, label="last seen alive"),
    ])  # fmt: skip
    return Drawing(
        name,
        figure,
        "Life of every included cell with data, a thin line each, by group and in order of length. "
        "Filled: its end was seen; hollow: it was last seen alive. From lifetimes (duration, "
        "observed).",
        f"{plural(len(rows), 'line')} from the start of the clock to the end or the last sight of "
        f"each cell, by group. The table of lifetimes has the same numbers.",
        [{column: row[column] for column in ("cell", "group", "duration", "observed", "cause")}
         for row in rows],
    )  # fmt: skip


def _lives(data: ReportData) -> list[Row]:
    """Lives in hours that have a length, the shortest of a group first."""
    rows = where(data.rows["lifetimes"], endpoint="cell", clock="hours")
    known = [row for row in rows if row["duration"] is not None]
    return sorted(known, key=lambda row: (row["duration"], row["cell"]))


def _draw_group(axes: Axes, rows: list[Row], style: GroupStyle, place: float) -> None:
    """Draw the cells of a group from a place downwards."""
    lines = [[(0.0, place + n), (row["duration"], place + n)] for n, row in enumerate(rows)]
    drawn = LineCollection(lines, colors=style.colour, linewidths=0.35, alpha=0.6)
    each_of_a_cell(drawn, [row["cell"] for row in rows])
    axes.add_collection(drawn)
    axes.axhline(place - 0.5, color=FAINT, lw=0.5)
    for observed, fill in ((1, style.colour), (0, "white")):
        ends = [(row["duration"], place + n, row["cell"]) for n, row in enumerate(rows)
                if row["observed"] == observed]  # fmt: skip
        points = axes.scatter(
            [time for time, _, _ in ends],
            [height for _, height, _ in ends],
            s=1.6**2,
            facecolors=fill,
            edgecolors=style.colour,
            linewidths=0.4,
            zorder=2.0,
        )
        each_of_a_cell(points, [cell for _, _, cell in ends])
