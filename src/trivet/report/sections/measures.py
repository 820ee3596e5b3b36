"""Numbers of single cells compared between groups, every cell drawn."""

from __future__ import annotations

import re
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.batch_lines import batch_look, told_apart
from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.marks import of_cell
from trivet.report.frame.printed import PrintedColumn, figure, made, print_table
from trivet.report.frame.section import FILES, Section
from trivet.report.frame.style import (
    SOFT,
    Absent,
    Drawing,
    Margins,
    group_styles,
    key,
    new_figure,
    panels,
)
from trivet.report.frame.wording import (
    interval,
    is_missing,
    number,
    p_value,
    quantity,
    scale,
    short,
)

MEETING_PANELS = 9
"""Measures that the meeting part draws, the strongest first."""
_MEETING_ROWS = 12


def by_strength(data: ReportData) -> list[Row]:
    """Differences, the smallest p first; without a p the last, groups in the order of figures."""
    return sorted(
        data.rows["measures"],
        key=lambda r: (
            r["p"] is None,
            r["p"] or 0.0,
            r["measure"],
            r["factor"] != data.factor,
            data.place_of(r["group"]),
        ),
    )


def measures(data: ReportData) -> dict[str, Any]:
    """The strongest differences of per-cell measures."""
    rows = [row for row in by_strength(data) if row["p"] is not None]
    shown = rows[:_MEETING_ROWS]
    return {
        "table": print_table(
            shown,
            [*effect_columns(),
             figure("p", "p", p_value), figure("adjusted", "p_adjusted", p_value)],
            caption=f"The {len(shown)} strongest of {len(rows)} differences, group less control, "
            f"with {data.confidence} limits. By chance alone up to one p in twenty lies below "
            "0.05; 'adjusted' covers the contrasts of one measure only (Holm). All "
            "stand in the table of that name. From measures.",
            reason="No differences: there is nothing to compare.",
            sources=("measures",),
            small=True,
        )
    }  # fmt: skip


def effect_columns() -> list[PrintedColumn]:
    """Columns of measure, contrast and difference, in a unit that suits the difference."""
    return [
        made("measure", _measure_and_unit),
        made("contrast", lambda r: f"{r['group']} / {r['control']}"),
        made("difference", lambda r: number(_scaled(r, "difference")), numeric=True),
        made("limits", lambda r: interval(_scaled(r, "lower"), _scaled(r, "upper")), numeric=True),
    ]


def _measure_and_unit(row: Row) -> str:
    """Name of a measure with the unit of its difference."""
    symbol = _difference_scale(row)[1]
    return quantity(row["measure"]) + (f" [{symbol}]" if symbol else "")


def _difference_scale(row: Row) -> tuple[float, str]:
    """Factor and unit of a difference."""
    sizes = [abs(row[name]) for name in ("difference", "lower", "upper") if not
             is_missing(row[name])]  # fmt: skip
    return scale(row["unit"], max(sizes, default=0.0))


def _scaled(row: Row, name: str) -> float | None:
    """Number of a row in the unit of its difference."""
    return None if is_missing(row[name]) else row[name] * _difference_scale(row)[0]


_MEASURES_A_ROW = 3


_BATCH_MARKERS = ("o", "s", "^", "D", "v", "P")


def _ordered(data: ReportData) -> dict[str, list[Row]]:
    """Rows of the cells by measure, the measure of the smallest p first."""
    place = {name: turn for turn, name in enumerate(by(by_strength(data), "measure"))}
    found = by(data.rows["cell_measures"], "measure")
    return dict(sorted(found.items(), key=lambda item: (place.get(item[0], len(place)), item[0])))


def draw_measures(data: ReportData) -> list[Drawing | Absent]:
    """Draw the strongest measures, one panel a measure, one mark a cell."""
    if not data.rows["cell_measures"]:
        return [Absent("measures", "No per-cell measures: no cell has any.")]
    return [_drawing(data, "measures", dict(list(_ordered(data).items())[:MEETING_PANELS]))]


def draw_other_measures(data: ReportData) -> list[Drawing | Absent]:
    """Draw the measures that the meeting part leaves out; nothing where there are none."""
    rest = dict(list(_ordered(data).items())[MEETING_PANELS:])
    return [_drawing(data, "other-measures", rest)] if rest else []


def _drawing(data: ReportData, name: str, of_measure: dict[str, list[Row]]) -> Drawing:
    """Draw some measures."""
    valued = {
        measure: own
        for measure, own in of_measure.items()
        if any(row["value"] is not None for row in own)
    }
    lines = max(1, -(-len(valued) // _MEASURES_A_ROW))
    figure = new_figure(0.2 + 1.6 * lines)
    margins = Margins(columns=0.6, rows=0.74, top=0.6, bottom=0.34)
    grid = panels(figure, lines, _MEASURES_A_ROW, margins=margins)
    places = [axes for line in grid for axes in line]
    strongest = _factors(data)
    for axes, (measure, own) in zip(places, valued.items(), strict=False):
        sizes = [abs(row["value"]) for row in own if row["value"] is not None]
        factor, symbol = scale(own[0]["unit"], max(sizes))
        sides = _sides(data, strongest.get(measure, data.factor))
        _draw_measure(axes, data, own, factor, sides)
        axes.set_title(_broken(quantity(measure) + (f" [{symbol}]" if symbol else "")), fontsize=7)
    for axes in places[len(valued) :]:
        axes.set_visible(False)
    keys = [
        Line2D(
            [],
            [],
            color=SOFT,
            marker=batch_look(data, batch, _BATCH_MARKERS),
            ms=3.2,
            lw=0,
            label=f"batch {short(batch)}",
        )
        for batch in (data.batches if told_apart(data, _BATCH_MARKERS) else ())
    ]
    key(figure, keys)
    empty = [quantity(measure) for measure in of_measure if measure not in valued]
    without = f" No cell has a value of: {', '.join(empty)}." if empty else ""
    shape = ", its shape the batch" if told_apart(data, _BATCH_MARKERS) else ""
    return Drawing(
        name,
        figure,
        f"Per-cell measures, the smallest p first, by the factor of that p; each mark is a "
        f"cell{shape}. Beneath each group: cells with a value of all its cells.{without} From "
        f"cell_measures (value).{data.drawn_words}",
        f"{len(valued)} panels of single values by group; differences stand in the table.",
        [row for own in of_measure.values() for row in own],
    )


def _broken(words: str, length: int = 34) -> str:
    """Break a long title in two lines at a space, but none within a unit in brackets."""
    if len(words) <= length:
        return words
    words = re.sub(r"\[.*?\]", lambda unit: unit.group().replace(" ", "\N{NO-BREAK SPACE}"), words)
    cut = words.rfind(" ", 0, length)
    return (
        short(words[:cut] + "\n" + words[cut + 1 :], 2 * length)
        if cut > 0
        else short(words, length)
    )


def _factors(data: ReportData) -> dict[str, str]:
    """Factor of the smallest p of each measure."""
    return {
        measure: rows[0]["factor"] for measure, rows in by(by_strength(data), "measure").items()
    }


def _sides(data: ReportData, factor: str) -> dict[str, list[str]]:
    """Included cells of each group of a factor, the control first, in order of batch and name."""
    included = where(data.rows["cells"], included=1)
    group = "group" if factor == data.factor else factor
    ordered = by(sorted(included, key=lambda row: (row["batch"], row["cell"])), group)
    control = next(one.control for one in data.settings.comparison.factors if one.factor == factor)
    names = sorted(ordered, key=lambda name: (name != control, name))
    return {name: [row["cell"] for row in ordered[name]] for name in names}


def _draw_measure(
    axes: Axes, data: ReportData, rows: list[Row], factor: float, sides: dict[str, list[str]]
) -> None:
    """Draw one measure; cells of a group stand side by side in order of batch and name."""
    values = {row["cell"]: row["value"] for row in rows}
    labels = []
    for place, (group, included) in enumerate(sides.items()):
        valued = [cell for cell in included if values.get(cell) is not None]
        known = [cell for cell in valued if cell in data.drawn_cells]
        for turn, cell in enumerate(known):
            marker = batch_look(data, data.batch_of[cell], _BATCH_MARKERS)
            shift = 0.0 if len(known) == 1 else 0.6 * turn / (len(known) - 1) - 0.3
            mark = axes.plot(
                [place + shift],
                [factor * values[cell]],
                marker,
                color=group_styles(data.groups)[data.group_of[cell]].colour,
                mfc="white",
                ms=3.2,
                mew=0.9,
            )
            of_cell(mark, cell)
        labels.append(f"{short(group, max(4, 34 // len(sides)))}\n{len(valued)} of {len(included)}")
    axes.set_xticks(range(len(sides)), labels, fontsize=6.5)
    axes.set_xlim(-0.5, len(sides) - 0.5)


SECTION = Section(
    "measures", "Per-cell measures", measures, {"measures": draw_measures}, place=60, needs=FILES
)
