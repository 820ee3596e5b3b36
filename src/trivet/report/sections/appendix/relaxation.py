"""Distributions of relaxation times of single cells."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.marks import marks_in, of_cell
from trivet.report.frame.section import SPECTRA, Section, count_cells
from trivet.report.frame.style import (
    BATCH_LINES,
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
from trivet.report.frame.wording import (
    short,
)

_MOST_CELLS = 4


_COLOURS = ("#9fb6c8", "#6f93ad", "#3f6886", INK)
"""From the first spectrum to the last; lines differ too."""


def relaxation(data: ReportData) -> list[Drawing | Absent]:
    """Draw the distributions of one cell a group, a row an electrode, life from light to dark."""
    chosen = data.first_of_groups(data.cells_in("relaxation_times"))[:_MOST_CELLS]
    if not chosen:
        reason = (
            "No relaxation times: no spectrum is both fitted again with the exponents of the "
            "campaign and "
            "of enough frequencies; the table spectra_second_pass says why for each."
        )
        return [Absent("relaxation-times", reason)]
    curves = data.some("relaxation_times", cells=chosen)
    pairs = [pair for pair in ("positive", "negative", "cell") if where(curves, pair=pair)]
    figure = new_figure(0.7 + 1.05 * len(pairs))
    margins = Margins(rows=0.14, columns=0.3)
    grid = panels(figure, len(pairs), len(chosen), margins=margins, sharex=True, sharey="row")
    drawn: list[Row] = []
    for column, cell in enumerate(chosen):
        own = where(curves, cell=cell)
        peaks = where(data.rows["relaxation_peaks"], cell=cell)
        for line, pair in enumerate(pairs):
            drawn += _draw(grid[line][column], where(own, pair=pair), where(peaks, pair=pair))
            of_cell(marks_in(grid[line][column]), cell)
        grid[0][column].set_title(f"{short(cell, 12)}, {short(data.group_of[cell], 14)}")
    for line, pair in enumerate(pairs):
        grid[line][0].set_ylabel(f"{pair} [Ω]")
        grid[line][0].set_ylim(bottom=0)
    below(figure, "time constant")
    key(figure, _keys())
    return [
        Drawing(
            "relaxation-times",
            figure,
            "Distribution of relaxation times (resistance per unit of ln τ) of the same spectra "
            "over life, for the first cell of each group that has one; not negative, one "
            "regularisation for a pair, the diffusion tail fitted beside it. Ticks below: "
            "positions of the peaks of the last spectrum. Read areas and positions, never "
            "heights, which the regularisation sets. From relaxation_times (time_constant_s, "
            "density_ohm) and relaxation_peaks (time_constant_s).",
            f"Curves against time constants for {', '.join(chosen)}; areas and positions of the "
            "peaks stand in the table relaxation_peaks.",
            drawn,
        )
    ]


def _draw(axes: Axes, rows: list[Row], peaks: list[Row]) -> list[Row]:
    """Draw the curves of one electrode of a cell; returns the rows drawn."""
    if not rows:
        say_in(axes, "none accepted")
        return []
    spectra = by(rows, "spectrum")
    styles = _styles(len(spectra))
    for (colour, line), own in zip(styles, spectra.values(), strict=True):
        axes.plot(
            numbers(own, "time_constant_s"),
            numbers(own, "density_ohm"),
            color=colour,
            ls=line,
            lw=0.8,
        )
    last = max(spectra)
    for peak in where(peaks, spectrum=last):
        axes.plot([peak["time_constant_s"]], [0.0], "|", color=INK, ms=5, mew=0.9, clip_on=False)
    axes.set_xscale("log")
    axes.set_xticks([1e-5, 1e-3, 1e-1, 10.0], ["10 µs", "1 ms", "0.1 s", "10 s"])
    axes.minorticks_off()
    return rows


def _styles(count: int) -> list[tuple[str, object]]:
    """Colour and line of each of at most four curves, the last always dark and full."""
    places = np.linspace(3, 0, count).round().astype(int)[::-1] if count > 1 else [3]
    return [(_COLOURS[place], BATCH_LINES[3 - place]) for place in places]


def _keys() -> list[Line2D]:
    """Entries for the first and the last spectrum."""
    (first_colour, first_line), (last_colour, last_line) = _styles(2)
    return [
        Line2D([], [], color=first_colour, ls=first_line, lw=0.8, label="first spectrum"),
        Line2D([], [], color=SOFT, lw=0.0, label="(between: darker with age)"),
        Line2D([], [], color=last_colour, ls=last_line, lw=0.8, label="last spectrum"),
    ]


SECTION = Section(
    "relaxation",
    "Relaxation times",
    count_cells,
    {"relaxation": relaxation},
    place=130,
    needs=SPECTRA,
)
