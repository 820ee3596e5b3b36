"""Appendix: a page for each cell with its ends and its findings."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.offset_limits import OffsetLimits, offset_limits
from trivet.report.frame.printed import print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
    FAINT,
    FULL_WIDTH_IN,
    INK,
    SINCE_START,
    SOFT,
    TIME_UNIT,
    WARNING,
    Absent,
    Drawing,
    group_styles,
    new_figure,
    say_in,
    time_ticks,
)
from trivet.report.frame.wording import as_set, plural, shown
from trivet.report.sections.appendix.all_findings import alike_together
from trivet.report.sections.appendix.lifetime import duration
from trivet.report.sections.cycling import span_of_working
from trivet.report.sections.findings import SEVERITIES
from trivet.report.sections.reference import is_offset, mend_scale

_LISTED = 10
"""Findings that leave a cell on one page."""


def pages(data: ReportData) -> dict[str, Any]:
    """Heading, ends and findings of each cell, in the order of its figures."""
    built = {row["cell"]: row for row in data.rows["cells"]}
    return {"cells": [_cell(data, built[cell]) for cell in data.cells]}


def _cell(data: ReportData, row: Row) -> dict[str, Any]:
    """What stands beside the figure of one cell."""
    cell = row["cell"]
    lives = where(data.rows["lifetimes"], cell=cell, clock="hours")
    own = where(data.rows["findings"], cell=cell)
    found = alike_together(sorted(own, key=lambda finding: SEVERITIES.index(finding["severity"])))
    rest = len(found) - _LISTED
    more = f"; {plural(rest, 'further one')} of no higher severity" if rest > 0 else ""
    return {
        "name": cell,
        "heading": f"{cell}: {row['group']}, batch {row['batch']}, {row['status']}",
        "lives": [
            f"{life['endpoint']} life {duration([life])} h: {shown(life['evidence'])}"
            for life in lives
        ],
        "findings": print_table(
            found[:_LISTED],
            [
                words("severity", "severity"),
                words("check", "check"),
                words("what was noticed", "message"),
                words("what was done", "action"),
            ],
            caption=f"Findings on {cell}, the gravest first{more}. From findings.",
            reason=f"No findings on {cell}.",
            sources=("findings",),
            small=True,
        ),
    }


_HEIGHT_IN = 5.4


_STATES = {
    "rest": "#dfe3e6",
    "formation": "#9fb0bf",
    "ageing": "#5d7388",
    "check-up": "#16283a",
    "rate test": "#8b7fa6",
    "partial": "#c2ccd5",
    "trusted": "#2f7d74",
    "suspect": "#c4872f",
    "lost": WARNING,
}


_SPECTRUM_LINES = {"cell": "solid", "positive": (0, (4, 1.4)), "negative": (0, (1.1, 1.1))}


_TABLES = ("timeline", "cycles", "electrode_cycles", "reference_checks", "spectrum_curves")


def cell_pages(data: ReportData) -> list[Drawing | Absent]:
    """Draw every cell of the campaign, where the settings ask for pages of cells."""
    if not data.settings.report.cell_pages:
        return []
    styles, limits = group_styles(data.groups), offset_limits(data)
    return [
        _page(
            cell,
            {name: data.of_cell(name, cell) for name in _TABLES},
            styles[data.group_of[cell]].colour,
            limits,
        )
        for cell in data.cells
    ]


def _page(
    cell: str, rows: dict[str, list[Row]], colour: str, limits: OffsetLimits
) -> Drawing | Absent:
    """Draw one cell; a reason where it has no rows at all."""
    name = f"cell-{cell}"
    if not rows["timeline"] and not rows["cycles"]:
        return Absent(name, f"No rows of {cell}: nothing can be drawn.")
    figure = new_figure(_HEIGHT_IN)
    strip, capacity, potentials, offsets, spectra = _places(figure)
    last = max([row["end_h"] for row in rows["timeline"]] + [1.0])
    _draw_strip(strip, rows["timeline"], last)
    _draw_capacity(capacity, rows["cycles"], colour)
    _draw_potentials(potentials, rows, last)
    _draw_offsets(offsets, rows["reference_checks"], limits, last)
    drawn = _draw_spectra(spectra, rows["spectrum_curves"])
    ends = ("cell", "cycle", "discharge_capacity_mAh", "retention", "start_h")
    return Drawing(
        name,
        figure,
        f"Cell {cell}. Strip: what was done, below it the trust of the reference. Capacity: "
        "complete ageing cycles (line), check-up and formation (rings). Potentials: mean of each "
        "charge; shaded where the reference was not trusted, so that they are withheld. Offset: "
        f"every check, with the limits in use, {as_set(limits.suspect_mV)} and "
        f"{as_set(limits.lost_mV)} mV. Spectra: the first (grey) and the last (dark) of the cell "
        "(full line), the positive (broken) and the negative (dotted), as far as not withheld. "
        "From timeline, cycles, electrode_cycles, reference_checks (value), spectrum_curves.",
        f"Five panels of the cell {cell}: phases and trust, capacity, potentials, offset of the "
        f"reference, {len(drawn)} spectra.",
        [{key: row[key] for key in ends} for row in rows["cycles"]],
    )


def _places(figure: Figure) -> list[Axes]:
    """Give a strip across and four panels below it."""
    width, height = FULL_WIDTH_IN, float(figure.get_size_inches()[1])
    boxes = [
        (0.62, height - 0.72, width - 0.72, 0.55),
        (0.62, height - 2.82, 2.6, 1.6),
        (3.98, height - 2.82, 2.6, 1.6),
        (0.62, 0.42, 2.6, 1.6),
        (3.98, 0.42, 2.6, 1.6),
    ]
    return [
        figure.add_axes((left / width, bottom / height, wide / width, high / height))
        for left, bottom, wide, high in boxes
    ]


def _draw_strip(axes: Axes, spans: list[Row], last_h: float) -> None:
    """Draw phases above and trust below."""
    for track, floor in (("phase", 1.1), ("reference", 0.0)):
        for row in where(spans, track=track):
            colour = _STATES.get(row["state"], FAINT)
            wide = row["end_h"] - row["start_h"]
            axes.broken_barh([(row["start_h"], wide)], (floor, 0.8), color=colour, lw=0)
    axes.set_yticks([0.4, 1.5], ["trust", "done"])
    axes.set_ylim(0, 2)
    axes.set_xlim(0, last_h)
    time_ticks(axes, last_h)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    said = dict.fromkeys(row["state"] for row in where(spans, track="reference"))
    axes.set_title(f"{SINCE_START}; reference: {', then '.join(said) or 'no check'}")


def _draw_capacity(axes: Axes, cycles: list[Row], colour: str) -> None:
    """Draw capacity against cycle."""
    whole = where(cycles, complete=1)
    slow = [row for row in whole if row["kind"] in ("check-up", "formation")]
    for rows, look in ((where(whole, kind="ageing"), "-"), (slow, "o")):
        axes.plot(
            numbers(rows, "cycle"), numbers(rows, "discharge_capacity_mAh"), look,
            color=colour, mfc="white", ms=2.6, mew=0.6, lw=0.9,
        )  # fmt: skip
    axes.set_title("discharge capacity [mAh]")
    axes.set_xlabel("cycle", labelpad=1)
    largest = max((row["discharge_capacity_mAh"] or 0.0 for row in whole), default=0.0)
    span_of_working(axes, whole, "discharge_capacity_mAh", dead=0.4 * largest)
    if not whole:
        say_in(axes, "no complete cycle")


def _draw_potentials(axes: Axes, rows: dict[str, list[Row]], last_h: float) -> None:
    """Draw mean charge potentials of both electrodes over time, shaded where not trusted."""
    starts = {row["cycle"]: row["start_h"] for row in rows["cycles"]}
    for electrode, line in (("positive", "solid"), ("negative", (0, (4, 1.4)))):
        own = where(rows["electrode_cycles"], electrode=electrode)
        hours = [starts.get(row["cycle"]) for row in own]
        axes.plot(
            [float("nan") if hour is None else hour for hour in hours],
            numbers(own, "mean_charge_potential_V"), color=INK, ls=line, lw=0.9, label=electrode,
        )  # fmt: skip
    for row in where(rows["timeline"], track="reference"):
        if row["state"] != "trusted":
            axes.axvspan(row["start_h"], row["end_h"], color=_STATES.get(row["state"], FAINT),
                         alpha=0.25, lw=0)  # fmt: skip
    axes.set_title("mean charge potentials [V]")
    axes.set_xlabel(TIME_UNIT, labelpad=1)
    axes.set_xlim(0, last_h)
    time_ticks(axes, last_h)
    if any(row["mean_charge_potential_V"] is not None for row in rows["electrode_cycles"]):
        axes.legend(loc="center right")
    else:
        say_in(axes, "withheld or not measured")


def _draw_offsets(axes: Axes, checks: list[Row], limits: OffsetLimits, last_h: float) -> None:
    """Draw the offsets of the reference with both limits."""
    own = [row for row in checks if is_offset(row)]
    axes.axhspan(-limits.suspect_mV, limits.suspect_mV, color=FAINT, alpha=0.35, lw=0)
    for limit in (-limits.lost_mV, limits.lost_mV):
        axes.axhline(limit, color=WARNING, lw=0.6, ls=(0, (4, 2)))
    axes.plot(numbers(own, "time_h"), numbers(own, "value"), "o-", color=INK, ms=2.4, lw=0.6)
    axes.set_yscale("symlog", linthresh=limits.lost_mV, linscale=1.6)
    axes.set_title("offset of the reference [mV]")
    axes.set_xlabel(TIME_UNIT, labelpad=1)
    axes.set_xlim(0, last_h)
    time_ticks(axes, last_h)
    values = [row["value"] for row in own] or [0.0]
    mend_scale(axes, values, limits.suspect_mV, limits.lost_mV)
    if not own:
        say_in(axes, "no offset could be checked")


def _draw_spectra(axes: Axes, curves: list[Row]) -> list[Row]:
    """Draw first and last spectrum of each pair; returns one row of each drawn."""
    drawn = []
    for pair, line in _SPECTRUM_LINES.items():
        spectra = by([r for r in where(curves, pair=pair) if r["real_ohm"] is not None], "spectrum")
        ends = dict.fromkeys(list(spectra)[:1] + list(spectra)[-1:])
        for place, spectrum in enumerate(ends):
            points = spectra[spectrum]
            only = len(ends) == 1 or place
            axes.plot(
                numbers(points, "real_ohm"), -numbers(points, "imaginary_ohm"),
                color=INK if only else SOFT, ls=line, lw=0.8,
            )  # fmt: skip
            drawn.append(points[0])
    axes.set_title("−imaginary against real part [Ω]")
    axes.set_aspect("equal", adjustable="datalim")
    if not drawn:
        say_in(axes, "no spectrum, or all withheld")
    return drawn


def wanted(data: ReportData) -> bool:
    """Whether the settings ask for them."""
    return data.settings.report.cell_pages


SECTION = Section(
    "cell_pages", "Pages of the cells", pages, {"cell_pages": cell_pages}, place=200, printed=wanted
)
