"""What fades: what took the capacity of each cell, and which electrode ends its half-cycles."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.marks import of_cell
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.section import CYCLES, Section
from trivet.report.frame.style import (
    FAINT,
    INK,
    SINCE_START,
    SOFT,
    Absent,
    Drawing,
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
    MISSING,
    as_set,
    clock_unit,
    interval,
    is_missing,
    listed,
    number,
    plural,
    short,
    whole_percent,
)

_TERMS = {
    "inventory": "lost lithium",
    "positive": "lost positive",
    "negative": "lost negative",
    "resistance": "grown resistance",
}
_LINES: dict[str, Any] = {
    "inventory": "-",
    "positive": (0, (5, 1.5)),
    "negative": (0, (1, 1)),
    "resistance": (0, (5, 1, 1, 1)),
}
_MARKS = {"inventory": "o", "positive": "^", "negative": "v", "resistance": "s"}
_PANELS_A_ROW = 3
_MOST_REASONS = 3


def fading(data: ReportData) -> dict[str, Any]:
    """What is said of each group, and the table."""
    order = {group: place for place, group in enumerate(data.groups)}
    told = any(row["cells"] for row in data.rows["fading"])
    rows = sorted(
        data.rows["fading"] if told else [], key=lambda r: order.get(r["group"], len(order))
    )
    return {
        "sentences": [*_most(rows), *_sentences(rows)],
        "untold": _untold(data),
        "table": _table(rows),
        "forecast_sentences": forecast_sentences(data),
        "forecasts": forecast_table(data),
    }


def _most(rows: list[Row]) -> list[str]:
    """What took the most of each group's capacity, groups of which the same is said together."""
    said: dict[str, list[str]] = {}
    for row in rows:
        shares = {name: row[f"share_{term}"] for term, name in _TERMS.items()
                  if not is_missing(row[f"share_{term}"])}  # fmt: skip
        if shares:
            most = max(shares, key=lambda name: shares[name])
            said.setdefault(most, []).append(f"{row['group']} {whole_percent(shares[most])}")
    return [
        f"Most of the loss up to the last check-up is {most}: {listed(groups)} of it (middle "
        "values of the cells)."
        for most, groups in said.items()
    ]


def _sentences(rows: list[Row]) -> list[str]:
    """Which electrode ends half-cycles, groups of which the same is said together."""
    said: dict[str, list[str]] = {}
    for row in rows:
        said.setdefault(_ends(row), []).append(row["group"])
    return [f"{listed(groups)}: {text}." for text, groups in said.items() if text]


def _ends(row: Row) -> str:
    """Which electrode ends charges and discharges."""
    said = []
    for half in ("charges", "discharges"):
        pair = {who: row[f"{half}_ended_by_{who}"] for who in ("positive", "negative")}
        known = {who: share for who, share in pair.items() if not is_missing(share)}
        if known:
            who = max(known, key=lambda name: known[name])
            said.append(f"the {who} ends {whole_percent(known[who])} of {half}")
    return "; ".join(said)


def _untold(data: ReportData) -> str:
    """Why check-ups could not be compared, the most frequent reasons."""
    reasons = by([row for row in data.rows["attribution"] if row["reason"]], "reason")
    if not reasons:
        return ""
    ordered = sorted(reasons.items(), key=lambda item: (-len(item[1]), item[0]))
    said = [
        f"{reason} ({plural(len(rows), 'check-up')})" for reason, rows in ordered[:_MOST_REASONS]
    ]
    rest = sum(len(rows) for _, rows in ordered[_MOST_REASONS:])
    more = f"; {plural(rest, 'check-up')} for other reasons" if rest else ""
    return f"Check-ups not compared: {'; '.join(said)}{more}."


def _table(rows: list[Row]) -> PrintedTable:
    """A line a group."""
    return print_table(
        rows,
        [
            words("group", "group"),
            made("cells", lambda r: f"{r['cells']} of {r['cells'] + r['cells_without']}",
                 numeric=True),
            made(_like_heading(rows), _lost_at_like, numeric=True),
            made("last check-up at [d]", _last_at, numeric=True),
            figure("lost by then [mAh]", "lost_mAh", number),
            *(
                made(
                    name,
                    lambda r, term=term: _share(r, term),  # type: ignore[misc]
                    numeric=True,
                )
                for term, name in _TERMS.items()
            ),
        ],
        caption="Capacity lost, middle values of the group. First at one time for all, the latest "
        "that half of the cells of every group were followed to, linear between check-ups: this "
        "compares groups. Then at the last check-up of each cell, which are of unlike age (in "
        "brackets the earliest and the latest), with what each change alone would have cost by "
        "then, as a share of that loss. Shares need not add up to 100 %, since losses act "
        "together. Single numbers in brackets: cells that tell it, where not all do. From fading.",
        sources=("fading",),
        reason="No check-up could be compared with an earlier one.",
    )  # fmt: skip


def _like_heading(rows: list[Row]) -> str:
    """Heading of the loss at the time that all groups have in common."""
    known = [row["like_h"] for row in rows if not is_missing(row["like_h"])]
    return f"lost by day {number(known[0] / 24.0)} [mAh]" if known else "lost at a like time [mAh]"


def _lost_at_like(row: Row) -> str:
    """Loss at the common time, and by how many cells it is told where not all tell it."""
    if is_missing(row["lost_at_like_mAh"]):
        return MISSING
    told = row["cells_at_like"]
    some = f" ({told})" if told != row["cells"] else ""
    return f"{number(row['lost_at_like_mAh'])}{some}"


def _last_at(row: Row) -> str:
    """Time of the last check-ups in days, as figures have it."""
    if is_missing(row["last_h"]):
        return MISSING
    middle, first, last = (row[name] / 24.0 for name in _LAST)
    return f"{number(middle, 2)} ({interval(first, last, 2)})"


_LAST = ("last_h", "last_earliest_h", "last_latest_h")


def _share(row: Row, term: str) -> str:
    """A share, and by how many cells it is told where not all tell it."""
    share, told = row[f"share_{term}"], row[f"cells_{term}"]
    if is_missing(share):
        return "–"
    some = f" ({told})" if told != row["cells"] else ""
    return f"{whole_percent(share)}{some}"


def forecast_sentences(data: ReportData) -> list[str]:
    """What a forecast is made from, what it does not see, and how past ones have fared."""
    made = [row for row in data.rows["forecasts"] if not row["reason"]]
    if not made:
        return []
    settings = data.settings.lifetime.capacity
    said = [
        f"A forecast starts from a straight line through the retention of a cell's own ageing "
        f"cycles up to now, followed to {as_set(settings.retention_below)}. Fade that speeds up "
        f"ends a cell before its line does: estimate and interval are that line, shortened or "
        f"lengthened by how much of the time that such lines gave them the cells had left that "
        f"have ended by capacity since. Sudden ends (shorts, open circuits, leaks) are not "
        f"forecast."
    ]
    if any(row["cells_learnt_from"] == 0 for row in made):
        said.append(
            "Take these with caution: no cell has ended by capacity yet, so the interval is a "
            "default, and fade that speeds up may end a cell before it."
        )
    return [*said, _coverage(data)]


def _coverage(data: ReportData) -> str:
    """How forecasts of past weeks have fared, on the primary clock."""
    weeks = where(data.rows["forecast_coverage"], clock=data.clock)
    ended, inside = sum(row["ended"] for row in weeks), sum(row["inside"] for row in weeks)
    if not ended:
        return "No cell with a forecast has ended by capacity yet, so none could be judged."
    otherwise = sum(row["ended_otherwise"] for row in weeks)
    learnt = [row for row in weeks if row["cells_learnt_from"]]
    own = sum(row["inside"] for row in learnt), sum(row["ended"] for row in learnt)
    later = f" ({own[0]} of {own[1]} once cells had ended to learn from)" if own[1] else ""
    return (
        f"Forecasts as they would have been made at {plural(len(weeks), 'past week')}, each from "
        f"what was known then: {inside} of {ended} intervals of {data.confidence} held the end by "
        f"capacity that has come since{later}; {plural(otherwise, 'forecast')} more of cells that "
        f"ended otherwise or were stopped. Forecasts of one cell are alike, so these are fewer "
        f"than they seem."
    )


def forecast_table(data: ReportData) -> PrintedTable:
    """A line a running cell, on the primary clock, those first that end first."""
    rows = where(data.rows["forecasts"], clock=data.clock)
    hours = where(data.rows["forecasts"], clock="hours")
    days = {row["cell"]: row["estimate_in_d"] for row in hours}
    rows.sort(key=lambda r: (is_missing(r["estimate"]), days[r["cell"]] or 0.0, r["cell"]))
    name = clock_unit(data.clock)
    return print_table(
        rows,
        [
            words("cell", "cell"),
            made("group", lambda r: data.group_of.get(r["cell"], "")),
            figure(f"made at [{name}]", "made_at", number),
            figure(f"straight line [{name}]", "line", number),
            figure(f"estimate [{name}]", "estimate", number),
            made(f"interval [{name}]", _limits, numeric=True),
            made("from now [d]", lambda r: number(days[r["cell"]], 2), numeric=True),
            made("cycles", lambda r: f"{r['readings']} ({number(r['effective_readings'], 2)})",
                 numeric=True),
            made(f"slope [% per 100 {name}]", lambda r: number(_per_hundred(r)), numeric=True),
            *([words("reason", "reason")] if any(row["reason"] for row in rows) else []),
        ],
        caption=f"When retention reaches {as_set(data.settings.lifetime.capacity.retention_below)}"
        f": by the straight line of each running cell, and as estimated from it. "
        f"Cycles: those behind the line; in brackets so many independent ones as would tell as "
        f"much. Slope: of retention. From forecasts.",
        sources=("forecasts",),
        reason="No cell is running.",
    )  # fmt: skip


def _limits(row: Row) -> str:
    """Limits of a forecast."""
    return MISSING if row["reason"] else interval(row["lower"], row["upper"])


def _per_hundred(row: Row) -> float | None:
    """Slope in percent per 100 h or cycles, as it is printed."""
    return None if row["slope"] is None else 1e4 * row["slope"]


def shares(data: ReportData) -> list[Drawing | Absent]:
    """Draw what each change alone has cost over time, a panel a group, every cell."""
    rows = [
        row
        for row in data.rows["attribution"]
        if row["time_h"] is not None
        and row["cell"] in data.drawn_cells
        and any(row[f"lost_to_{term}_mAh"] is not None for term in _TERMS)
    ]
    if not rows:
        reason = _untold(data) or "There is no check-up after the first."
        return [Absent("fading", f"What took the capacity is not drawn. {reason}")]
    groups = data.groups
    columns = min(_PANELS_A_ROW, len(groups))
    lines = -(-len(groups) // columns)
    drawn = new_figure(0.9 + 1.9 * lines)
    grid = panels(
        drawn, lines, columns, margins=Margins(top=0.62, rows=0.5), sharex=True, sharey=True
    )
    styles = group_styles(groups)
    last = float(max(row["time_h"] for row in rows))
    places = [axes for line in grid for axes in line]
    for axes, group in zip(places, groups, strict=False):
        own = [row for row in rows if data.group_of[row["cell"]] == group]
        _draw_group(axes, own, styles[group].colour)
        axes.set_title(short(group, 30), loc="left")
        time_ticks(axes, last)
    for axes in places[len(groups) :]:
        axes.set_visible(False)
    for line in grid:
        line[0].set_ylabel("capacity lost\nto it alone [mAh]")
    below(drawn, SINCE_START)
    key(drawn, [
        Line2D([], [], color=INK, ls=_LINES[term], marker=_MARKS[term], ms=2.6, lw=0.8, label=name)
        for term, name in _TERMS.items()
    ] + [Line2D([], [], color=SOFT, lw=2.2, alpha=0.35, label="loss seen")])  # fmt: skip
    return [
        Drawing(
            "fading",
            drawn,
            "Capacity lost since the first check-up, and what each change alone would have cost, "
            "every cell of a group. Lithium lost, active material lost and resistance grown come "
            "from one joint fit of the curves of both electrodes to those of the first check-up. "
            "From attribution (time_h, lost_mAh, lost_to_inventory_mAh, lost_to_positive_mAh, "
            f"lost_to_negative_mAh, lost_to_resistance_mAh).{data.drawn_words}",
            f"{plural(len(groups), 'panel')} of lost capacity against time, four lines a cell.",
            rows,
        )
    ]


def _draw_group(axes: Axes, rows: list[Row], colour: str) -> None:
    """Draw the cells of one group."""
    if not rows:
        say_in(axes, "no check-up to compare")
    axes.axhline(0.0, color=FAINT, lw=0.6, zorder=0)
    for cell, own in by(rows, "cell").items():
        ordered = sorted(own, key=lambda r: r["time_h"])
        lines = axes.plot(
            numbers(ordered, "time_h"), numbers(ordered, "lost_mAh"), color=SOFT, lw=2.2, alpha=0.35
        )
        for term in _TERMS:
            known = [r for r in ordered if r[f"lost_to_{term}_mAh"] is not None]
            lines += axes.plot(
                numbers(known, "time_h"),
                numbers(known, f"lost_to_{term}_mAh"),
                color=colour,
                ls=_LINES[term],
                marker=_MARKS[term],
                markevery=[-1] if known else None,
                ms=2.6,
                mew=0.4,
                mfc="white",
                lw=0.7,
            )
        of_cell(lines, cell)


SECTION = Section(
    "fading",
    "Electrodes: what took the capacity",
    fading,
    {"fading": shares},
    place=80,
    needs=CYCLES,
)
