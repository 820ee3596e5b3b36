"""The electrodes: share of each in the polarisation, margin to lithium deposition."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.batch_lines import batch_key, batch_line
from trivet.report.frame.data import ReportData, Row, by, numbers
from trivet.report.frame.marks import of_cell
from trivet.report.frame.section import CYCLES, Section
from trivet.report.frame.style import (
    FAINT,
    SINCE_START,
    SOFT,
    WARNING,
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
    plural,
    short,
)


def electrodes(data: ReportData) -> dict[str, Any]:
    """What is said of the electrodes beside the figure."""
    return {"deposition": deposition(data)}


def deposition(data: ReportData) -> str:
    """Say how often lithium deposition was possible, by which numbers; empty where none tells."""
    if data.settings.electrodes.negative.material == "lithium":
        return "The negative is lithium: its minimum says nothing of deposition."
    trust, ohmic = data.settings.trust, data.settings.electrodes.negative_ohmic_ohm
    negative = {"electrode": "negative"}
    states = data.counted("electrode_cycles", ("lithium_deposition",), **negative)
    found = {row["lithium_deposition"]: row["rows"] for row in states}
    counts = {state: found.get(state, 0) for state in ("possible", "near", "no")}
    if not sum(counts.values()):
        return ""
    everyone = data.cells_in("electrode_cycles", **negative)
    corrected = data.cells_in("electrode_cycles", known="ohmic_ohm", **negative)
    how = "less the ohmic part, by the cell's own spectra"
    if ohmic is not None:
        how = f"less the ohmic part of {as_set(ohmic)} Ω"
    elif len(corrected) < len(everyone):
        how += f" in {len(corrected)} of {plural(len(everyone), 'cell')}, unknown in the others"
    return (
        f"Lowest potential of the negative in a cycle, {how}: below 0 V by more than "
        f"{as_set(trust.deposition_uncertainty_mV)} mV (lithium deposition possible, not proven) "
        f"in {plural(counts['possible'], 'cycle')}, below {as_set(trust.deposition_near_mV)} mV "
        f"(near) in {plural(counts['near'], 'cycle')}, else in {plural(counts['no'], 'cycle')}."
    )


_PANELS_A_ROW = 3


_ELECTRODE_POINTS_PRINTED = 250


def shares(data: ReportData) -> list[Drawing | Absent]:
    """Draw the positive's share in the polarisation of every cell, one panel a group."""
    rows = [
        row
        for row in _with_time(data, "positive", ("polarisation_share",))
        if row["polarisation_share"] is not None
    ]
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
    of_cell = by(rows, "cell")
    drawn: list[Row] = []
    for axes, group in zip(places, data.groups, strict=False):
        colour = group_styles(data.groups)[group].colour
        of_group = [row for cell in data.drawn[group] for row in of_cell.get(cell, [])]
        drawn += _draw_shares(axes, data, of_group, colour)
        if not of_group:
            say_in(axes, "no trusted reference\nin this group")
        axes.axhline(0.5, color=FAINT, lw=0.6)
        axes.set_title(short(group, 28))
        time_ticks(axes, last_h)
    for axes in places[len(data.groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("positive's share of\nthe polarisation of cycles")
    share_axis(grid[0][0], [row["polarisation_share"] for row in drawn])
    below(figure, SINCE_START)
    key(figure, batch_key(data))
    return [
        Drawing(
            "polarisation",
            figure,
            "The positive's share of the polarisation of cycles: of the hysteresis of "
            "charge-weighted mean potentials, ageing cycles, one line a cell; what is left to 1 is "
            "the negative's. Single values beyond the axis are cut; cycles of an untrusted "
            "reference are left out. From "
            f"electrode_cycles (polarisation_share), cycles (start_h, kind).{data.drawn_words}",
            f"Share against time for the groups {', '.join(data.groups)}.",
            drawn,
        )
    ]


def margin(data: ReportData) -> list[Drawing | Absent]:
    """Draw the lowest corrected potential of the negative over life, one panel a group."""
    if data.settings.electrodes.negative.material == "lithium":
        return []
    names = ("corrected_minimum_V", "corrected_minimum_error_mV")
    rows = [
        row | {"margin_mV": 1000.0 * row["corrected_minimum_V"]}
        for row in _with_time(data, "negative", names)
        if row["corrected_minimum_V"] is not None
    ]
    if not rows:
        reason = "No margin to lithium deposition: no cycle has a reference fit for potentials."
        return [Absent("deposition-margin", reason)]
    columns = min(_PANELS_A_ROW, len(data.groups))
    lines = -(-len(data.groups) // columns)
    figure = new_figure(0.6 + 2.3 * lines)
    margins = Margins(top=0.62, rows=0.5)
    grid = panels(figure, lines, columns, margins=margins, sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    of_cell = by(rows, "cell")
    styles, drawn = group_styles(data.groups), []
    for axes, group in zip(places, data.groups, strict=False):
        of_group = [row for cell in data.drawn[group] for row in of_cell.get(cell, [])]
        drawn += _draw_margins(axes, data, of_group, styles[group])
        if not of_group:
            say_in(axes, "no reference fit for\npotentials in this group")
        axes.set_title(short(group, 28))
        time_ticks(axes, float(max(numbers(rows, "start_h"))))
    for axes in places[len(data.groups) :]:
        axes.set_visible(False)
    for line in grid:
        line[0].set_ylabel("lowest potential of the\nnegative, corrected [mV]")
    _margin_axis(places[: len(data.groups)], data, drawn)
    below(figure, SINCE_START)
    key(figure, [*batch_key(data), *_limits()], columns=4)
    near = as_set(data.settings.trust.deposition_near_mV)
    return [
        Drawing(
            "deposition-margin",
            figure,
            "Margin to lithium deposition: lowest potential of the negative in each ageing cycle "
            "against lithium, without its ohmic part where that is known, one line a cell. Full "
            f"red line: 0 V, below which deposition is possible; broken: near, {near} mV. The "
            "mark at the last cycle has its interval of two standard errors, of offset, anchor, "
            "noise and ohmic part. Cycles without a reference fit for potentials are left out, "
            "single values beyond the axis are cut. From electrode_cycles (corrected_minimum_V, "
            f"corrected_minimum_error_mV), cycles (start_h, kind).{data.drawn_words}",
            f"Potential against time for the groups {', '.join(data.groups)}.",
            drawn,
        )
    ]


_NEAR: Any = (0, (4, 2))


def _limits() -> list[Line2D]:
    """Entries of the key for the mark and the limits."""
    return [
        Line2D([], [], color=SOFT, marker="o", ls="", ms=3, label="last cycle shown, ± 2 errors"),
        Line2D([], [], color=WARNING, lw=1.0, label="0 V: deposition possible below"),
        Line2D([], [], color=WARNING, lw=0.8, ls=_NEAR, label="near"),
    ]


def _draw_margins(axes: Axes, data: ReportData, rows: list[Row], style: GroupStyle) -> list[Row]:
    """Draw the cells of a group, a mark with its error at the last cycle; returns the rows."""
    drawn: list[Row] = []
    for kept in _draw_lines(axes, data, rows, "margin_mV", style.colour):
        last = kept[-1]
        mark = axes.errorbar(
            [last["start_h"]],
            [last["margin_mV"]],
            yerr=[2.0 * (last["corrected_minimum_error_mV"] or 0.0)],
            color=style.colour,
            marker=style.marker,
            ms=3,
            mfc="white",
            elinewidth=0.7,
            capsize=1.5,
        )
        of_cell([mark], last["cell"])
        names = ("cell", "cycle", "start_h", "margin_mV", "corrected_minimum_error_mV")
        drawn += [{name: row[name] for name in names} for row in kept]
    return drawn


def _margin_axis(places: list[Axes], data: ReportData, drawn: list[Row]) -> None:
    """Limits in every panel, and an axis that shows them and nearly all that was found."""
    near_mV = data.settings.trust.deposition_near_mV
    for axes in places:
        axes.axhline(0.0, color=WARNING, lw=1.0)
        axes.axhline(near_mV, color=WARNING, lw=0.8, ls=_NEAR)
    low, high = np.percentile(numbers(drawn, "margin_mV"), [0.5, 99.0])
    room = 0.08 * (max(high, near_mV) - min(low, 0.0))
    places[0].set_ylim(min(low, 0.0) - room, max(high, near_mV) + room)


def share_axis(axes: Axes, values: list[float]) -> None:
    """Let an axis of shares span nearly all that was found, and one half; never beyond 0 and 1.

    A cell at its end throws single shares far off; these are cut.
    """
    inner = np.percentile(values, [1.0, 99.0]) if values else [0.5, 0.5]
    low, high = min(float(inner[0]), 0.5), max(float(inner[1]), 0.5)
    room = 0.1 * (high - low) or 0.1
    axes.set_ylim(max(0.0, low - room), min(1.0, high + room))


def _with_time(data: ReportData, electrode: str, names: Sequence[str]) -> list[Row]:
    """Columns of an electrode in ageing cycles of drawn cells, with the time of each cycle."""
    cells = data.drawn_cells
    columns = ("cell", "cycle", "kind", "start_h")
    cycles = {(row["cell"], row["cycle"]): row for row in data.some("cycles", columns, cells=cells)}
    found = []
    wanted = ("cell", "cycle", *names)
    for row in data.some("electrode_cycles", wanted, cells=cells, electrode=electrode):
        cycle = cycles.get((row["cell"], row["cycle"]))
        if cycle is not None and cycle["kind"] == "ageing":
            found.append(row | {"start_h": cycle["start_h"]})
    return found


def _draw_shares(axes: Axes, data: ReportData, rows: list[Row], colour: str) -> list[Row]:
    """Draw the cells of a group; returns the rows drawn."""
    drawn: list[Row] = []
    for kept in _draw_lines(axes, data, rows, "polarisation_share", colour):
        names = ("cell", "cycle", "start_h", "polarisation_share")
        drawn += [{name: row[name] for name in names} for row in kept]
    return drawn


def _draw_lines(
    axes: Axes, data: ReportData, rows: list[Row], name: str, colour: str
) -> Iterator[list[Row]]:
    """Draw a column over time, a line a cell; yields the rows drawn of each."""
    for cell, own in by(rows, "cell").items():
        kept = _thinned(own)
        line = batch_line(data, data.batch_of[cell])
        hours = numbers(kept, "start_h")
        of_cell(axes.plot(hours, numbers(kept, name), color=colour, ls=line, lw=0.8), cell)
        yield kept


def _thinned(rows: list[Row]) -> list[Row]:
    """As many rows as print shows, the last among them."""
    step = max(-(-len(rows) // _ELECTRODE_POINTS_PRINTED), 1)
    return [*rows[:-1:step], *rows[-1:]]


SECTION = Section(
    "electrodes",
    "Electrodes: margin and polarisation",
    electrodes,
    {"margin": margin, "polarisation": shares},
    place=90,
    needs=CYCLES,
)
