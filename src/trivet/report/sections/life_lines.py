"""Life lines: every cell from its clock start to its end, with the trust of its reference."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.marks import each_of_a_cell, of_cell
from trivet.report.frame.section import Section, count_cells
from trivet.report.frame.style import (
    CAUSE_MARKERS,
    FAINT,
    INK,
    SINCE_START,
    SOFT,
    WARNING,
    Absent,
    Drawing,
    Margins,
    key,
    new_figure,
    panels,
    time_ticks,
)
from trivet.report.frame.wording import short
from trivet.report.sections.life_cohort import life_cohort

CELLS_PER_FIGURE = 32


MOST_CELLS_DRAWN = 64
"""Cells beyond this many are drawn as thin lines in one figure."""


_HEIGHT_PER_ROW_IN = 0.225


_PHASES = {
    "rest": ("#dfe3e6", 0.16),
    "formation": ("#9fb0bf", 0.30),
    "ageing": ("#5d7388", 0.30),
    "check-up": ("#16283a", 0.42),
    "rate test": ("#8b7fa6", 0.36),
    "partial": ("#c2ccd5", 0.30),
}


_TRUST = {"trusted": ("#2f7d74", 0.13), "suspect": ("#c4872f", 0.07)}


_STRIPS = (
    "Upper strip: what was done. Lower strip: trust of the reference; its height falls with trust. "
)
_TICKS = "Ticks above: spectra. "
_TIMELINE, _SPECTRA = "timeline (track, state, start_h, end_h), ", "spectra (time_h), "
"""What the caption says of what only measured cells have."""


def life_lines(data: ReportData) -> list[Drawing | Absent]:
    """Draw every cell of the campaign, those without data too; one figure of lives where many."""
    ordered = list(data.cells)
    if not data.rows["timeline"] and not data.rows["lifetimes"]:
        return [Absent("life-lines", "No life lines: no cell has data.")]
    if len(ordered) > MOST_CELLS_DRAWN:
        if not any(row["duration"] is not None for row in data.rows["lifetimes"]):
            return [Absent("life-lines", "No life lines: no cell has a life in hours.")]
        return [life_cohort(data, "life-lines")]
    parts = [
        ordered[first : first + CELLS_PER_FIGURE]
        for first in range(0, len(ordered), CELLS_PER_FIGURE)
    ]
    return [
        _one_figure(data, cells, "life-lines" if len(parts) == 1 else f"life-lines-{place}")
        for place, cells in enumerate(parts, start=1)
    ]


def _one_figure(data: ReportData, cells: list[str], name: str) -> Drawing:
    """Draw the life lines of some cells."""
    places = _places(data, cells)
    bottom = max(places.values())
    figure = new_figure(0.9 + _HEIGHT_PER_ROW_IN * (bottom + 1.5))
    axes = panels(figure, 1, 1, margins=Margins(left=0.95, top=0.46, bottom=0.4))[0][0]
    spans = [row for row in data.rows["timeline"] if row["cell"] in places]
    lives = _lives(data, places)
    last = max([row["end_h"] for row in spans] + [row["duration"] or 0.0 for row in lives] + [1.0])
    _draw_plain(axes, lives, spans, places)
    _draw_phases(axes, spans, places)
    _draw_trust(axes, spans, places)
    _draw_check_ups(axes, data, places)
    for row in where(data.rows["cells"]):
        if row["cell"] in places:
            _draw_end(axes, data, row, places)
    _label_rows(axes, data, places)
    axes.set_ylim(bottom + 0.8, -1.4)
    axes.set_xlim(-0.005 * last, 1.24 * last)  # room for the longest word at an end
    time_ticks(axes, last)
    axes.set_xlabel(SINCE_START)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    key(figure, _legend(spans))
    return Drawing(
        name,
        figure,
        f"Life lines of all cells, included or not. {_STRIPS if spans else ''}"
        f"{_TICKS if data.rows['spectra'] else ''}The symbol and the word at the end tell the "
        "cause; an arrow means that the end was not seen. "
        f"From {_TIMELINE if spans else ''}{_SPECTRA if data.rows['spectra'] else ''}lifetimes "
        "(duration, observed, cause) and cells (status).",
        f"One horizontal line for each of {len(cells)} cells, by group, with what is known of "
        "phases, trust of the reference, times of spectra and the end. The table of lifetimes has "
        "the same ends.",
        [
            {name: row[name] for name in ("cell", "track", "state", "start_h", "end_h")}
            for row in spans
        ]
        or [
            {name: row[name] for name in ("cell", "duration", "observed", "cause")} for row in lives
        ],
    )


def _places(data: ReportData, cells: list[str]) -> dict[str, float]:
    """Vertical place of each cell; a gap before each group leaves room for its name."""
    places: dict[str, float] = {}
    place, group = -1.0, None
    for cell in cells:
        own = data.group_of[cell]
        place += 1.0 if own == group or group is None else 1.9
        group = own
        places[cell] = place
    return places


def _lives(data: ReportData, places: dict[str, float]) -> list[Row]:
    """Lifetimes of the endpoint `cell` in hours."""
    rows = where(data.rows["lifetimes"], endpoint="cell", clock="hours")
    return [row for row in rows if row["cell"] in places]


def _bars(axes: Axes, spans: list[Row], tops: np.ndarray, height: float, colour: str) -> None:
    """Draw spans as filled bars in one piece."""
    starts, ends = numbers(spans, "start_h"), numbers(spans, "end_h")
    corners = [[starts, tops], [ends, tops], [ends, tops + height], [starts, tops + height]]
    bars = np.array(corners).transpose(2, 0, 1)
    drawn = PolyCollection(list(bars), facecolors=colour, linewidths=0)
    each_of_a_cell(drawn, [row["cell"] for row in spans])
    axes.add_collection(drawn)


def _draw_plain(axes: Axes, lives: list[Row], spans: list[Row], places: dict[str, float]) -> None:
    """Draw a line for each life of which only its length is known."""
    followed = {row["cell"] for row in spans}
    own = [row for row in lives if row["duration"] and row["cell"] not in followed]
    heights = [places[row["cell"]] - 0.12 for row in own]
    lines = axes.hlines(heights, 0.0, [row["duration"] for row in own], colors=SOFT, lw=1.0)
    each_of_a_cell(lines, [row["cell"] for row in own])


def _draw_phases(axes: Axes, spans: list[Row], places: dict[str, float]) -> None:
    """Draw the upper strip."""
    for state, (colour, height) in _PHASES.items():
        own = where(spans, track="phase", state=state)
        if own:
            middles = np.array([places[row["cell"]] for row in own]) - 0.12
            _bars(axes, own, middles - height / 2, height, colour)


def _draw_trust(axes: Axes, spans: list[Row], places: dict[str, float]) -> None:
    """Draw the lower strip; height and line tell the states apart without colour."""
    for state, own in by(where(spans, track="reference"), "state").items():
        bases = np.array([places[row["cell"]] for row in own]) + 0.31
        starts, ends = numbers(own, "start_h"), numbers(own, "end_h")
        cells = [row["cell"] for row in own]
        if state in _TRUST:
            colour, height = _TRUST[state]
            _bars(axes, own, bases - height, height, colour)
        elif state == "lost":
            each_of_a_cell(axes.hlines(bases - 0.02, starts, ends, colors=WARNING, lw=0.6), cells)
            crosses = axes.scatter(
                starts, bases - 0.06, s=3.2**2, marker="x", color=WARNING, lw=0.8, zorder=2.0
            )
            each_of_a_cell(crosses, cells)
        elif state == "unknown":
            dots: Any = (0, (1, 2))
            each_of_a_cell(
                axes.hlines(bases - 0.03, starts, ends, colors=SOFT, lw=0.7, linestyles=dots), cells
            )


def _draw_check_ups(axes: Axes, data: ReportData, places: dict[str, float]) -> None:
    """Mark the times of spectra."""
    times = {
        (row["cell"], row["time_h"])
        for row in data.some("spectra", ("cell", "time_h"), cells=places)
        if row["time_h"] is not None
    }
    tops = [places[cell] - 0.46 for cell, _ in sorted(times)]
    bottoms = [places[cell] - 0.34 for cell, _ in sorted(times)]
    ticks = axes.vlines([time for _, time in sorted(times)], tops, bottoms, colors=INK, lw=0.7)
    each_of_a_cell(ticks, [cell for cell, _ in sorted(times)])


def _draw_end(axes: Axes, data: ReportData, cell: Row, places: dict[str, float]) -> None:
    """Draw the symbol at the end of a line and say the cause beside it."""
    place = places[cell["cell"]] - 0.12
    lives = where(data.of_cell("lifetimes", cell["cell"]), endpoint="cell", clock="hours")
    life = lives[0] if lives else None
    time = 0.0 if life is None or life["duration"] is None else life["duration"]
    if life is not None and life["observed"]:
        marker = CAUSE_MARKERS.get(life["cause"], "*")
        mark = axes.plot([time], [place], marker, color=INK, mfc="white", ms=5, mew=0.9, zorder=5)
        of_cell(mark, cell["cell"])
        words, colour = life["cause"], INK
    else:
        words, colour = _why_censored(cell, life), SOFT
        if time > 0:
            of_cell(axes.plot([time], [place], ">", color=SOFT, ms=4, zorder=5), cell["cell"])
    last = max((row["end_h"] for row in data.of_cell("timeline", cell["cell"])), default=0.0)
    said = axes.annotate(
        short(words, 24),
        (max(time, last), place),
        xytext=(5, 0),
        textcoords="offset points",
        va="center",
        fontsize=6.8,
        color=colour,
    )
    of_cell([said], cell["cell"])


def _why_censored(cell: Row, life: Row | None) -> str:
    """Word beside a line whose end was not seen."""
    if not cell["included"]:
        return "excluded"
    if life is None or not life["censored_because"]:
        return str(cell["status"])
    return str(life["censored_because"])


def _label_rows(axes: Axes, data: ReportData, places: dict[str, float]) -> None:
    """Write cell and batch at the left, and the group above its first cell."""
    axes.set_yticks(
        list(places.values()),
        [f"{short(cell, 14)}  ·  {short(data.batch_of[cell], 10)}" for cell in places],
    )
    group = None
    for cell, place in places.items():
        if data.group_of[cell] != group:
            group = data.group_of[cell]
            axes.axhline(place - 0.62, color=FAINT, lw=0.6)
            axes.text(
                0,
                place - 0.72,
                f"{short(data.factor, 30)}: {short(group, 40)}",
                va="bottom",
                weight="semibold",
                fontsize=7.5,
            )


def _legend(spans: list[Row]) -> list[Patch | Line2D]:
    """Entries for the states that occur."""
    states = {(row["track"], row["state"]) for row in spans}
    entries: list[Patch | Line2D] = [
        Patch(color=colour, lw=0, label=state)
        for state, (colour, _) in _PHASES.items()
        if ("phase", state) in states
    ]
    for state, (colour, height) in _TRUST.items():
        if ("reference", state) in states:
            line = Line2D([], [], color=colour, lw=28 * height, label=f"reference {state}")
            line.set_solid_capstyle("butt")
            entries.append(line)
    if ("reference", "lost") in states:
        entries.append(
            Line2D([], [], color=WARNING, lw=0.6, marker="x", ms=3.2, label="reference lost")
        )
    if ("reference", "unknown") in states:
        entries.append(
            Line2D([], [], color=SOFT, lw=0.7, ls=(0, (1, 2)), label="reference unknown")
        )
    return entries


SECTION = Section("life_lines", "Life lines", count_cells, {"life_lines": life_lines}, place=20)
