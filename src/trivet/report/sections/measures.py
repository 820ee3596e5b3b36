"""Numbers of single cells compared between groups, every cell drawn."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.printed import figure, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
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
from trivet.report.frame.wording import (
    count,
    interval,
    number,
    p_value,
    quantity,
    short,
    unit,
)


def measures(data: ReportData) -> dict[str, Any]:
    """Differences of per-cell measures."""
    rows = data.rows["measures"]
    return {
        "table": print_table(
            rows,
            [
                made("measure", _measure_and_unit),
                made("contrast", lambda r: f"{r['group']} / {r['control']}"),
                made("cells", lambda r: f"{r['cells']} v {r['control_cells']}", numeric=True),
                made("missing", _missing, numeric=True),
                figure("difference", "difference", number),
                made("interval", lambda r: interval(r["lower"], r["upper"]), numeric=True),
                figure("p", "p", p_value),
                figure("adjusted", "p_adjusted", p_value),
                figure("smallest p", "smallest_attainable_p", p_value),
                *([words("remark", "reason")] if any(row["reason"] for row in rows) else []),
            ],
            caption="Differences of per-cell measures, group less control, with "
            f"{data.confidence} intervals. 'Missing': cells of both "
            "groups without a value, in brackets those withheld because the reference was not "
            "trusted. The table also has the spread within groups (standard deviation, n − 1) and "
            "how far withheld cells, as extreme as any seen, could move a difference. "
            "Holm's correction covers the contrasts of one measure and "
            "factor; among so many tests one or two p below 0.05 are expected by chance. "
            "From measures.",
            reason="No differences: there is nothing to compare.",
            small=True,
        )
    }


def _measure_and_unit(row: Row) -> str:
    """Name of a measure with its unit."""
    symbol = unit(row["unit"])
    return quantity(row["measure"]) + (f" [{symbol}]" if symbol else "")


def _missing(row: Row) -> str:
    """Cells without a value, and how many of them are withheld."""
    held = row["withheld_cells"]
    return count(row["missing_cells"]) + (f" ({count(held)})" if held else "")


_MEASURES_A_ROW = 3


_BATCH_MARKERS = ("o", "s", "^", "D", "v", "P")


def draw_measures(data: ReportData) -> list[Drawing | Absent]:
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


SECTION = Section("measures", "Per-cell measures", measures, {"measures": draw_measures})
