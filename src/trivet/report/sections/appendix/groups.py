"""Lives by group: medians and means, causes, probability plot."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, NullFormatter, NullLocator

from trivet.report.frame.data import ReportData, Row, numbers, where
from trivet.report.frame.marks import marks_in, of_groups
from trivet.report.frame.printed import made, print_table
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
    Absent,
    Drawing,
    GroupStyle,
    Margins,
    below,
    group_styles,
    key,
    new_figure,
    panels,
    remark_in,
    say_in,
)
from trivet.report.frame.wording import (
    MISSING,
    clock_unit,
    interval,
    is_missing,
    median,
    number,
    short,
)
from trivet.report.sections.survival import axis_unit, clock_ticks, step_curve

_PANELS_A_ROW = 3


def lives_by_group(data: ReportData) -> dict[str, Any]:
    """Summary of each group, in the order of the figures."""
    primary_first = sorted(
        data.rows["life_summary"],
        key=lambda r: (
            r["endpoint"] != data.settings.comparison.primary_endpoint,
            r["clock"] != data.clock,
            r["factor"] != data.factor,
            data.place_of(r["group"]),
        ),
    )
    return {
        "groups": print_table(
            primary_first,
            [
                made("life of, in", lambda r: f"{r['endpoint']}, {clock_unit(r['clock'])}"),
                made("group", lambda r: f"{r['factor']}: {r['group']}"),
                made("cells ended", lambda r: f"{r['events']} of {r['cells']}", numeric=True),
                made("median (limits)", median, numeric=True),
                made("restricted mean ± standard error", _restricted, numeric=True),
                made("Weibull shape (limits)", lambda r: _limits(r, "weibull_shape"), numeric=True),
                made("one in ten ended by", lambda r: _limits(r, "b10"), numeric=True),
            ],
            caption="Lives by group, with "
            f"{data.confidence} limits. 'Not reached': the curve, or its "
            "limit, does not fall to one half before the last cell was seen. Restricted means "
            "reach to the shortest follow-up of the groups; they are descriptive, since "
            "their errors are "
            "too small for few cells. The Weibull description takes all causes and batches "
            "together, needs three ends, reaches beyond the data and is descriptive for few cells. "
            "From life_summary.",
            reason="No summary: no included cell has a life.",
            sources=("life_summary",),
            small=True,
        ),
    }


def _restricted(row: Row) -> str:
    """Restricted mean with its error and the time it reaches to."""
    if is_missing(row["restricted_mean"]):
        return MISSING
    if not row["events"]:
        return f"no end seen up to {number(row['restriction_time'])}"
    return (
        f"{number(row['restricted_mean'])} ± {number(row['restricted_mean_se'], 2)} "
        f"up to {number(row['restriction_time'])}"
    )


def _limits(row: Row, name: str) -> str:
    """Value with its limits in brackets."""
    if is_missing(row[name]):
        return MISSING
    return f"{number(row[name])} ({interval(row[f'{name}_lower'], row[f'{name}_upper'])})"


_CAUSE_LINES = ("solid", (0, (5, 1.5)), (0, (1.2, 1.2)), (0, (6, 1.5, 1.2, 1.5)), (0, (2.6, 1.2)))


_CAUSE_COLOURS = ("#22282f", "#9c3b24", "#3f8f86", "#c4872f", "#7d86b8")


def causes(data: ReportData) -> list[Drawing | Absent]:
    """Draw the cumulative incidence of each cause, one panel a group, for the cell's end."""
    rows = where(data.rows["causes"], endpoint="cell", clock=data.clock, factor=data.factor)
    if not rows:
        return [Absent("causes", "No cumulative incidence: no end of a cell was seen.")]
    names = sorted({row["cause"] for row in rows})
    groups = list(data.groups)
    lines = -(-len(groups) // _PANELS_A_ROW)
    figure = new_figure(0.5 + 1.8 * lines)
    grid = panels(figure, lines, _PANELS_A_ROW, sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    last = float(np.max(numbers(rows, "time")))
    for axes, group in zip(places, groups, strict=False):
        _draw_causes(axes, where(rows, group=group), names, last)
        of_groups(marks_in(axes), group)
        axes.set_title(short(group, 30))
        axes.set_ylim(0, 1.04)
        axes.set_xlim(0, 1.05 * last)
        clock_ticks(axes, data.clock, last)
    for axes in places[len(groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("cumulative incidence")
    below(figure, f"{axis_unit(data.clock)} since the clock of the cell started")
    key(figure, _cause_legend(names))
    caption = (
        "Cumulative incidence of the cell's end by cause: the share of the group that has ended "
        "from this cause, the other causes competing. From causes (time, incidence)."
    )
    return [
        Drawing("causes", figure, caption, f"Step curves for the causes {', '.join(names)}.", rows)
    ]


def _cause_style(place: int) -> dict[str, object]:
    """Line of a cause by its place in the order of names."""
    turn = place % len(_CAUSE_LINES)
    return {"color": _CAUSE_COLOURS[turn], "ls": _CAUSE_LINES[turn], "lw": 1.1}


def _draw_causes(axes: Axes, rows: list[Row], names: list[str], last: float) -> None:
    """Draw the causes of one group; each curve runs on to the last time drawn."""
    if not rows:
        say_in(axes, "no end seen")
    for place, cause in enumerate(names):
        own = where(rows, cause=cause)
        if own:
            held = [*own, {**own[-1], "time": last}]
            step_curve(axes, held, "incidence", **_cause_style(place))


def _cause_legend(names: list[str]) -> list[Line2D]:
    """Entries of the legend in the order of names."""
    return [
        Line2D([], [], label=name, **_cause_style(place))  # type: ignore[arg-type]
        for place, name in enumerate(names)
    ]


_PROBABILITY_PANELS_A_ROW = 3


_SHARES = (0.02, 0.05, 0.1, 0.2, 0.4, 0.632, 0.9, 0.98)


_ROUND = (1.0, 2.0, 5.0)


def probability(data: ReportData) -> list[Drawing | Absent]:
    """Draw the ends of the cells of each group on Weibull paper."""
    common = {"endpoint": "cell", "clock": data.clock, "factor": data.factor}
    rows = [row for row in where(data.rows["survival"], **common)
            if row["plotting_position"] is not None and row["time"] > 0]  # fmt: skip
    if not rows:
        return [Absent("probability", "No probability plot: no end of a cell was seen.")]
    fits = {row["group"]: row for row in where(data.rows["life_summary"], **common)}
    groups = [group for group in data.groups if group in fits]
    lines = -(-len(groups) // _PROBABILITY_PANELS_A_ROW)
    figure = new_figure(0.4 + 1.9 * lines)
    grid = panels(
        figure,
        lines,
        _PROBABILITY_PANELS_A_ROW,
        margins=Margins(top=0.22),
        sharex=True,
        sharey=True,
    )
    places = [axes for line in grid for axes in line]
    styles = group_styles(data.groups)
    times = numbers(rows, "time")
    span = (0.7 * float(times.min()), 1.4 * float(times.max()))
    for axes, group in zip(places, groups, strict=False):
        _draw(axes, where(rows, group=group), fits[group], styles[group], span)
        of_groups(marks_in(axes), group)
        axes.set_title(short(group, 30))
    for axes in places[len(groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("share ended")
    below(figure, f"{clock_unit(data.clock)} since the clock of the cell started, logarithmic")
    caption = (
        "Weibull probability plot, endpoint cell: each end at the middle of its step of the "
        "product-limit curve, and the line of the fitted Weibull life where there is one. Points "
        "that bend away from the line say that the law does not fit. From survival (time, "
        "plotting_position) and life_summary (weibull_shape, weibull_scale)."
    )
    words = f"Points and fitted lines on Weibull paper for the groups {', '.join(groups)}."
    return [Drawing("probability", figure, caption, words, rows)]


def _draw(
    axes: Axes, rows: list[Row], fit: Row, style: GroupStyle, span: tuple[float, float]
) -> None:
    """Draw one group."""
    axes.set_xscale("log")
    axes.set_xlim(*span)
    axes.set_ylim(_height(_SHARES[0]), _height(_SHARES[-1]))
    axes.yaxis.set_major_locator(FixedLocator([_height(share) for share in _SHARES]))
    axes.set_yticklabels([f"{share:g}" for share in _SHARES])
    axes.yaxis.set_minor_locator(NullLocator())
    ticks = [power * first for power in 10.0 ** np.arange(-3, 7) for first in _ROUND]
    shown = [tick for tick in ticks if span[0] <= tick <= span[1]]
    axes.xaxis.set_major_locator(FixedLocator(shown))
    axes.set_xticklabels([number(tick) for tick in shown])
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.xaxis.set_minor_locator(NullLocator())
    if not rows:
        say_in(axes, "no end seen")
        return
    heights = [_height(share) for share in numbers(rows, "plotting_position")]
    axes.plot(numbers(rows, "time"), heights, "o", color=style.colour, ms=3.4, mew=0)
    shape, scale = fit["weibull_shape"], fit["weibull_scale"]
    if shape is None:
        remark_in(axes, "too few ends for a line")
        return
    ends = np.array(span)
    axes.plot(ends, shape * np.log(ends / scale), color=style.colour, lw=1.0)


def _height(share: float) -> float:
    """Place of a share on Weibull paper."""
    return float(np.log(-np.log1p(-share)))


SECTION = Section(
    "groups",
    "Lives by group",
    lives_by_group,
    {"causes": causes, "probability": probability},
    place=50,
)
