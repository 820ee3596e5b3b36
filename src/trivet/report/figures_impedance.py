"""Spectra of a few cells with their fits, and trends of the resistances of all."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.data import ReportData, Row, by, numbers, where
from trivet.report.style import (
    FAINT,
    INK,
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
from trivet.report.wording import as_set, short

_MOST_CELLS = 4
_ELECTRODES = ("positive", "negative")
_PAIRS = ("cell", "positive", "negative")
_TRENDS = (
    ("high_frequency_resistance_ohm", "high-frequency\nresistance [Ω]"),
    ("polarisation_resistance_ohm", "polarisation\nresistance [Ω]"),
)


def nyquist(data: ReportData) -> list[Drawing | Absent]:
    """Draw the first and last spectrum of both electrodes for one cell a group."""
    spectra = by(data.rows["spectra"], "cell")
    chosen = _chosen_cells(data, spectra)
    if not chosen:
        reason = "No spectra: no cell has an electrode spectrum taken with a trusted reference."
        return [Absent("nyquist", reason)]
    curves = by([row for row in data.rows["spectrum_curves"] if row["cell"] in chosen], "cell")
    figure = new_figure(0.4 + 1.4 * len(chosen))
    margins = Margins(rows=0.5, columns=0.5)
    grid = panels(figure, len(chosen), 2, margins=margins)
    drawn: list[Row] = []
    for line, cell in enumerate(chosen):
        for column, pair in enumerate(_ELECTRODES):
            axes = grid[line][column]
            drawn += _draw_pair(
                axes, where(spectra[cell], pair=pair), where(curves.get(cell, []), pair=pair)
            )
            axes.set_title(f"{short(cell, 16)}, {short(data.group_of[cell], 22)}: {pair}")
            axes.margins(x=0.12, y=0.12)
            axes.set_aspect("equal", adjustable="datalim")
        grid[line][0].set_ylabel("−imaginary part [Ω]")
    for axes in grid[-1]:
        axes.set_xlabel("real part [Ω]")
    key(figure, _spectrum_legend())
    return [
        Drawing(
            "nyquist",
            figure,
            "First and last spectrum of each electrode that is not withheld, for the first such "
            "cell of each group in order of batch and name; equal axes. Points: measured; lines: "
            "fitted model; larger marks with numbers: whole decades of frequency in Hz. From "
            "spectrum_curves (frequency_Hz, real_ohm, imaginary_ohm, fitted_real_ohm, "
            "fitted_imaginary_ohm) and spectra (time_h, withheld).",
            f"Complex-plane plots of positive and negative for {', '.join(chosen)}; the "
            "resistances stand in the table of spectra.",
            drawn,
        )
    ]


def _chosen_cells(data: ReportData, spectra: dict[str, list[Row]]) -> list[str]:
    """First cell of each group with an electrode spectrum that is not withheld."""
    chosen: list[str] = []
    for group in data.groups:
        usable = [
            cell
            for cell in data.cells_of(group)
            if any(row["pair"] != "cell" and not row["withheld"] for row in spectra.get(cell, []))
        ]
        chosen += usable[:1]
    return chosen[:_MOST_CELLS]


def _draw_pair(axes: Axes, spectra: list[Row], curves: list[Row]) -> list[Row]:
    """Draw the first and the last usable spectrum of an electrode; returns the rows drawn."""
    usable = [row["spectrum"] for row in spectra if not row["withheld"]]
    if not usable or not curves:
        say_in(axes, "withheld" if spectra else "not measured")
        return []
    drawn: list[Row] = []
    picks = [(usable[0], INK, INK)] + ([(usable[-1], SOFT, "white")] if len(usable) > 1 else [])
    for spectrum, colour, fill in picks:
        rows = where(curves, spectrum=spectrum)
        axes.plot(
            numbers(rows, "fitted_real_ohm"),
            -numbers(rows, "fitted_imaginary_ohm"),
            color=colour,
            lw=0.7,
        )
        axes.plot(
            numbers(rows, "real_ohm"),
            -numbers(rows, "imaginary_ohm"),
            "o",
            color=colour,
            mfc=fill,
            ms=2,
            mew=0.5,
        )
        _mark_decades(axes, rows, colour)
        drawn += rows
    axes.axhline(0, color=FAINT, lw=0.4)
    return drawn


def _mark_decades(axes: Axes, rows: list[Row], colour: str) -> None:
    """Write the frequency beside the point nearest to each decade from 0.1 Hz to 1 kHz."""
    frequency = numbers(rows, "frequency_Hz")
    middle = float(np.median(numbers(rows, "real_ohm")))
    for decade in (0.1, 1.0, 10.0, 100.0, 1000.0):
        nearest = int(np.argmin(np.abs(np.log10(frequency) - np.log10(decade))))
        row = rows[nearest]
        if not 0.7 * decade <= row["frequency_Hz"] <= 1.4 * decade:
            continue
        axes.plot(
            [row["real_ohm"]],
            [-row["imaginary_ohm"]],
            "D",
            color=colour,
            mfc="white",
            ms=3.2,
            mew=0.7,
        )
        if colour == INK:
            left = row["real_ohm"] < middle
            axes.annotate(
                as_set(decade),
                (row["real_ohm"], -row["imaginary_ohm"]),
                xytext=(-4 if left else 4, 2),
                textcoords="offset points",
                ha="right" if left else "left",
                fontsize=6.2,
                color=colour,
            )


def _spectrum_legend() -> list[Line2D]:
    """Entries for the first and the last spectrum."""
    return [
        Line2D([], [], color=INK, marker="o", ms=2.4, lw=0.7, label="first spectrum and fit"),
        Line2D(
            [],
            [],
            color=SOFT,
            marker="o",
            mfc="white",
            ms=2.4,
            lw=0.7,
            label="last spectrum and fit",
        ),
        Line2D(
            [],
            [],
            color=INK,
            marker="D",
            mfc="white",
            ms=3.2,
            lw=0,
            label="decade of frequency [Hz]",
        ),
    ]


def trends(data: ReportData) -> list[Drawing | Absent]:
    """Draw both resistances of every cell over time, one column a pair."""
    rows = [row for row in data.rows["spectra"] if row["time_h"] is not None]
    if not rows:
        return [Absent("impedance-trends", "No trends: no spectrum has a time.")]
    figure = new_figure(3.3)
    grid = panels(
        figure, len(_TRENDS), len(_PAIRS), margins=Margins(rows=0.2, columns=0.42), sharex=True
    )
    styles = group_styles(data.groups)
    last = float(max(row["time_h"] for row in rows))
    for column, pair in enumerate(_PAIRS):
        of_pair = [row for row in rows if row["pair"] == pair and row["trust"] != "rejected"]
        for line, (name, words) in enumerate(_TRENDS):
            axes = grid[line][column]
            _draw_trend(axes, data, of_pair, name)
            axes.set_ylim(bottom=0)
            week_ticks(axes, last)
            if column == 0:
                axes.set_ylabel(words)
        grid[0][column].set_title(pair)
    below(figure, "hours since the clock start of the cell")
    keys = [
        Line2D(
            [], [], color=s.colour, ls=s.line, marker=s.marker, ms=2.6, lw=0.8, label=short(g, 24)
        )
        for g, s in styles.items()
    ]
    key(figure, keys)
    names = (
        "cell",
        "spectrum",
        "time_h",
        "pair",
        *(name for name, _ in _TRENDS),
        "trust",
        "withheld",
    )
    return [
        Drawing(
            "impedance-trends",
            figure,
            "High-frequency and polarisation resistance of every cell over time; rejected spectra "
            "and withheld electrodes are left out and counted in the text. From spectra (time_h, "
            "high_frequency_resistance_ohm, polarisation_resistance_ohm).",
            "Resistances against time for cell, positive and negative, one line a cell.",
            [{name: row[name] for name in names} for row in rows],
        )
    ]


def _draw_trend(axes: Axes, data: ReportData, rows: list[Row], name: str) -> None:
    """Draw one resistance of one pair for all cells."""
    styles = group_styles(data.groups)
    valued = [row for row in rows if row[name] is not None]
    if not valued:
        say_in(axes, "no value")
    for cell, own in by(valued, "cell").items():
        style = styles[data.group_of[cell]]
        axes.plot(
            numbers(own, "time_h"),
            numbers(own, name),
            color=style.colour,
            ls=style.line,
            marker=style.marker,
            markevery=[0, -1],
            ms=2.6,
            mew=0.4,
            mfc="white",
            lw=0.7,
        )
