"""Curves of single cycles: potentials of both electrodes, and dQ/dV."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.section import Section, count_cells
from trivet.report.frame.style import (
    FAINT,
    Absent,
    Drawing,
    Margins,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import (
    as_set,
    short,
)

_LARGEST_GRID = 4


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
            "reference serves for shapes, in order of batch and name, and one cell whose "
            "potentials are withheld where there is one. Against the reference as measured where "
            "its offset is not known, less the offset where it is corrected. Charge: full lines; "
            "discharge: broken lines; from the first drawn cycle (light) to the last (dark). From "
            "potential_curves (capacity_mAh, cell_V, positive_V, negative_V).",
            f"Three rows of panels, cell voltage and the two potentials, for {', '.join(chosen)}.",
            [{name: row[name] for name in names} for cell in chosen for row in curves[cell]],
        )
    ]


def _chosen_cells(data: ReportData, curves: dict[str, list[Row]]) -> list[str]:
    """First cell of each group with potentials, then one withheld; at most four."""
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


_LARGEST_ELECTRODE_GRID = 4


def differential(data: ReportData) -> list[Drawing | Absent]:
    """Draw dQ/dV of both electrodes for the first cell of each group with a trusted reference."""
    rows = data.rows["differential_capacity"]
    usable = {row["cell"] for row in rows if row["electrode"] == "positive"}
    chosen = []
    for group in data.groups:
        chosen += [cell for cell in data.cells_of(group) if cell in usable][:1]
    chosen = chosen[:_LARGEST_ELECTRODE_GRID]
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


SECTION = Section(
    "potentials",
    "Curves of single cycles",
    count_cells,
    {"potentials": potentials, "differential": differential},
)
