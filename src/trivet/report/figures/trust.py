"""Trust of every reference over time, on one page, with the checks that took it away."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, numbers, where
from trivet.report.frame.style import (
    FAINT,
    INK,
    SOFT,
    WARNING,
    Absent,
    Drawing,
    Margins,
    key,
    new_figure,
    panels,
    week_ticks,
)
from trivet.report.frame.wording import short

_STATES: dict[str, tuple[str, float]] = {
    "trusted": ("#2f7d74", 3.4),
    "suspect": ("#c4872f", 2.0),
    "lost": (WARNING, 0.8),
    "unknown": (SOFT, 0.8),
    "not plated": (FAINT, 0.8),
}
"""Colour and width of the line [pt]: the better the trust, the heavier."""

_MARKERS = {
    "offset": "o",
    "drift": "^",
    "jump": "|",
    "closure": "s",
    "noise": "D",
    "charge left": "v",
    "soft short": "X",
}
_HEIGHT_PER_CELL_IN = 0.2
_MOST_CELLS = 36


def timelines(data: ReportData) -> list[Drawing | Absent]:
    """Draw one line a cell, its state of trust, and the first failure of each check."""
    spans = where(data.rows["timeline"], track="reference")
    if not spans:
        return [Absent("reference-timelines", "No timelines: no reference has a state.")]
    ordered = [cell for group in data.groups for cell in data.cells_of(group)]
    parts = [ordered[at : at + _MOST_CELLS] for at in range(0, len(ordered), _MOST_CELLS)]
    return [
        _one_page(data, spans, cells, "" if len(parts) == 1 else f"-{number}")
        for number, cells in enumerate(parts, start=1)
    ]


def _one_page(data: ReportData, spans: list[Row], cells: list[str], ending: str) -> Drawing:
    """Draw some cells."""
    figure = new_figure(0.95 + _HEIGHT_PER_CELL_IN * len(cells))
    axes = panels(figure, 1, 1, margins=Margins(left=1.25, top=0.46, bottom=0.4))[0][0]
    shown = [row for row in spans if row["cell"] in cells]
    bad = _first_failures(data, cells)
    for place, cell in enumerate(cells):
        _draw_cell(axes, place, where(shown, cell=cell), where(bad, cell=cell))
    labels = [f"{short(cell, 12)}  ·  {short(data.group_of[cell], 12)}" for cell in cells]
    axes.set_yticks(range(len(cells)), labels)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(cells) - 0.3, -0.7)
    week_ticks(axes, max((row["end_h"] for row in shown), default=1.0))
    axes.set_xlabel("hours since the clock start of the cell")
    axes.spines["left"].set_visible(False)
    key(figure, _legend(shown, bad))
    return Drawing(
        f"reference-timelines{ending}",
        figure,
        "Trust of every reference over time, one line a cell, the heavier the better. Marks: the "
        "first time that each check was beyond its limit. From timeline (state, start_h, end_h) "
        "and reference_checks (time_h, check, trust).",
        f"One horizontal line for each of {len(cells)} cells; the table of references beneath has "
        "the last state of each.",
        [{name: row[name] for name in ("cell", "state", "start_h", "end_h")} for row in shown],
    )


def _first_failures(data: ReportData, cells: list[str]) -> list[Row]:
    """First check of each kind and cell beyond a limit, in order of time."""
    found: dict[tuple[str, str], Row] = {}
    for row in sorted(data.rows["reference_checks"], key=lambda r: r["time_h"]):
        if row["cell"] in cells and row["trust"] in ("suspect", "lost"):
            found.setdefault((row["cell"], row["check"]), row)
    return list(found.values())


def _draw_cell(axes: Axes, place: int, spans: list[Row], bad: list[Row]) -> None:
    """Draw the line of one cell and its marks."""
    for state, (colour, width) in _STATES.items():
        own = where(spans, state=state)
        dotted = state in ("unknown", "not plated")
        axes.hlines(
            [place] * len(own),
            numbers(own, "start_h"),
            numbers(own, "end_h"),
            colors=colour,
            lw=width,
            linestyles="dotted" if dotted else "solid",
        )
    for row in bad:
        marker = _MARKERS.get(row["check"], "*")
        axes.plot([row["time_h"]], [place], marker, color=INK, mfc="white", ms=4, mew=0.8, zorder=4)


def _legend(spans: list[Row], bad: list[Row]) -> list[Line2D]:
    """Entries for the states and checks that occur."""
    states = {row["state"] for row in spans}
    checks = {row["check"] for row in bad}
    lines = [
        Line2D([], [], color=colour, lw=width, label=state)
        for state, (colour, width) in _STATES.items()
        if state in states
    ]
    return lines + [
        Line2D([], [], color=INK, marker=marker, mfc="white", ms=4, lw=0, label=check)
        for check, marker in _MARKERS.items()
        if check in checks
    ]
