"""Steps and rates: resistance of the electrodes by state of charge, capacity by rate."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, NullFormatter

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.marks import marks_in, of_cell
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.section import CYCLES, Section
from trivet.report.frame.style import (
    FAINT,
    INK,
    SOFT,
    Absent,
    Drawing,
    Margins,
    below,
    key,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import MISSING, as_set, is_missing, number, short, whole_percent

_MOST_CELLS = 4
_FEWEST_STATES = 3
"""States of charge that make a line worth drawing."""
_APART = 0.04
"""States of charge nearer than this are one."""
_DWARFS = 10.0
"""A resistance so many times the smallest needs an axis by decades."""
_MARKS = {"charge": "^", "discharge": "v"}
_DASHES: dict[str, Any] = {"charge": "solid", "discharge": (0, (3.5, 1.2))}
_SHADES = {"first": "#8fa3b5", "last": INK}


def rates(data: ReportData) -> dict[str, Any]:
    """What is said of rate tests, and their table."""
    rows = data.rows["rate_capability"]
    untested = "" if rows else (
        "No rate test was found: in no cell do complete cycles follow each other at three rates "
        "or more, so nothing is said of capacity by rate."
    )  # fmt: skip
    return {"untested": untested, "table": _table(rows) if rows else None}


def _table(rows: list[Row]) -> PrintedTable:
    """A line a rate."""
    return print_table(
        rows,
        [
            words("cell", "cell"),
            figure("test", "test", number),
            figure("rate [1/h]", "c_rate", number),
            figure("capacity [mAh]", "discharge_capacity_mAh", number),
            made("of the slowest", lambda r: _share(r["capacity_share"]), numeric=True),
            figure("cell loses [mV]", "cell_loss_mV", number),
            made("positive [mV]", lambda r: _with_error(r, "positive_loss_mV"), numeric=True),
            made("negative [mV]", lambda r: _with_error(r, "negative_loss_mV"), numeric=True),
            made("positive's share", lambda r: _share(r["positive_share"]), numeric=True),
            figure("T [°C]", "temperature_degC", number),
            words("not compared", "reason"),
        ],
        caption="Capacity by rate in rate tests, and the mean voltage lost at the same charge from "
        "the top of charge against the lowest rate of the test, with what each electrode loses of "
        "it (± standard error, of a drift of the reference within its limit). From "
        "rate_capability.",
        sources=("rate_capability",),
        reason="No rate test was found.",
        small=True,
    )


def _share(value: float | None) -> str:
    """A share in whole percent."""
    return MISSING if value is None or is_missing(value) else whole_percent(value)


def _with_error(row: Row, name: str) -> str:
    """A loss and its standard error."""
    if is_missing(row[name]):
        return MISSING
    return f"{number(row[name])} ± {number(row['loss_error_mV'], 2)}"


def steps(data: ReportData) -> list[Drawing | Absent]:
    """Draw resistances by state of charge, first against last, for one cell a group."""
    chosen = _chosen(data)
    setting = data.settings.cycling
    if not chosen:
        reason = (
            "Resistance by state of charge is not drawn: no slow cycle has steps of the current at "
            f"{_FEWEST_STATES} states of charge that could be read {as_set(setting.dc_delay_s)} s "
            f"(within {as_set(setting.dc_delay_tolerance_s)} s) after the step. Steps that could "
            "be stand in step_resistances."
        )
        return [Absent("step-resistances", reason)]
    names = ("positive", "negative")
    drawing = new_figure(4.3)
    margins = Margins(top=0.7, rows=0.3)
    grid = panels(drawing, 2, len(chosen), margins=margins, sharex=True, sharey="row")
    drawn: list[Row] = []
    for column, (cell, rows) in enumerate(chosen.items()):
        for line, electrode in enumerate(names):
            drawn += _draw(grid[line][column], rows, electrode)
            of_cell(marks_in(grid[line][column]), cell)
        grid[0][column].set_title(f"{short(cell, 16)}\n{short(data.group_of[cell], 22)}")
    for line, electrode in enumerate(names):
        grid[line][0].set_ylabel(f"{electrode} [Ω]")
        _scale(grid[line][0], drawn, electrode)
    grid[0][0].set_xlim(-0.05, 1.05)
    below(drawing, "state of charge, by the charge passed in the half-cycle")
    key(drawing, _keys())
    return [
        Drawing(
            "step-resistances",
            drawing,
            "Resistance of the electrodes by state of charge: change of potential over change of "
            f"current {as_set(setting.dc_delay_s)} s after a step (beginning, interruption, "
            "resumption, end of a half-cycle), first and last slow cycle with at least "
            f"{_FEWEST_STATES} states of charge, of the first cell of each group. Bars: two "
            "standard errors of the readings. From step_resistances (state_of_charge, "
            "positive_ohm, positive_error_ohm, negative_ohm, negative_error_ohm).",
            f"Two rows of panels, positive and negative, for {', '.join(chosen)}.",
            drawn,
        )
    ]


def _chosen(data: ReportData) -> dict[str, dict[str, list[Row]]]:
    """First and last cycle of the first cell of each group that has enough states of charge."""
    usable = {cell for cell in data.cells_in("step_resistances") if _ends(data, cell)}
    return {cell: _ends(data, cell) for cell in data.first_of_groups(usable)[:_MOST_CELLS]}


def _ends(data: ReportData, cell: str) -> dict[str, list[Row]]:
    """First and last cycle of a cell that has enough states of charge; empty for none."""
    readable = [
        row
        for row in data.of_cell("step_resistances", cell)
        if row["state_of_charge"] is not None and row["positive_ohm"] is not None
    ]
    cycles = by(readable, "cycle")
    enough = [cycle for cycle, rows in cycles.items() if _states(rows) >= _FEWEST_STATES]
    return {"first": cycles[min(enough)], "last": cycles[max(enough)]} if enough else {}


def _states(rows: list[Row]) -> int:
    """How many states of charge there are, those next to each other as one."""
    ordered = np.sort(numbers(rows, "state_of_charge"))
    return int(1 + np.sum(np.diff(ordered) > _APART)) if ordered.size else 0


def _draw(axes: Axes, rows: dict[str, list[Row]], electrode: str) -> list[Row]:
    """Draw one electrode of one cell; returns the rows drawn."""
    drawn: list[Row] = []
    for name, of_cycle in rows.items():
        for half, mark in _MARKS.items():
            own = [r for r in where(of_cycle, half=half) if r[f"{electrode}_ohm"] is not None]
            own.sort(key=lambda r: (r["state_of_charge"], r["time_h"]))
            if not own:
                continue
            axes.errorbar(
                numbers(own, "state_of_charge"),
                numbers(own, f"{electrode}_ohm"),
                yerr=2.0 * numbers(own, f"{electrode}_error_ohm"),
                color=_SHADES[name],
                ls=_DASHES[half],
                marker=mark,
                ms=3.2,
                mfc="white",
                lw=0.8,
                elinewidth=0.6,
                capsize=1.4,
            )
            drawn += own
    if not drawn:
        say_in(axes, "not given")
    axes.grid(axis="y", color=FAINT, lw=0.3)
    return drawn


def _scale(axes: Axes, rows: list[Row], electrode: str) -> None:
    """From zero on, or by decades where an end of charge dwarfs all others."""
    values = numbers(rows, f"{electrode}_ohm")
    if values.size and values.min() > 0.0 and values.max() > _DWARFS * values.min():
        axes.set_yscale("log")
        axes.set_ylim(values.min() / 2.0, values.max() * 2.0)
        axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axes.yaxis.set_minor_formatter(NullFormatter())
    else:
        axes.set_ylim(bottom=0.0)


def _keys() -> list[Line2D]:
    """Entries of the key: half by line and mark, cycle by shade."""
    halves = [
        Line2D([], [], color=SOFT, ls=_DASHES[half], marker=mark, mfc="white", ms=3.2, label=half)
        for half, mark in _MARKS.items()
    ]
    cycles = [
        Line2D([], [], color=shade, lw=2.0, label=f"{name} such cycle")
        for name, shade in _SHADES.items()
    ]
    return halves + cycles


SECTION = Section(
    "rates", "Steps of the current and rates", rates, {"steps": steps}, place=110, needs=CYCLES
)
