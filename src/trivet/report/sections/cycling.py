"""Capacity and electrodes: what each cell and each electrode did, and lithium deposition."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.batch_lines import batch_key, batch_line
from trivet.report.frame.curve_names import name_ends
from trivet.report.frame.data import ReportData, Row, numbers, where
from trivet.report.frame.marks import of_cell
from trivet.report.frame.section import CYCLES, Section
from trivet.report.frame.style import (
    INK,
    SOFT,
    WARNING,
    Absent,
    Drawing,
    Margins,
    group_styles,
    key,
    new_figure,
    panels,
)
from trivet.report.frame.wording import (
    as_set,
    count,
    short,
)


def cycling(data: ReportData) -> dict[str, Any]:
    """What is said beside the figures of capacity and electrodes."""
    kinds = [
        (row["kind"], count(row["rows"]))
        for row in sorted(data.counted("cycles", ("kind",)), key=lambda row: row["kind"])
    ]
    cells = sorted({row["cell"] for row in data.rows["cells"]})
    cycled = set(data.cells_in("cycles"))
    without = [cell for cell in cells if cell not in cycled]
    return {
        "kinds": kinds,
        "from_table": data.settings.lifetime.table,
        "basis": f"{as_set(data.settings.cycling.capacity_basis_mAh)} mAh",
        "origin": data.settings.cycling.capacity_basis_origin,
        "without": without,
    }


_LARGEST_GRID = 4


_DRAWN = ("discharge_capacity_mAh", "retention")
"""Columns drawn, above and below."""


_POINTS_PRINTED = 250


def capacity(data: ReportData) -> list[Drawing | Absent]:
    """Draw discharge capacity and retention of every cell, one column a group."""
    if not data.cells_in("cycles"):
        return [Absent("capacity", "No capacity: no cell has a cycle.")]
    drawings: list[Drawing | Absent] = []
    for first in range(0, len(data.groups), _LARGEST_GRID):
        groups = data.groups[first : first + _LARGEST_GRID]
        drawings.append(
            _capacity_of(data, groups, "capacity" if first == 0 else f"capacity-{first}")
        )
    return drawings


def _capacity_of(data: ReportData, groups: tuple[str, ...], name: str) -> Drawing:
    """Draw the columns of some groups."""
    figure = new_figure(3.1)
    grid = panels(figure, 2, len(groups), margins=Margins(rows=0.2), sharex=True, sharey="row")
    drawn: list[Row] = []
    limit = data.settings.lifetime.capacity.retention_below
    for column, group in enumerate(groups):
        style = group_styles(data.groups)[group]
        for cell in data.drawn[group]:
            rows = data.of_cell("cycles", cell)
            line = batch_line(data, data.batch_of[cell])
            drawn += _draw_capacity(grid[0][column], grid[1][column], rows, style.colour, line)
        grid[0][column].set_title(short(group, 24))
        grid[1][column].axhline(limit, color=WARNING, lw=0.6, ls=(0, (4, 2)))
        grid[1][column].set_xlabel("cycle")
    for line, column_drawn in zip(grid, _DRAWN, strict=True):
        _where_data_lie(
            line,
            groups,
            [row | {"group": data.group_of[row["cell"]]} for row in drawn],
            column_drawn,
            limit,
        )
    for axes, group in zip(grid[1], groups, strict=True):
        name_ends(axes, _ends([row for row in drawn if data.group_of[row["cell"]] == group]))
    grid[0][0].set_ylabel("discharge capacity [mAh]")
    grid[1][0].set_ylabel("retention")
    keys = batch_key(data)
    keys.append(Line2D([], [], color=INK, marker="x", ms=4, lw=0, label="far below the axis"))
    keys.append(Line2D([], [], color=WARNING, lw=0.6, ls=(0, (4, 2)), label="end-of-life limit"))
    keys.append(
        Line2D(
            [], [], color=SOFT, marker="o", mfc="white", ms=2.8, lw=0, label="check-up or formation"
        )
    )
    key(figure, keys)
    return Drawing(
        name,
        figure,
        "Above: discharge capacity of complete cycles; rings: check-up and formation cycles at the "
        "low rate. Below: retention of ageing cycles against the "
        f"{data.settings.lifetime.capacity.reference_cycle}; broken line: limit of the end of life "
        f"({as_set(limit)}, a setting). Each line is a cell; "
        "a cross at the lower edge: the cell fell far below. Names stand where there is room. From "
        f"cycles (cycle, discharge_capacity_mAh, retention, kind, complete).{data.drawn_words}",
        f"Capacity and retention against cycle for the groups {', '.join(groups)}.",
        drawn,
    )


def _ends(rows: list[Row]) -> dict[str, tuple[float, float]]:
    """Last cycle of each cell with a retention, and that retention."""
    known = [row for row in rows if row["retention"] is not None]
    last = {row["cell"]: row for row in sorted(known, key=lambda row: row["cycle"])}
    return {cell: (row["cycle"], row["retention"]) for cell, row in last.items()}


def _draw_capacity(
    upper: Axes, lower: Axes, rows: list[Row], colour: str, line: object
) -> list[Row]:
    """Draw one cell; returns the rows drawn."""
    whole = [row for row in rows if row["complete"]]
    ageing = _thin(where(whole, kind="ageing"))
    slow = [row for row in whole if row["kind"] in ("check-up", "formation")]
    lines = upper.plot(
        numbers(ageing, "cycle"),
        numbers(ageing, "discharge_capacity_mAh"),
        color=colour,
        ls=line,
        lw=0.8,
    )
    lines += upper.plot(
        numbers(slow, "cycle"),
        numbers(slow, "discharge_capacity_mAh"),
        "o",
        color=colour,
        mfc="white",
        ms=2.4,
        mew=0.6,
    )
    lines += lower.plot(
        numbers(ageing, "cycle"), numbers(ageing, "retention"), color=colour, ls=line, lw=0.8
    )
    of_cell(lines, rows[0]["cell"] if rows else "")
    names = ("cell", "cycle", "kind", "discharge_capacity_mAh", "retention")
    return [{name: row[name] for name in names} for row in [*ageing, *slow]]


def _where_data_lie(
    line: list[Axes], groups: tuple[str, ...], drawn: list[Row], name: str, limit: float
) -> None:
    """Let the shared axis span what the cells that still work show."""
    largest = max((row[name] for row in drawn if row[name] is not None), default=None)
    if largest is None:
        return
    for axes, group in zip(line, groups, strict=True):
        span_of_working(axes, where(drawn, group=group), name, dead=0.5 * limit * largest)
    also = limit if name == "retention" else np.inf
    span_of_working(line[0], drawn, name, dead=0.5 * limit * largest, also=also, marks=False)


def span_of_working(
    axes: Axes, rows: list[Row], name: str, *, dead: float, also: float = np.inf, marks: bool = True
) -> None:
    """Let an axis span values of at least `dead`; a cross at its edge where a cell fell below.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Panel whose horizontal axis is the cycle.
    rows : list of dict
        Rows of cycles.
    name : str
        Column drawn.
    dead : float
        A cell below this has stopped working [unit of the column].
    also : float
        A value that lies on the axis too, such as a limit.
    marks : bool
        Whether crosses are drawn.
    """
    known = [row for row in rows if row[name] is not None]
    working = [row[name] for row in known if row[name] >= dead]
    if not working:
        return
    lowest = min([*working, also])
    room = 0.06 * (max(working) - lowest) or 0.05 * max(working)
    axes.set_ylim(lowest - room, max(working) + room)
    fallen: dict[str, float] = {}
    for row in where(known, kind="ageing") if marks else []:
        if row[name] < dead:
            fallen.setdefault(row["cell"], row["cycle"])
    axes.plot(
        list(fallen.values()), [0.0] * len(fallen), "x", color=INK, ms=4, mew=1.0,
        clip_on=False, zorder=5, transform=axes.get_xaxis_transform(),
    )  # fmt: skip


def _thin(rows: list[Row]) -> list[Row]:
    """Every n-th row and the last, down to what print can show."""
    step = -(-len(rows) // _POINTS_PRINTED)
    return [*rows[:: max(step, 1)], *rows[-1:]] if step > 1 else rows


SECTION = Section("cycling", "Fade", cycling, {"capacity": capacity}, place=30, needs=CYCLES)
