"""Survival by group: curves with their limits, and numbers at risk."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, numbers, where
from trivet.report.frame.marks import marks_in, of_groups
from trivet.report.frame.printed import PrintedColumn, PrintedTable, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
    SOFT,
    TIME_UNIT,
    Absent,
    Drawing,
    GroupStyle,
    Margins,
    below,
    group_styles,
    key,
    new_figure,
    panels,
    time_ticks,
)
from trivet.report.frame.wording import clock_unit, number, plural, short, shown

ENDPOINTS = ("cell", "reference")


def survival(data: ReportData) -> dict[str, Any]:
    """Numbers at risk of both endpoints, the primary one first."""
    primary = data.settings.comparison.primary_endpoint
    return {"primary": primary, "at_risk": _at_risk(data, [primary, *_others(primary)])}


def _others(primary: str) -> list[str]:
    """Endpoints that are not the primary one."""
    return [endpoint for endpoint in ENDPOINTS if endpoint != primary]


def _at_risk(data: ReportData, endpoints: list[str]) -> PrintedTable:
    """Numbers at risk, endpoints and groups down and times across."""
    rows = where(data.rows["at_risk"], clock=data.clock, factor=data.factor)
    times = sorted({row["time"] for row in rows})
    crossed = [
        {"endpoint": endpoint, "group": group} | {str(row["time"]): row["at_risk"] for row in own}
        for endpoint in endpoints
        for group in data.groups
        if (own := where(rows, endpoint=endpoint, group=group))
    ]

    def column(time: float) -> PrintedColumn:
        return made(number(time), lambda r: shown(r.get(str(time))), numeric=True)

    return print_table(
        crossed,
        [
            words("life of", "endpoint"),
            words(f"at risk at [{clock_unit(data.clock)}]", "group"),
            *(column(t) for t in times),
        ],
        caption="Numbers at risk: cells still followed. From at_risk.",
        reason="No numbers at risk: no lifetimes.",
        sources=("at_risk",),
        small=True,
    )


_PANELS_A_ROW = 3
_ENTRIES_A_ROW = 5


def answer_curves(data: ReportData) -> list[Drawing | Absent]:
    """Draw the curves of the primary endpoint on the primary clock, for page one."""
    return [_survival_of(data, data.settings.comparison.primary_endpoint, height_in=1.5)]


def survival_curves(data: ReportData) -> list[Drawing | Absent]:
    """Draw the curves of the other endpoint on the primary clock."""
    primary = data.settings.comparison.primary_endpoint
    return [_survival_of(data, endpoint) for endpoint in _others(primary)]


def _survival_of(data: ReportData, endpoint: str, height_in: float = 1.35) -> Drawing | Absent:
    """Draw one endpoint: a panel for each group that is compared, the control in each."""
    name = f"survival-{endpoint}"
    rows = where(data.rows["survival"], endpoint=endpoint, clock=data.clock, factor=data.factor)
    if not rows:
        return Absent(name, f"No survival curve of the endpoint {endpoint}: no lifetimes.")
    last = float(np.max(numbers(rows, "time")))
    if last <= 0.0:
        why = "none was followed beyond its start"
        return Absent(name, f"No survival curve of the endpoint {endpoint}: {why}.")
    groups = [group for group in data.groups if where(rows, group=group)]
    compared = [group for group in groups if group != data.control] or groups
    columns = min(_PANELS_A_ROW, max(len(compared), 2))
    lines = -(-len(compared) // columns)
    entries = -(-(len(groups) + 1) // _ENTRIES_A_ROW)
    top = 0.2 + 0.16 * entries
    figure = new_figure(top + (height_in if lines == 1 else 1.15) * lines)
    margins = Margins(top=top, bottom=0.36)
    grid = panels(figure, lines, columns, margins=margins, sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    styles = group_styles(data.groups)
    control = where(rows, group=data.control)
    for axes, group in zip(places, compared, strict=False):
        if control and group != data.control:
            _draw_group(axes, control, styles[data.control], filled=False)
            of_groups(marks_in(axes), data.control)
        drawn = len(marks_in(axes))
        _draw_group(axes, where(rows, group=group), styles[group], filled=True)
        of_groups(marks_in(axes)[drawn:], group)
        axes.set_title(_title(data, group, group != data.control and bool(control)))
        axes.set_ylim(0, 1.04)
        axes.set_xlim(0, 1.03 * last)
        clock_ticks(axes, data.clock, last)
    for axes in places[len(compared) :]:
        axes.set_visible(False)
    for line in grid:
        line[0].set_ylabel("share alive" if endpoint == "cell" else "share not lost")
    below(figure, f"{axis_unit(data.clock)} {_clock_words(endpoint)}")
    key(figure, _legend(groups, styles, data.control), columns=_ENTRIES_A_ROW)
    return Drawing(
        name,
        figure,
        f"Survival, endpoint {endpoint}: product-limit curves{_with_limits(data, rows)}. Marks: "
        "ends; upright ticks: cells last seen without an end. From survival (time, survival, "
        "beta_lower, beta_upper, lower, upper, censored).",
        f"Step curves of survival for {plural(len(groups), 'group')}, each beside the control; "
        "the numbers at risk stand in the section on survival, medians in that on lives by group.",
        rows,
    )


def _title(data: ReportData, group: str, beside: bool) -> str:
    """What a panel shows."""
    return f"{short(group, 22)} beside {short(data.control, 16)}" if beside else short(group, 30)


def _legend(groups: list[str], styles: dict[str, GroupStyle], control: str) -> list[Line2D]:
    """Entries for the groups and for cells without an end."""
    lines = [
        Line2D(
            [], [], color=styles[group].colour, ls=styles[group].line, lw=1.3,
            marker=styles[group].marker, ms=3.4, mfc="white",
            label=f"{short(group, 24)}{' (control)' if group == control else ''}",
        )
        for group in groups
    ]  # fmt: skip
    return [*lines, Line2D([], [], color=SOFT, marker="|", ms=6, lw=0, label="last seen, no end")]


def _clock_words(endpoint: str) -> str:
    """Where the clock of an endpoint starts."""
    return "since the clock of the cell started" if endpoint == "cell" else "since plating"


def clock_ticks(axes: Axes, clock: str, last: float) -> None:
    """Ticks that suit the clock."""
    if clock == "hours":
        time_ticks(axes, last)


def axis_unit(clock: str) -> str:
    """Unit of the axis of a clock: hours are shown as days."""
    return TIME_UNIT if clock == "hours" else clock_unit(clock)


def step_curve(axes: Axes, rows: list[Row], column: str, **style: object) -> None:
    """Draw a step curve that starts at time 0 with all cells."""
    time = np.append(0.0, numbers(rows, "time"))
    start = 1.0 if column == "survival" else 0.0
    axes.step(time, np.append(start, numbers(rows, column)), where="post", **style)  # type: ignore[arg-type]


def _limit(rows: list[Row], side: str) -> np.ndarray:
    """Limit of a curve for few cells; the log-log one where cells entered late."""
    few = numbers(rows, f"beta_{side}")
    return np.where(np.isnan(few), numbers(rows, side), few)


def _with_limits(data: ReportData, rows: list[Row]) -> str:
    """What is said of the limits of curves: where there are none, that there are none."""
    known = [_limit(rows, side) for side in ("lower", "upper")]
    if not np.any(np.isfinite(known)):
        return ", without limits: these ends are known only between checks"
    return (f" with their {data.confidence} limits, where they can be estimated (shaded for the "
            "group, dotted for the control)")  # fmt: skip


def _draw_group(axes: Axes, rows: list[Row], style: GroupStyle, *, filled: bool) -> None:
    """Draw one group with its limits, its ends and its cells without an end."""
    time = numbers(rows, "time")
    lower, upper = (_limit(rows, side) for side in ("lower", "upper"))
    if filled:
        axes.fill_between(time, lower, upper, step="post", color=style.colour, alpha=0.2, lw=0)
    else:
        for side in (lower, upper):
            axes.step(time, side, where="post", color=style.colour, lw=0.5, ls=(0, (1, 2)))
    step_curve(axes, rows, "survival", color=style.colour, lw=1.3, ls=style.line)
    for chosen, marker, size in (("events", style.marker, 3.4), ("censored", "|", 6)):
        own = [row for row in rows if row[chosen]]
        axes.plot(
            numbers(own, "time"),
            numbers(own, "survival"),
            marker,
            color=style.colour,
            mfc="white",
            ms=size,
            mew=0.9,
        )


SECTION = Section("survival", "Survival", survival, {"survival": survival_curves}, place=40)
