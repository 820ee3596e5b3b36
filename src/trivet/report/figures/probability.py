"""Weibull probability plot: every end of a group, and the fitted line."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, NullFormatter, NullLocator

from trivet.report.frame.data import ReportData, Row, numbers, where
from trivet.report.frame.style import (
    Absent,
    Drawing,
    GroupStyle,
    Margins,
    below,
    group_styles,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import clock_unit, number, short

_PANELS_A_ROW = 3
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
    lines = -(-len(groups) // _PANELS_A_ROW)
    figure = new_figure(0.4 + 1.9 * lines)
    grid = panels(figure, lines, _PANELS_A_ROW, margins=Margins(top=0.22), sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    styles = group_styles(data.groups)
    times = numbers(rows, "time")
    span = (0.7 * float(times.min()), 1.4 * float(times.max()))
    for axes, group in zip(places, groups, strict=False):
        _draw(axes, where(rows, group=group), fits[group], styles[group], span)
        axes.set_title(short(group, 30))
    for axes in places[len(groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("share ended")
    below(figure, f"time since the clock start [{clock_unit(data.clock)}], logarithmic")
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
        say_in(axes, "too few ends for a line")
        return
    ends = np.array(span)
    axes.plot(ends, shape * np.log(ends / scale), color=style.colour, lw=1.0)


def _height(share: float) -> float:
    """Place of a share on Weibull paper."""
    return float(np.log(-np.log1p(-share)))
