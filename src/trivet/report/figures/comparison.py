"""Effects with their intervals beside the margin, and per-cell measures, every cell drawn."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import NullLocator

from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.style import (
    FAINT,
    INK,
    SOFT,
    Absent,
    Drawing,
    Margins,
    group_styles,
    key,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import as_set, clock_unit, number, quantity, short, unit

_RATIO_TICKS = (0.125, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 8.0, 16.0)
_MEASURES_A_ROW = 3
_BATCH_MARKERS = ("o", "s", "^", "D", "v", "P")


def effects(data: ReportData) -> list[Drawing | Absent]:
    """Draw the time ratio of every contrast with its interval and the margin."""
    rows = sorted(
        where(data.rows["comparisons"], measure="time ratio"),
        key=lambda r: (
            r["clock"] != data.clock,
            r["endpoint"] != data.settings.comparison.primary_endpoint,
        ),
    )
    drawable = [row for row in rows if row["estimate"] is not None]
    if not drawable:
        reason = "; ".join(sorted({row["reason"] for row in rows if row["reason"]}))
        reason = reason or "no contrast could be estimated"
        return [Absent("effects", f"No ratio is drawn: {reason}.")]
    figure = new_figure(0.75 + 0.25 * len(rows))
    axes = panels(figure, 1, 1, margins=Margins(left=2.3, top=0.08, bottom=0.4))[0][0]
    margin = data.settings.comparison.equivalence_margin
    axes.axvspan(1 / margin, margin, color=FAINT, alpha=0.45, lw=0)
    axes.axvline(1, color=SOFT, lw=0.6)
    for place, row in enumerate(rows):
        _draw_effect(axes, place, row, row["clock"] == data.clock)
    axes.set_xscale("log")
    axes.set_yticks(range(len(rows)), [_contrast(row) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    _ratio_axis(axes, drawable, margin)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel("time ratio, group over control (above 1: the group lasts longer)")
    return [
        Drawing(
            "effects",
            figure,
            f"Time ratio of every contrast with its {data.confidence} "
            "interval, from a Weibull model and not adjusted for the number of contrasts; the "
            "exact test decides. "
            f"Shaded: differences that count as the same (ratio up to {as_set(margin)} either way, "
            "a setting). Filled: primary clock; rings: the other clock. A missing interval is "
            "explained in the table of comparisons. From comparisons (estimate, lower, upper) of "
            "the measure time ratio.",
            "Time ratios with intervals, one row a contrast; the table of comparisons has the "
            "numbers.",
            rows,
        )
    ]


def _contrast(row: Row) -> str:
    """Name of a contrast on the axis."""
    pair = f"{short(row['group'], 16)} / {short(row['control'], 16)}"
    return f"{pair}  ·  {row['endpoint']}, {clock_unit(row['clock'])}"


def _draw_effect(axes: Axes, place: int, row: Row, primary: bool) -> None:
    """Draw one estimate with its limits."""
    if row["estimate"] is None:
        axes.annotate(
            "no ratio: too few ends",
            (1, place),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            color=SOFT,
            style="italic",
            fontsize=6.8,
        )
        return
    if row["lower"] is not None and row["upper"] is not None:
        axes.plot([row["lower"], row["upper"]], [place] * 2, color=INK, lw=1.0)
    axes.plot([row["estimate"]], [place], "o", color=INK, mfc=INK if primary else "white", ms=4)


def _ratio_axis(axes: Axes, rows: list[Row], margin: float) -> None:
    """Limits and plain ticks of the axis of ratios."""
    names = ("estimate", "lower", "upper")
    values = [row[name] for row in rows for name in names if row[name]] + [1 / margin, margin]
    low, high = max(min(values) / 1.1, 0.05), min(max(values) * 1.1, 20.0)
    axes.set_xlim(low, high)
    inside = [tick for tick in _RATIO_TICKS if low <= tick <= high]
    axes.set_xticks(inside, [number(tick) for tick in inside])
    axes.xaxis.set_minor_locator(NullLocator())


def measures(data: ReportData) -> list[Drawing | Absent]:
    """Draw every per-cell number, one panel a measure, one dot a cell."""
    rows = data.rows["cell_measures"]
    if not rows:
        return [Absent("measures", "No per-cell measures: no cell has any.")]
    of_measure = by(rows, "measure")
    lines = -(-len(of_measure) // _MEASURES_A_ROW)
    figure = new_figure(0.2 + 1.85 * lines)
    margins = Margins(columns=0.6, rows=0.78, top=0.6, bottom=0.34)
    grid = panels(figure, lines, _MEASURES_A_ROW, margins=margins)
    places = [axes for line in grid for axes in line]
    for axes, (measure, own) in zip(places, of_measure.items(), strict=False):
        _draw_measure(axes, data, own)
        name = unit(own[0]["unit"])
        words = quantity(measure) + (f" [{name}]" if name else "")
        axes.set_title(_broken(words), fontsize=7)
    for axes in places[len(of_measure) :]:
        axes.set_visible(False)
    keys = [
        Line2D(
            [],
            [],
            color=SOFT,
            marker=_BATCH_MARKERS[p % len(_BATCH_MARKERS)],
            ms=3.2,
            lw=0,
            label=f"batch {short(b)}",
        )
        for p, b in enumerate(data.batches)
    ]
    key(figure, keys)
    return [
        Drawing(
            "measures",
            figure,
            "Per-cell measures; each mark is a cell, its shape the batch. Beneath each group: "
            "cells with a value of all its cells. From cell_measures (value).",
            f"{len(of_measure)} panels of single values by group; differences stand in the table.",
            rows,
        )
    ]


def _broken(words: str, length: int = 34) -> str:
    """Break a long title in two lines at a space."""
    if len(words) <= length:
        return words
    cut = words.rfind(" ", 0, length)
    return (
        short(words[:cut] + "\n" + words[cut + 1 :], 2 * length)
        if cut > 0
        else short(words, length)
    )


def _draw_measure(axes: Axes, data: ReportData, rows: list[Row]) -> None:
    """Draw one measure; cells of a group stand side by side in order of batch and name."""
    values = {row["cell"]: row["value"] for row in rows}
    labels = []
    for place, group in enumerate(data.groups):
        cells = data.cells_of(group)
        counted = {row["cell"] for row in where(data.rows["cells"], included=1)}
        included = [cell for cell in cells if cell in counted]
        known = [cell for cell in included if values.get(cell) is not None]
        style = group_styles(data.groups)[group]
        for turn, cell in enumerate(known):
            marker = _BATCH_MARKERS[data.batches.index(data.batch_of[cell]) % len(_BATCH_MARKERS)]
            shift = 0.0 if len(known) == 1 else 0.6 * turn / (len(known) - 1) - 0.3
            axes.plot(
                [place + shift],
                [values[cell]],
                marker,
                color=style.colour,
                mfc="white",
                ms=3.2,
                mew=0.9,
            )
        labels.append(f"{short(group, 11)}\n{len(known)} of {len(included)}")
    if not any(value is not None for value in values.values()):
        say_in(axes, "no cell has a value")
    axes.set_xticks(range(len(data.groups)), labels, fontsize=6.5)
    axes.set_xlim(-0.5, len(data.groups) - 0.5)
