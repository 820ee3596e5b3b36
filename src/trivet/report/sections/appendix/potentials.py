"""Curves of single cycles: potentials of both electrodes, and dQ/dV."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.marks import marks_in, of_cell
from trivet.report.frame.section import CYCLES, Section, count_cells
from trivet.report.frame.style import (
    FAINT,
    Absent,
    Drawing,
    Margins,
    key,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import (
    listed,
    number,
    short,
    whole_percent,
)

_LARGEST_GRID = 4


def potentials(data: ReportData) -> list[Drawing | Absent]:
    """Draw the potentials of one cell a group, and of one cell whose values are withheld."""
    chosen = _chosen_cells(data)
    curves = by(data.some("potential_curves", cells=chosen), "cell")
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
            of_cell(marks_in(grid[line][column]), cell)
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


def _chosen_cells(data: ReportData) -> list[str]:
    """First cell of each group with potentials, then one withheld; at most four."""
    shown = set(data.cells_in("potential_curves", known="positive_V"))
    chosen = data.first_of_groups(shown)
    withheld = sorted(set(data.cells_in("potential_curves")) - shown)
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
    """Draw dQ/dE of both electrodes for the first cell of each group that has it."""
    usable = data.cells_in("differential_capacity", electrode="positive")
    chosen = data.first_of_groups(usable)[:_LARGEST_ELECTRODE_GRID]
    rows = data.some("differential_capacity", cells=chosen)
    if not chosen:
        reason = "No differential capacity: no slow cycle was seen with a reference fit for shapes."
        return [Absent("differential-capacity", reason)]
    figure = new_figure(5.0)
    margins = Margins(top=0.7, rows=0.52, bottom=0.5)
    grid = panels(figure, 2, len(chosen), margins=margins, sharey="row")
    drawn: list[Row] = []
    for column, cell in enumerate(chosen):
        for line, electrode in enumerate(("positive", "negative")):
            own = where(rows, cell=cell, electrode=electrode)
            if not own:
                say_in(grid[line][column], "not given for\na negative of lithium")
            drawn += own
            _draw_differential(grid[line][column], own)
            of_cell(marks_in(grid[line][column]), cell)
            grid[line][column].set_xlabel(f"{electrode} [V]")
        grid[0][column].set_title(f"{short(cell, 16)}\n{short(data.group_of[cell], 22)}")
    for line, electrode in enumerate(("positive", "negative")):
        grid[line][0].set_ylabel("dQ/dE [mAh/V]")
        of_electrode = where(drawn, electrode=electrode)
        for axes in grid[line] if of_electrode else ():
            axes.set_xlim(*_window(of_electrode))
            axes.xaxis.set_major_locator(MaxNLocator(3))
    key(figure, [
        Line2D([], [], color=_COLOURS[half], ls=_DASHES[half], lw=wide, alpha=pale,
               label=f"{half}, {name}")
        for half in ("charge", "discharge")
        for name, (wide, pale) in _FIRST_AND_LAST.items()
    ])  # fmt: skip
    return [
        Drawing(
            "differential-capacity",
            figure,
            "Differential capacity of the electrodes against their own potentials, first and last "
            "complete check-up (formation where there are fewer than two); discharge is drawn "
            f"downwards. {_of_bins(drawn)} The area is the charge, nothing is smoothed. Potentials "
            "against the reference, less its offset where that is known. "
            "Drawn from the first to the last potential at which a line stands out by "
            f"{whole_percent(_STANDS_OUT)} of the highest peak; the table has all. From "
            "differential_capacity (potential_V, width_V, dq_dv_mAh_V).",
            f"Two rows of panels, positive and negative, for {', '.join(chosen)}.",
            drawn,
        )
    ]


_COLOURS = {"charge": "#22506f", "discharge": "#a8551c"}
_DASHES: dict[str, Any] = {"charge": "solid", "discharge": (0, (3.5, 1.2))}
_FIRST_AND_LAST = {"first": (1.7, 0.4), "last": (0.8, 1.0)}
_STANDS_OUT = 0.03
"""Share of the highest peak from which on a line stands out from zero: a thickness of the line."""


def _of_bins(rows: list[Row]) -> str:
    """How narrow the bins are, as the table has it."""
    narrow = {electrode: [1000.0 * r["narrowest_V"] for r in where(rows, electrode=electrode)]
              for electrode in ("positive", "negative")}  # fmt: skip
    said = [
        f"{_from_to(min(widths), max(widths))} mV for the {electrode}"
        for electrode, widths in narrow.items()
        if widths
    ]
    return (
        f"Narrowest bins, by noise and step of each half-cycle's potentials: {listed(said)}; wider "
        "where little charge passes."
    )


def _from_to(least: float, most: float) -> str:
    """One number, or two where they differ in print."""
    ends = list(dict.fromkeys([number(least, 2), number(most, 2)]))
    return " to ".join(ends)


def _draw_differential(axes: Axes, rows: list[Row]) -> None:
    """Draw the lines of first and last cycle over the window in which charge passes."""
    cycles = by(rows, "cycle")
    names = list(_FIRST_AND_LAST)[-len(cycles) :] if cycles else []
    for name, of_cycle in zip(names, cycles.values(), strict=False):
        wide, pale = _FIRST_AND_LAST[name]
        for half, sign in (("charge", 1.0), ("discharge", -1.0)):
            points = sorted(where(of_cycle, half=half), key=lambda row: row["potential_V"])
            if not points:
                continue
            potential, height = _outline(points)
            axes.plot(
                potential, sign * height, color=_COLOURS[half], ls=_DASHES[half], lw=wide,
                alpha=pale, solid_joinstyle="round",
            )  # fmt: skip
    axes.axhline(0.0, color=FAINT, lw=0.5)


def _outline(points: list[Row]) -> tuple[np.ndarray, np.ndarray]:
    """Line through the middles of the bins, down to zero where neighbours do not touch."""
    middle, width = (np.array(numbers(points, name)) for name in ("potential_V", "width_V"))
    height = np.array(numbers(points, "dq_dv_mAh_V"))
    begin, end = middle - width / 2.0, middle + width / 2.0
    apart = np.flatnonzero(begin[1:] - end[:-1] > 1e-3 * width[1:])
    at = np.concatenate([middle, begin[:1], end[-1:], end[apart], begin[apart + 1]])
    order = np.argsort(at, kind="stable")
    values = np.concatenate([height, np.zeros(2 + 2 * apart.size)])
    return at[order], values[order]


def _window(rows: list[Row]) -> tuple[float, float]:
    """Potentials between which the lines stand out from zero [V]."""
    least = _STANDS_OUT * max(row["dq_dv_mAh_V"] for row in rows)
    high = [row for row in rows if row["dq_dv_mAh_V"] >= least]
    low_V = min(row["potential_V"] - row["width_V"] / 2.0 for row in high)
    high_V = max(row["potential_V"] + row["width_V"] / 2.0 for row in high)
    room_V = 0.15 * (high_V - low_V)
    return low_V - room_V, high_V + room_V


SECTION = Section(
    "potentials",
    "Curves of single cycles",
    count_cells,
    {"potentials": potentials, "differential": differential},
    place=100,
    needs=CYCLES,
)
