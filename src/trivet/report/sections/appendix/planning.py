"""What the groups at hand could have shown, and what the next campaign could."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes

from trivet.reasons import Planned
from trivet.report.frame.data import ReportData, Row, numbers, where
from trivet.report.frame.printed import figure, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
    FAINT,
    INK,
    SOFT,
    Absent,
    Drawing,
    Margins,
    below,
    new_figure,
    panels,
    say_in,
)
from trivet.report.frame.wording import as_set, count, interval, number, short


def planning(data: ReportData) -> dict[str, Any]:
    """Power of the groups at hand, and the cells needed."""
    c = data.settings.comparison
    rows = sorted(
        (row for row in data.rows["planning"] if row["purpose"] not in _PLANNED),
        key=lambda r: (r["factor"] != data.factor, r["factor"], data.place_of(r["group"])),
    )
    return {
        "power_wanted": as_set(c.planned_power),
        "table": print_table(
            rows,
            [
                made("contrast", lambda r: f"{r['group']} / {r['control']}"),
                words("what", "purpose"),
                figure("cells", "cells", count),
                figure("control cells", "control_cells", count),
                figure("true time ratio", "time_ratio", number),
                figure("spread", "spread", lambda v: number(v, 2)),
                figure("censored", "censored_share", lambda v: number(v, 2)),
                figure("power", "power", lambda v: number(v, 2)),
                made("limits", lambda r: interval(r["lower"], r["upper"], 2), numeric=True),
                words("remark", "reason"),
            ],
            caption="What the cells at hand could show, and the cells of each group that the next "
            "campaign needs, at the spread of log time and the share of censored cells seen here. "
            "From planning.",
            reason="No planning: there is no group to compare with the control.",
            sources=("planning",),
            small=True,
        ),
    }


_PANELS_A_ROW = 3


_PLANNED = (Planned.DIFFERENCE.value, Planned.EQUIVALENCE.value)


def draw_planning(data: ReportData) -> list[Drawing | Absent]:
    """Draw the power of both claims, one panel a contrast."""
    rows = [row for row in data.rows["planning"] if row["purpose"] in _PLANNED]
    if not rows:
        reasons = sorted({row["reason"] for row in data.rows["planning"] if row["reason"]})
        return [Absent("planning", f"No planning: {'; '.join(reasons) or 'nothing compared'}.")]
    contrasts = sorted(
        {(row["factor"], row["group"], row["control"]) for row in rows},
        key=lambda of: (of[0] != data.factor, of[0], data.place_of(of[1])),
    )
    lines = -(-len(contrasts) // _PANELS_A_ROW)
    figure = new_figure(0.4 + 1.9 * lines)
    grid = panels(figure, lines, _PANELS_A_ROW, margins=Margins(top=0.22), sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    for axes, (factor, group, control) in zip(places, contrasts, strict=False):
        own = where(rows, factor=factor, group=group, control=control)
        axes.set_title(short(f"{group} / {control}", 30))
        _draw(axes, own)
    for axes in places[len(contrasts) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("power")
    below(figure, "cells in each group")
    c = data.settings.comparison
    caption = (
        f"Chance to show a difference when the group lasts {as_set(c.planned_time_ratio)} times "
        "as long (full line), and equivalence within a factor of "
        f"{as_set(c.equivalence_margin)} when it lasts the same (broken line), against the cells "
        "of each group, at the spread and the share of censored cells seen here; bars: 99 % Monte "
        f"Carlo limits; dotted: {number(c.planned_power)}. From planning (cells, power, lower, "
        "upper)."
    )
    words = "Power curves of the exact test and of equivalence; the numbers stand in the table."
    return [Drawing("planning", figure, caption, words, rows)]


def _draw(axes: Axes, rows: list[Row]) -> None:
    """Draw both curves of one contrast."""
    if not rows:
        say_in(axes, "spread not known")
        return
    axes.axhline(rows[0]["power_wanted"], color=FAINT, lw=0.8, ls=(0, (1, 2)))
    for purpose, colour, line in zip(_PLANNED, (INK, SOFT), ("-", (0, (4, 2))), strict=True):
        own = sorted(where(rows, purpose=purpose), key=lambda row: row["cells"])
        power = numbers(own, "power")
        reach = [power - numbers(own, "lower"), numbers(own, "upper") - power]
        axes.errorbar(
            numbers(own, "cells"), power, yerr=reach, color=colour, ls=line, lw=1.1, elinewidth=0.6
        )
    axes.set_ylim(0, 1.03)
    axes.set_xlim(0, None)


SECTION = Section("planning", "Planning", planning, {"planning": draw_planning}, place=70)
