"""Resistances over life: trends, slopes by group, what a separator adds, relaxation times."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.marks import each_of_a_cell, of_cell
from trivet.report.frame.section import SPECTRA, Section
from trivet.report.frame.style import (
    FAINT,
    SINCE_START,
    Absent,
    Drawing,
    GroupStyle,
    Margins,
    below,
    group_styles,
    key,
    new_figure,
    panels,
    say_in,
    time_ticks,
)
from trivet.report.frame.wording import (
    as_set,
    interval,
    is_missing,
    number,
    plural,
    short,
)
from trivet.report.sections.electrodes import share_axis
from trivet.schema.tables.impedance import PAIRS

_WHERE = {
    "cell": "in the cell",
    "positive": "on the side of the positive",
    "negative": "on the side of the negative",
}


def resistances(data: ReportData) -> dict[str, Any]:
    """Contents of the section: what a separator adds."""
    return {"separators": separators(data)}


def separators(data: ReportData) -> list[str]:
    """Say what one more separator adds to the ohmic resistance; nothing where no spectrum is."""
    rows = data.rows["separator_resistance"]
    if not rows or not data.rows["spectra"]:
        return []
    said = [_sentence(row) for row in sorted(rows, key=lambda r: PAIRS.index(r["pair"]))]
    return [
        "One more separator adds to the ohmic resistance at the first check-up, batches apart "
        f"({data.confidence} limits): {'; '.join(said)}. From separator_resistance."
    ]


def _sentence(row: Row) -> str:
    """What one pair says."""
    place = _WHERE[row["pair"]]
    if is_missing(row["per_separator_ohm"]):
        return f"{place} {row['reason']}"
    limits = interval(row["lower_ohm"], row["upper_ohm"])
    areal = row["areal_per_separator_ohm_cm2"]
    per_area = "" if is_missing(areal) else f", {number(areal)} Ω cm²"
    cells = plural(row["cells"], "cell")
    batches = f"{row['batches']} {'batch' if row['batches'] == 1 else 'batches'}"
    return (
        f"{place} {number(row['per_separator_ohm'])} Ω ({limits}){per_area}, {cells} of {batches}"
    )


_QUANTITIES = ("ohmic", "polarisation")


_LOG_TICKS = tuple(digit * 10.0**power for power in range(-3, 5) for digit in (1, 2, 5))


_DRAWN = (
    "cell",
    "spectrum",
    "time_h",
    "pair",
    "ohmic_resistance_ohm",
    "polarisation_resistance_ohm",
    "ohmic_share",
    "polarisation_share",
    "alike",
)


def trends(data: ReportData) -> list[Drawing | Absent]:
    """Draw both resistances of every cell over time, a column a pair, and the positive's share."""
    rows = [
        {name: row[name] for name in _DRAWN}
        for row in data.some("spectra_second_pass", (*_DRAWN, "reason"), cells=data.drawn_cells)
        if row["time_h"] is not None and not row["reason"]
    ]
    if not rows:
        reason = "No trends: no spectrum that was accepted has a time."
        return [Absent("impedance-trends", reason)]
    figure = new_figure(3.3)
    grid = panels(figure, 2, 4, margins=Margins(rows=0.3, columns=0.4, top=0.5), sharex=True)
    styles = group_styles(data.groups)
    last = float(max(row["time_h"] for row in rows))
    for line, quantity in enumerate(_QUANTITIES):
        for column, pair in enumerate(PAIRS):
            axes = grid[line][column]
            name = f"{quantity}_resistance_ohm"
            _draw_cells(axes, data, where(rows, pair=pair), name, styles)
            _limit(axes, quantity)
        axes = grid[line][3]
        _draw_cells(axes, data, where(rows, pair="positive"), f"{quantity}_share", styles)
        axes.axhline(0.5, color=FAINT, lw=0.6, zorder=0)
        known = [row[f"{quantity}_share"] for row in where(rows, pair="positive")]
        share_axis(axes, [share for share in known if share is not None])
        axes.set_title(f"positive's share,\n{quantity}", fontsize=7)
        grid[line][0].set_ylabel(f"{quantity}\nresistance [Ω]")
        for axes in grid[line]:
            time_ticks(axes, last, most=4)
    for axes, title in zip(grid[0], PAIRS, strict=False):
        axes.set_title(title)
    below(figure, SINCE_START)
    key(figure, _group_keys(styles))
    return [
        Drawing(
            "impedance-trends",
            figure,
            "Ohmic (logarithmic) and polarisation resistance of every cell over time, from spectra "
            "fitted again with the exponents of the campaign, so that lines scatter less. Right: "
            "the positive's share of the same resistance of both electrodes. Rejected and withheld "
            "spectra and those of a suspect reference geometry are left out. From "
            "spectra_second_pass (time_h, ohmic_resistance_ohm, "
            f"polarisation_resistance_ohm, ohmic_share, polarisation_share).{data.drawn_words}",
            "Resistances against time for cell, positive and negative, one line a cell, and the "
            "positive's share of each.",
            rows,
        )
    ]


def _limit(axes: Axes, quantity: str) -> None:
    """Give the axis of a resistance its scale: a cell that leaks is tens of times the others."""
    if quantity == "polarisation":
        return
    axes.set_yscale("log")
    low, high = axes.get_ylim()
    inside = [value for value in _LOG_TICKS if low <= value <= high]
    axes.set_yticks(inside, [as_set(value) for value in inside])
    axes.minorticks_off()


def _group_keys(styles: dict[str, GroupStyle]) -> list[Line2D]:
    """Entries for the groups."""
    return [
        Line2D(
            [], [], color=s.colour, ls=s.line, marker=s.marker, ms=2.6, lw=0.8, label=short(g, 24)
        )
        for g, s in styles.items()
    ]


def _draw_cells(
    axes: Axes, data: ReportData, rows: list[Row], name: str, styles: dict[str, GroupStyle]
) -> None:
    """Draw one number of every cell over time."""
    valued = [row for row in rows if row[name] is not None]
    if not valued:
        say_in(axes, "no value")
    for cell, own in by(valued, "cell").items():
        style = styles[data.group_of[cell]]
        lines = axes.plot(
            numbers(own, "time_h"),
            numbers(own, name),
            color=style.colour,
            ls=style.line,
            marker=style.marker,
            markevery=[0, -1],
            ms=2.4,
            mew=0.4,
            mfc="white",
            lw=0.6,
        )
        of_cell(lines, cell)


def slopes(data: ReportData) -> list[Drawing | Absent]:
    """Draw the slope of every cell with its interval, grouped, a column a pair."""
    rows = where(data.rows["resistance_trends"], clock="hours")
    valued = [row for row in rows if row["slope"] is not None]
    if not valued:
        reasons = sorted({row["reason"] for row in rows if row["reason"]})
        said = reasons[0] if reasons else "no spectrum was accepted"
        return [Absent("resistance-slopes", f"No slopes of resistances: {said}.")]
    with_slope = {row["cell"] for row in valued}
    drawn = [cell for cell in data.cells if cell in with_slope and cell in data.drawn_cells]
    figure = new_figure(2.5)
    grid = panels(
        figure, 2, 3, margins=Margins(rows=0.14, top=0.4, columns=0.3, bottom=0.2), sharex=True
    )
    styles = group_styles(data.groups)
    for line, quantity in enumerate(_QUANTITIES):
        for column, pair in enumerate(PAIRS):
            axes = grid[line][column]
            own = {row["cell"]: row for row in where(valued, quantity=quantity, pair=pair)}
            _draw_slopes(axes, data, [own.get(cell) for cell in drawn], styles)
        grid[line][0].set_ylabel(f"{quantity}\n[Ω per 100 h]")
    for axes, title in zip(grid[0], PAIRS, strict=True):
        axes.set_title(title if title == "cell" else f"side of the {title}")
    key(figure, _group_keys(styles))
    return [
        Drawing(
            "resistance-slopes",
            figure,
            "Rise of the resistances per 100 h, one mark a cell in the order of groups, with "
            f"{data.confidence} intervals; limits beyond the frame are cut. Slopes are medians of "
            "those between all pairs of spectra, three at least; "
            "those of the polarisation rest on spectra at like potential. A side that dries "
            "out rises alone. From resistance_trends (slope, slope_lower, slope_upper)."
            f"{data.drawn_words}",
            "Slopes with intervals by cell and group; the numbers stand in the table.",
            [row for row in rows if row["cell"] in drawn],
        )
    ]


def _draw_slopes(
    axes: Axes, data: ReportData, rows: list[Row | None], styles: dict[str, GroupStyle]
) -> None:
    """Draw the slopes of one pair; a cell without one leaves its place empty."""
    axes.set_xticks([])
    axes.set_xlim(-0.8, len(rows) - 0.2)
    known = [(place, row) for place, row in enumerate(rows) if row is not None]
    if not known:
        say_in(axes, "no slope")
        return
    values = np.array([row["slope"] for _, row in known])
    axes.axhline(0, color=FAINT, lw=0.6, zorder=0)
    spread = float(np.ptp(values)) or abs(float(values[0])) or 1.0
    axes.set_ylim(min(0.0, values.min()) - 0.25 * spread, max(0.0, values.max()) + 0.25 * spread)
    for group, style in styles.items():
        own = [(place, row) for place, row in known if data.group_of[row["cell"]] == group]
        if not own:
            continue
        places = [place for place, _ in own]
        found = [row for _, row in own]
        cells = [row["cell"] for row in found]
        ends = numbers(found, "slope_lower"), numbers(found, "slope_upper")
        bars = axes.vlines(places, *ends, colors=style.colour, lw=0.6)
        points = axes.scatter(
            places,
            numbers(found, "slope"),
            s=2.8**2,
            marker=style.marker,
            facecolors="white",
            edgecolors=style.colour,
            linewidths=0.6,
            zorder=2.5,
        )
        each_of_a_cell(bars, cells)
        each_of_a_cell(points, cells)


SECTION = Section(
    "trends",
    "Impedance over life",
    resistances,
    {"trends": trends, "slopes": slopes},
    place=100,
    needs=SPECTRA,
)
