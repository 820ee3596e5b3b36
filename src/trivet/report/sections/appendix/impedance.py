"""Impedance: first and last spectra with their fits and residuals."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.marks import marks_in, of_cell
from trivet.report.frame.printed import PrintedColumn, PrintedTable, made, print_table, words
from trivet.report.frame.section import SPECTRA, Section
from trivet.report.frame.style import (
    FAINT,
    INK,
    SOFT,
    Absent,
    Drawing,
    Margins,
    key,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import (
    MISSING,
    as_set,
    count,
    is_missing,
    number,
    plural,
    short,
)
from trivet.schema.tables.impedance import PAIRS


def impedance(data: ReportData) -> dict[str, Any]:
    """Counts of spectra, first and last resistances of every cell."""
    spectra = data.some("spectra", _OF_A_SPECTRUM)
    withheld = [row for row in spectra if row["withheld"]]
    return {
        "spectra": plural(len(spectra), "row")
        + f" of {plural(len({(r['cell'], r['spectrum']) for r in spectra}), 'measurement')}",
        "none": not spectra,
        "trust": [(state, count(len(own))) for state, own in sorted(by(spectra, "trust").items())],
        "withheld": count(len(withheld)),
        "table": _first_and_last_table(data),
    }


def _first_and_last_table(data: ReportData) -> PrintedTable:
    """One row a cell: both resistances of every pair, first and last spectrum."""
    names = ("cell", "spectrum", "pair", "time_h", "ohmic_resistance_ohm",
             "polarisation_resistance_ohm")  # fmt: skip
    second = by(data.some("spectra_second_pass", names), "cell")
    first = by(data.some("spectra", _OF_A_SPECTRUM), "cell")
    doubts = by(data.some("spectrum_checks", ("cell", "spectrum", "check", "outcome"),
                          outcome=_DOUBTED), "cell")  # fmt: skip
    ends = [
        {
            "cell": cell,
            "rows": by(_with_trust(second[cell], first.get(cell, [])), "pair"),
            "first_pass": first.get(cell, []),
            "doubts": doubts.get(cell, []),
        }
        for cell in data.cells
        if cell in second
    ]
    resistances = [
        _pair_column(f"{quantity} {pair} [Ω]", pair, f"{quantity}_resistance_ohm")
        for quantity in ("ohmic", "polarisation")
        for pair in PAIRS
    ]
    return print_table(
        ends,
        [
            words("cell", "cell"),
            made("at [h]", _hours, numeric=True),
            *resistances,
            made("trust of the last", _trust),
        ],
        caption="First; last spectrum of each cell: fitted ohmic resistance and sum of the arcs, "
        "fitted again with the exponents of the campaign. Standard errors stand in "
        "spectra_second_pass, all checks of all spectra in "
        f"spectra. Limits: {_spectrum_limits(data)} (settings; common practice, no source). From "
        "spectra_second_pass and spectra (trust, reasons).",
        reason="No spectra: no impedance file was read.",
        sources=("spectra_second_pass", "spectra"),
        small=True,
    )


def _hours(row: Row) -> str:
    """Hours of the first and the last spectrum of a cell."""
    return _ends(max(row["rows"].values(), key=len, default=[]), "time_h")


def _ends(rows: list[Row], name: str) -> str:
    """First and last value of rows, or one where there is one row."""
    if not rows:
        return MISSING
    texts = [_value(row, name) for row in (rows[0], rows[-1])]
    return texts[0] if len(rows) == 1 else "; ".join(texts)


def _with_trust(second: list[Row], first: list[Row]) -> list[Row]:
    """Rows of the second fit, each with the trust of its spectrum and whether it is withheld."""
    known = {(row["spectrum"], row["pair"]): row for row in first}
    return [
        row | {"found": known.get((row["spectrum"], row["pair"]), {"withheld": 0, "trust": ""})}
        for row in second
    ]


def _value(row: Row, name: str) -> str:
    """One number, or in a word why there is none."""
    if not is_missing(row[name]):
        return number(row[name])
    found = row["found"]
    if found["withheld"]:
        return "withheld"
    return found["trust"] if found["trust"] in _DOUBTED else MISSING


def _pair_column(heading: str, pair: str, name: str) -> PrintedColumn:
    """Column of one resistance of one pair."""
    return made(heading, lambda row: _ends(row["rows"].get(pair, []), name), numeric=True)


def _trust(row: Row) -> str:
    """Trust of the last spectrum, with the checks that speak against it."""
    last = max((r["spectrum"] for r in row["first_pass"]), default=0)
    states = {r["trust"] for r in where(row["first_pass"], spectrum=last)}
    against = dict.fromkeys(r["check"] for r in where(row["doubts"], spectrum=last))
    said = next((state for state in (*_DOUBTED[::-1], "trusted") if state in states), MISSING)
    said = f"{said}: {', '.join(against)}" if against else said
    withheld = any(r["withheld"] for r in where(row["first_pass"], spectrum=last))
    return f"{said}; electrodes withheld" if withheld else said


def _spectrum_limits(data: ReportData) -> str:
    """Limits of the checks of spectra in words."""
    trust = data.settings.trust
    return (
        f"Kramers-Kronig suspect above {as_set(trust.kk_suspect_percent)} %, rejected above "
        f"{as_set(trust.kk_rejected_percent)} %; additivity suspect above "
        f"{as_set(trust.additivity_suspect_percent)} %, rejected above "
        f"{as_set(trust.additivity_rejected_percent)} %"
    )


_DOUBTED = ("suspect", "rejected")
"""Outcomes that speak against a spectrum, the worse the later."""


_OF_A_SPECTRUM = ("cell", "spectrum", "pair", "withheld", "trust")
"""What is asked of every spectrum of a campaign; the other columns of one are many."""


_MOST_CELLS = 4


_ELECTRODES = ("positive", "negative")


_BESIDE: dict[float, tuple[int, int, str]] = {
    0.1: (5, 2, "left"),
    1.0: (0, -9, "center"),
    10.0: (0, 4, "center"),
    100.0: (1, -9, "center"),
    1000.0: (-4, 1, "right"),
}
"""Where the frequency stands beside its mark [points]."""


_APART_POINTS = 11.0
"""Marks nearer to each other than this are not both named, so that numbers do not overprint."""


def nyquist(data: ReportData) -> list[Drawing | Absent]:
    """Draw the first and last spectrum of both electrodes for one cell a group."""
    chosen = _chosen_cells(data, by(data.some("spectra", _OF_A_SPECTRUM), "cell"))
    if not chosen:
        reason = "No spectra: no cell has an electrode spectrum taken with a trusted reference."
        return [Absent("nyquist", reason)]
    spectra = {cell: data.of_cell("spectra", cell) for cell in chosen}
    curves = by(data.some("spectrum_curves", cells=chosen), "cell")
    figure = new_figure(0.5 + 1.2 * len(chosen))
    margins = Margins(rows=0.48, columns=0.34)
    grid = panels(figure, len(chosen), 3, margins=margins, width_ratios=[1.25, 1.25, 0.8])
    drawn: list[Row] = []
    for line, cell in enumerate(chosen):
        for column, pair in enumerate(_ELECTRODES):
            axes = grid[line][column]
            drawn += _draw_pair(
                axes, where(spectra[cell], pair=pair), where(curves.get(cell, []), pair=pair)
            )
            axes.set_title(f"{short(cell, 10)}, {short(data.group_of[cell], 14)}: {pair}")
        grid[line][0].set_ylabel("−imaginary part [Ω]")
        _draw_residuals(grid[line][2], spectra[cell], curves.get(cell, []))
        for axes in grid[line]:
            of_cell(marks_in(axes), cell)
    grid[0][2].set_title("residuals, last [%]")
    for axes, label in zip(grid[-1], ["real part [Ω]"] * 2 + ["frequency [Hz]"], strict=True):
        axes.set_xlabel(label)
    key(figure, _spectrum_legend())
    return [
        Drawing(
            "nyquist",
            figure,
            "First and last spectrum of each electrode that is not withheld, for the first such "
            "cell of each group in order of batch and name; equal axes. Points: measured; lines: "
            "fitted model; larger marks with numbers: whole decades of frequency in Hz. Right: "
            "residuals of the linear Kramers-Kronig test of the last spectrum, each electrode "
            "about its own line; full: real part, broken: imaginary part. From spectrum_curves "
            "(frequency_Hz, real_ohm, imaginary_ohm, fitted_real_ohm, fitted_imaginary_ohm, "
            "kk_residual_real_percent, kk_residual_imaginary_percent) and spectra (time_h, "
            "withheld).",
            f"Complex-plane plots of positive and negative with Kramers-Kronig residuals for "
            f"{', '.join(chosen)}; the resistances stand in the table of spectra.",
            drawn,
        )
    ]


def _chosen_cells(data: ReportData, spectra: dict[str, list[Row]]) -> list[str]:
    """First cell of each group with an electrode spectrum that is not withheld."""
    usable = {
        cell
        for cell, rows in spectra.items()
        if any(row["pair"] != "cell" and not row["withheld"] for row in rows)
    }
    return data.first_of_groups(usable)[:_MOST_CELLS]


def _draw_pair(axes: Axes, spectra: list[Row], curves: list[Row]) -> list[Row]:
    """Draw the first and the last usable spectrum of an electrode; returns the rows drawn."""
    usable = [row["spectrum"] for row in spectra if not row["withheld"]]
    if not usable or not curves:
        say_in(axes, "withheld" if spectra else "not measured")
        return []
    drawn: list[Row] = []
    named: list[tuple[float, float, float]] = []
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
        marks = _mark_decades(axes, rows, colour)
        named = named or marks
        drawn += rows
    axes.axhline(0, color=FAINT, lw=0.4)
    axes.margins(x=0.12, y=0.12)
    axes.set_aspect("equal", adjustable="datalim")
    _name_decades(axes, named)
    return drawn


def _draw_residuals(axes: Axes, spectra: list[Row], curves: list[Row]) -> None:
    """Draw the residuals of the last usable spectrum of both electrodes, one above the other."""
    last = {row["pair"]: row["spectrum"] for row in spectra if not row["withheld"]}
    parts = ("kk_residual_real_percent", "kk_residual_imaginary_percent")
    shown: dict[str, list[Row]] = {
        pair: where(curves, pair=pair, spectrum=last[pair]) for pair in _ELECTRODES if pair in last
    }
    sizes = [abs(row[part]) for own in shown.values() for row in own for part in parts
             if row[part] is not None]  # fmt: skip
    if not sizes:
        say_in(axes, "not tested")
        return
    reach = max(0.5, *sizes)
    ticks: list[float] = []
    for pair, own in shown.items():
        middle = 1.5 * reach if pair == "positive" else -1.5 * reach
        ticks += [middle - reach, middle, middle + reach]
        axes.axhline(middle, color=FAINT, lw=0.5, zorder=0)
        for part, line in zip(parts, ("-", (0, (2.5, 1.2))), strict=True):
            axes.plot(
                numbers(own, "frequency_Hz"),
                middle + numbers(own, part),
                color=INK,
                ls=line,
                lw=0.6,
            )
        axes.text(
            0.99, middle + 0.62 * reach, pair, transform=axes.get_yaxis_transform(), ha="right",
            fontsize=6.5, color=SOFT,
        )  # fmt: skip
    named = [number(value, 2) for value in (-reach, 0.0, reach)]
    axes.set_yticks(ticks, named * len(shown))
    axes.set_ylim(-2.8 * reach, 2.8 * reach)
    axes.set_xscale("log")
    axes.set_xticks([0.1, 10.0, 1e3], ["0.1", "10", "1000"])
    axes.minorticks_off()


def _mark_decades(axes: Axes, rows: list[Row], colour: str) -> list[tuple[float, float, float]]:
    """Mark the point nearest to each decade from 0.1 Hz to 1 kHz; returns decades and places."""
    frequency = numbers(rows, "frequency_Hz")
    marks = []
    for decade in _BESIDE:
        row = rows[int(np.argmin(np.abs(np.log10(frequency) - np.log10(decade))))]
        if 0.7 * decade <= row["frequency_Hz"] <= 1.4 * decade:
            marks.append((decade, row["real_ohm"], -row["imaginary_ohm"]))
    across, up = [mark[1] for mark in marks], [mark[2] for mark in marks]
    axes.plot(across, up, "D", color=colour, mfc="white", ms=3.2, mew=0.7)
    return marks


def _name_decades(axes: Axes, marks: list[tuple[float, float, float]]) -> None:
    """Write the frequency beside each mark that is far enough from those already named."""
    axes.apply_aspect()
    scale = 72.0 / axes.figure.dpi
    taken: list[np.ndarray] = []
    for decade, real, height in sorted(marks, key=lambda mark: -mark[0]):
        place = scale * axes.transData.transform((real, height))
        if all(np.hypot(*(place - other)) >= _APART_POINTS for other in taken):
            taken.append(place)
            across, up, side = _BESIDE[decade]
            axes.annotate(
                as_set(decade),
                (real, height),
                xytext=(across, up),
                textcoords="offset points",
                ha=side,
                fontsize=6.2,
                color=INK,
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


SECTION = Section(
    "impedance", "Impedance", impedance, {"nyquist": nyquist}, place=120, needs=SPECTRA
)
