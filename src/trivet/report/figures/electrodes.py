"""What each electrode did: its share in polarisation over life, and its differential capacity."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.style import (
    BATCH_LINES,
    FAINT,
    SOFT,
    Absent,
    Drawing,
    Margins,
    below,
    group_styles,
    key,
    new_figure,
    panels,
    say_in,
    week_ticks,
)
from trivet.report.frame.wording import as_set, short

_PANELS_A_ROW = 3
_LARGEST_GRID = 4
_POINTS_PRINTED = 250


def shares(data: ReportData) -> list[Drawing | Absent]:
    """Draw the positive's share in the polarisation of every cell, one panel a group."""
    rows = [row for row in _with_time(data) if row["polarisation_share"] is not None]
    if not rows:
        reason = (
            "No shares in polarisation: no cycle has both mean potentials of a trusted reference."
        )
        return [Absent("polarisation", reason)]
    lines = -(-len(data.groups) // _PANELS_A_ROW)
    figure = new_figure(0.6 + 2.1 * lines)
    grid = panels(figure, lines, _PANELS_A_ROW, sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    last_h = float(max(numbers(rows, "start_h")))
    drawn: list[Row] = []
    for axes, group in zip(places, data.groups, strict=False):
        colour = group_styles(data.groups)[group].colour
        of_group = [row for cell in data.cells_of(group) for row in where(rows, cell=cell)]
        drawn += _draw_shares(axes, data, of_group, colour)
        if not of_group:
            say_in(axes, "no trusted reference\nin this group")
        axes.axhline(0.5, color=FAINT, lw=0.6)
        axes.set_ylim(0.0, 1.0)
        axes.set_title(short(group, 28))
        week_ticks(axes, last_h)
    for axes in places[len(data.groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("share of the positive")
    below(figure, "hours since the clock start of the cell")
    key(figure, _batches(data))
    return [
        Drawing(
            "polarisation",
            figure,
            "Share of the positive in the polarisation of the cell, ageing cycles, one line a "
            "cell; what is left to 1 is that of the negative. Polarisation is the hysteresis of "
            "charge-weighted mean potentials. Cycles of an untrusted reference are left out. From "
            "electrode_cycles (polarisation_share), cycles (start_h, kind).",
            f"Share between 0 and 1 against time for the groups {', '.join(data.groups)}.",
            drawn,
        )
    ]


def _with_time(data: ReportData) -> list[Row]:
    """Rows of the positive in ageing cycles, each with the time and kind of its cycle."""
    cycles = {(row["cell"], row["cycle"]): row for row in data.rows["cycles"]}
    found = []
    for row in where(data.rows["electrode_cycles"], electrode="positive"):
        cycle = cycles.get((row["cell"], row["cycle"]))
        if cycle is not None and cycle["kind"] == "ageing":
            found.append(row | {"start_h": cycle["start_h"]})
    return found


def _draw_shares(axes: Axes, data: ReportData, rows: list[Row], colour: str) -> list[Row]:
    """Draw the cells of a group; returns the rows drawn."""
    drawn: list[Row] = []
    for cell, own in by(rows, "cell").items():
        step = max(-(-len(own) // _POINTS_PRINTED), 1)
        kept = [*own[::step], *own[-1:]] if step > 1 else own
        place = data.batches.index(data.batch_of[cell]) % len(BATCH_LINES)
        axes.plot(
            numbers(kept, "start_h"),
            numbers(kept, "polarisation_share"),
            color=colour,
            ls=BATCH_LINES[place],
            lw=0.8,
        )
        names = ("cell", "cycle", "start_h", "polarisation_share")
        drawn += [{name: row[name] for name in names} for row in kept]
    return drawn


def _batches(data: ReportData) -> list[Line2D]:
    """Entries of the key for the batches."""
    return [
        Line2D(
            [], [], color=SOFT, ls=BATCH_LINES[place % len(BATCH_LINES)], label=f"batch {short(b)}"
        )
        for place, b in enumerate(data.batches)
    ]


def differential(data: ReportData) -> list[Drawing | Absent]:
    """Draw dQ/dV of both electrodes for the first cell of each group with a trusted reference."""
    rows = data.rows["differential_capacity"]
    usable = {row["cell"] for row in rows if row["electrode"] == "positive"}
    chosen = []
    for group in data.groups:
        chosen += [cell for cell in data.cells_of(group) if cell in usable][:1]
    chosen = chosen[:_LARGEST_GRID]
    if not chosen:
        reason = "No differential capacity: no slow cycle was seen with a trusted reference."
        return [Absent("differential-capacity", reason)]
    figure = new_figure(3.8)
    grid = panels(figure, 2, len(chosen), margins=Margins(rows=0.42, bottom=0.5), sharey="row")
    drawn: list[Row] = []
    for column, cell in enumerate(chosen):
        for line, electrode in enumerate(("positive", "negative")):
            own = where(rows, cell=cell, electrode=electrode)
            if not own:
                say_in(grid[line][column], "not given for\na negative of lithium")
            drawn += own
            _draw_differential(grid[line][column], own)
        grid[0][column].set_title(f"{short(cell, 16)}\n{short(data.group_of[cell], 22)}")
        grid[1][column].set_xlabel("potential against\nreference [V]")
    for line, electrode in enumerate(("positive", "negative")):
        grid[line][0].set_ylabel(f"{electrode}\ndQ/dV [mAh/V]")
    return [
        Drawing(
            "differential-capacity",
            figure,
            "Differential capacity of the electrodes against their own potentials, first (light) "
            "and last (dark) slow cycle; discharge is drawn downwards. Bins of "
            f"{as_set(data.settings.cycling.differential_bin_V)} V, nothing smoothed: the area is "
            "the charge. From differential_capacity (potential_V, dq_dv_mAh_V).",
            f"Two rows of panels, positive and negative, for {', '.join(chosen)}.",
            drawn,
        )
    ]


def _draw_differential(axes: Axes, rows: list[Row]) -> None:
    """Draw the bins of the cycles as steps, light to dark."""
    cycles = by(rows, "cycle")
    for place, of_cycle in enumerate(cycles.values()):
        shade = np.linspace(0.68, 0.12, len(cycles))[place] if len(cycles) > 1 else 0.12
        for half, sign in (("charge", 1.0), ("discharge", -1.0)):
            points = where(of_cycle, half=half)
            if points:
                potential, height = numbers(points, "potential_V"), numbers(points, "dq_dv_mAh_V")
                axes.vlines(potential, 0.0, sign * height, color=str(shade), lw=0.9)
    axes.axhline(0.0, color=FAINT, lw=0.5)
