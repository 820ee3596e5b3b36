"""Capacity of all cells, and electrode potentials of a few."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.style import (
    BATCH_LINES,
    FAINT,
    SOFT,
    WARNING,
    Absent,
    Drawing,
    Margins,
    group_styles,
    key,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import as_set, short

_LARGEST_GRID = 4
_POINTS_PRINTED = 250


def capacity(data: ReportData) -> list[Drawing | Absent]:
    """Draw discharge capacity and retention of every cell, one column a group."""
    if not data.rows["cycles"]:
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
    figure = new_figure(3.3)
    grid = panels(figure, 2, len(groups), margins=Margins(rows=0.2), sharex=True, sharey="row")
    drawn: list[Row] = []
    for column, group in enumerate(groups):
        style = group_styles(data.groups)[group]
        for cell in data.cells_of(group):
            rows = data.of_cell("cycles", cell)
            line = BATCH_LINES[data.batches.index(data.batch_of[cell]) % len(BATCH_LINES)]
            drawn += _draw_capacity(grid[0][column], grid[1][column], rows, style.colour, line)
        grid[0][column].set_title(short(group, 24))
        limit = data.settings.lifetime.capacity.retention_below
        grid[1][column].axhline(limit, color=WARNING, lw=0.6, ls=(0, (4, 2)))
        grid[1][column].set_xlabel("cycle")
        grid[0][column].set_ylim(bottom=0)
    grid[0][0].set_ylabel("discharge capacity [mAh]")
    grid[1][0].set_ylabel("retention")
    keys = [
        Line2D(
            [], [], color=SOFT, ls=BATCH_LINES[place % len(BATCH_LINES)], label=f"batch {short(b)}"
        )
        for place, b in enumerate(data.batches)
    ]
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
        f"({as_set(data.settings.lifetime.capacity.retention_below)}, a setting). Each line is a "
        "cell. From cycles (cycle, discharge_capacity_mAh, retention, kind, complete).",
        f"Capacity and retention against cycle for the groups {', '.join(groups)}.",
        drawn,
    )


def _draw_capacity(
    upper: Axes, lower: Axes, rows: list[Row], colour: str, line: object
) -> list[Row]:
    """Draw one cell; returns the rows drawn."""
    whole = [row for row in rows if row["complete"]]
    ageing = _thin(where(whole, kind="ageing"))
    slow = [row for row in whole if row["kind"] in ("check-up", "formation")]
    upper.plot(
        numbers(ageing, "cycle"),
        numbers(ageing, "discharge_capacity_mAh"),
        color=colour,
        ls=line,
        lw=0.8,
    )
    upper.plot(
        numbers(slow, "cycle"),
        numbers(slow, "discharge_capacity_mAh"),
        "o",
        color=colour,
        mfc="white",
        ms=2.4,
        mew=0.6,
    )
    lower.plot(
        numbers(ageing, "cycle"), numbers(ageing, "retention"), color=colour, ls=line, lw=0.8
    )
    names = ("cell", "cycle", "kind", "discharge_capacity_mAh", "retention")
    return [{name: row[name] for name in names} for row in [*ageing, *slow]]


def _thin(rows: list[Row]) -> list[Row]:
    """Every n-th row and the last, down to what print can show."""
    step = -(-len(rows) // _POINTS_PRINTED)
    return [*rows[:: max(step, 1)], *rows[-1:]] if step > 1 else rows


def potentials(data: ReportData) -> list[Drawing | Absent]:
    """Draw the potentials of one cell a group, and of one cell whose values are withheld."""
    curves = by(data.rows["potential_curves"], "cell")
    chosen = _chosen_cells(data, curves)
    if not chosen:
        return [Absent("potentials", "No potential curves: no cell has a complete ageing cycle.")]
    figure = new_figure(4.5)
    grid = panels(
        figure, 3, len(chosen), margins=Margins(rows=0.2, bottom=0.55), sharex="col", sharey="row"
    )
    for column, cell in enumerate(chosen):
        rows = curves[cell]
        for line, name in enumerate(("cell_V", "positive_V", "negative_V")):
            _draw_potential(grid[line][column], rows, name)
        grid[0][column].set_title(f"{short(cell, 16)}\n{short(data.group_of[cell], 22)}")
        grid[2][column].set_xlabel("charge passed in the\nhalf-cycle [mAh]")
    for line, words in enumerate(
        ("cell [V]", "positive against\nreference [V]", "negative against\nreference [V]")
    ):
        grid[line][0].set_ylabel(words)
    names = ("cell", "cycle", "half", "capacity_mAh", "cell_V", "positive_V", "negative_V", "trust")
    return [
        Drawing(
            "potentials",
            figure,
            "Voltage and electrode potentials of single cycles: the first cell of each group whose "
            "reference was trusted, in order of batch and name, and one cell whose potentials are "
            "withheld where there is one. Charge: full lines; discharge: broken lines; from the "
            "first drawn cycle (light) to the last (dark). From potential_curves (capacity_mAh, "
            "cell_V, positive_V, negative_V).",
            f"Three rows of panels, cell voltage and the two potentials, for {', '.join(chosen)}.",
            [{name: row[name] for name in names} for cell in chosen for row in curves[cell]],
        )
    ]


def _chosen_cells(data: ReportData, curves: dict[str, list[Row]]) -> list[str]:
    """First cell of each group with trusted potentials, then one withheld; at most four."""
    shown = {cell for cell, rows in curves.items() if _has(rows, "positive_V")}
    chosen = []
    for group in data.groups:
        of_group = [cell for cell in data.cells_of(group) if cell in shown]
        chosen += of_group[:1]
    withheld = sorted(cell for cell in curves if cell not in shown)
    return chosen[: _LARGEST_GRID - 1] + withheld[:1]


def _has(rows: list[Row], name: str) -> bool:
    """Whether a column has any value."""
    return any(row[name] is not None for row in rows)


def _draw_potential(axes: Axes, rows: list[Row], name: str) -> None:
    """Draw one quantity over the drawn cycles, light to dark."""
    if not _has(rows, name):
        trust = sorted({row["trust"] for row in rows})
        say_in(axes, f"withheld\n(reference {', '.join(trust)})")
        return
    cycles = by(rows, "cycle")
    for place, of_cycle in enumerate(cycles.values()):
        shade = np.linspace(0.68, 0.12, len(cycles))[place] if len(cycles) > 1 else 0.12
        for half, line in (("charge", "solid"), ("discharge", (0, (4, 1.4)))):
            points = where(of_cycle, half=half)
            axes.plot(
                numbers(points, "capacity_mAh"),
                numbers(points, name),
                color=str(shade),
                ls=line,
                lw=0.9,
            )
    axes.grid(axis="y", color=FAINT, lw=0.3)
