"""References: trust, offsets, platings."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.reasons import Censored, FitnessReason, Purpose, Trust
from trivet.reference_checks import ReferenceCheck
from trivet.report.frame.data import ReportData, Row, by, last_states, numbers
from trivet.report.frame.marks import of_cell
from trivet.report.frame.offset_limits import offset_limits
from trivet.report.frame.printed import (
    made,
    print_table,
    words,
)
from trivet.report.frame.section import REFERENCES, Section
from trivet.report.frame.style import (
    FAINT,
    INK,
    SINCE_START,
    SOFT,
    WARNING,
    Absent,
    Drawing,
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
    count,
    listed,
    number,
    short,
    unit,
)
from trivet.report.sections.summary import TRUST_ORDER


def reference(data: ReportData) -> dict[str, Any]:
    """Counts of last states, and every reference that was doubted with its first reason."""
    states = last_states(data.rows["timeline"], "reference")
    counts = [(state, sum(own == state for own in states.values())) for state in TRUST_ORDER]
    cells = list(data.cells)
    failures = by(_first_failures(data, cells), "cell")
    gone_h = _without_lithium_h(data)
    doubted = [
        {"cell": cell, "group": data.group_of[cell], "why": failures.get(cell, []),
         "state": _state(states.get(cell), gone_h.get(cell))}
        for cell in cells
        if cell in failures or states.get(cell) not in (None, Trust.TRUSTED)
    ]  # fmt: skip
    return {
        "states": [f"{state} {count(number)}" for state, number in counts if number],
        "without_lithium": listed([cell for cell in cells if cell in gone_h]),
        "table": print_table(
            doubted,
            [
                words("cell", "cell"),
                words("group", "group"),
                words("last state", "state"),
                made("first value beyond the limit of each check", _why),
            ],
            caption="References that were doubted, with the first time that each check was beyond "
            f"its limit. Of the offset: {offset_limits(data).words}. From timeline and "
            "reference_checks, which has all checks.",
            reason="No reference was doubted.",
            sources=("timeline", "reference_checks"),
            small=True,
        ),
    }


def _without_lithium_h(data: ReportData) -> dict[str, float]:
    """When the wire of a cell stopped being lithium, of cells where it still is none [h]."""
    found: dict[str, float] = {}
    purpose = Purpose.ABSOLUTE.value
    for row in data.some("fitness", ("cell", "from_h", "reason"), purpose=purpose):
        if row["reason"] == FitnessReason.NO_LITHIUM:
            found.setdefault(row["cell"], row["from_h"])
        else:
            found.pop(row["cell"], None)
    return found


def unchecked(data: ReportData) -> list[str]:
    """One sentence on references that count among the cells and tell nothing."""
    cells = data.cells_in(
        "lifetimes",
        endpoint="reference",
        clock=data.clock,
        censored_because=Censored.NO_CHECK.value,
    )
    if not cells:
        return []
    return [
        f"No check was possible of the {'reference' if len(cells) == 1 else 'references'} of "
        f"{listed(cells)}: counted among the cells above, followed for no time, so that no "
        "test and no curve of the reference rests on them."
    ]


def _state(trust: str | None, gone_h: float | None) -> str:
    """Last state of a reference; of a lost one, whether there is lithium on the wire."""
    if trust != Trust.LOST:
        return trust or "no check"
    if gone_h is None:
        return f"{trust}: off beyond the limit"
    return f"{trust}: no lithium on the wire since {number(gone_h)} h"


def _why(row: Row) -> str:
    """First failure of each check of a reference."""
    said = [
        f"{one['check']} {number(one['value'])} {unit(one['unit'])} at {number(one['time_h'])} h "
        f"(limit {number(one['limit'])}): {one['trust']}"
        for one in row["why"]
    ]
    none = "no check was possible" if row["state"] == Trust.UNKNOWN else MISSING
    return "; ".join(said) or none


def _first_failures(data: ReportData, cells: list[str]) -> list[Row]:
    """First check of each kind and cell beyond a limit, in order of time."""
    asked = set(cells)
    found: dict[tuple[str, str], Row] = {}
    failed = [*data.some("reference_checks", trust="suspect"),
              *data.some("reference_checks", trust="lost")]  # fmt: skip
    # of each check the failure that lost the reference, else the first
    for row in sorted(failed, key=lambda r: (r["trust"] != "lost", r["time_h"])):
        if row["cell"] in asked:
            found.setdefault((row["cell"], row["check"]), row)
    return list(found.values())


_OFFSET_STATES = {
    "trusted": {"marker": "o", "fill": True},
    "suspect": {"marker": "o", "fill": False},
    "lost": {"marker": "x", "fill": True},
}


_PANELS_A_ROW = 3


def is_offset(row: Row) -> bool:
    """Whether a check is one of the offset from the anchor."""
    return row["check"] == ReferenceCheck.OFFSET and row["value"] is not None


def offsets(data: ReportData) -> list[Drawing | Absent]:
    """Draw the offset of every reference, one panel a group."""
    checks = data.some(
        "reference_checks", check=ReferenceCheck.OFFSET.value, cells=data.drawn_cells
    )
    rows = [row for row in checks if is_offset(row)]
    if not rows:
        reason = "No offsets: no reference could be held against a known potential."
        return [Absent("reference-offsets", reason)]
    lines = -(-len(data.groups) // _PANELS_A_ROW)
    figure = new_figure(0.6 + 2.3 * lines)
    grid = panels(figure, lines, _PANELS_A_ROW, sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    limits = offset_limits(data)
    of_cell = by(rows, "cell")
    for axes, group in zip(places, data.groups, strict=False):
        _limits(axes, limits.suspect_mV, limits.lost_mV)
        colour = group_styles(data.groups)[group].colour
        own = [of_cell.get(cell, []) for cell in data.drawn[group]]
        drawn = [_draw_offsets(axes, of_one, colour) for of_one in own]
        if not any(drawn):
            say_in(axes, "no reference of this group\ncould be checked")
        axes.set_title(short(group, 28))
        axes.set_yscale("symlog", linthresh=limits.lost_mV, linscale=1.6)
        time_ticks(axes, float(max(numbers(rows, "time_h"))))
    mend_scale(places[0], [row["value"] for row in rows], limits.suspect_mV, limits.lost_mV)
    for axes in places[len(data.groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("offset from the anchor [mV]")
    below(figure, SINCE_START)
    key(figure, _offset_legend())
    return [
        Drawing(
            "reference-offsets",
            figure,
            "Offset of every reference from its anchor, one line a cell, over time. "
            f"Bands: {limits.words}. The axis is linear up to the limit of loss and logarithmic "
            "beyond. From reference_checks "
            f"(time_h, value, trust) of the offset check.{data.drawn_words}",
            "Offsets against time with both limits, one panel a group; the table of references "
            "beneath gives the last state of each.",
            [
                {name: row[name] for name in ("cell", "time_h", "check", "value", "trust")}
                for row in rows
            ],
        )
    ]


def _limits(axes: Axes, suspect_mV: float, lost_mV: float) -> None:
    """Draw the limits on both sides of 0."""
    axes.axhspan(-suspect_mV, suspect_mV, color=FAINT, alpha=0.35, lw=0)
    for limit in (-lost_mV, lost_mV):
        axes.axhline(limit, color=WARNING, lw=0.6, ls=(0, (4, 2)))


def mend_scale(axes: Axes, values: list[float], suspect_mV: float, lost_mV: float) -> None:
    """Ticks at the limits and at round powers of ten beyond, on the shared axis."""
    ticks = [-lost_mV, -suspect_mV, 0.0, suspect_mV, lost_mV]
    largest = max(abs(value) for value in values)
    ticks += [power for power in (100.0, 1000.0) if lost_mV < power and max(values) > lost_mV]
    ticks += [-power for power in (100.0, 1000.0) if lost_mV < power and min(values) < -lost_mV]
    reach = max(1.6 * lost_mV, 1.5 * largest)
    axes.set_ylim(
        -reach if min(values) < -lost_mV else -1.6 * lost_mV,
        reach if max(values) > lost_mV else 1.6 * lost_mV,
    )
    bottom, top = axes.get_ylim()
    inside = sorted(tick for tick in ticks if bottom <= tick <= top)
    axes.set_yticks(inside, [number(tick) for tick in inside])


def _draw_offsets(axes: Axes, own: list[Row], colour: str) -> bool:
    """Draw one reference; the marker tells the trust that follows from each check."""
    lines = axes.plot(numbers(own, "time_h"), numbers(own, "value"), color=colour, lw=0.6)
    for state, look in _OFFSET_STATES.items():
        points = [row for row in own if row["trust"] == state]
        lines += axes.plot(
            numbers(points, "time_h"),
            numbers(points, "value"),
            str(look["marker"]),
            color=WARNING if state == "lost" else colour,
            mfc=colour if look["fill"] else "white",
            ms=2.8,
            mew=0.7,
        )
    of_cell(lines, own[0]["cell"] if own else "")
    return bool(own)


def _offset_legend() -> list[Line2D]:
    """Entries for the states and the limit."""
    return [
        Line2D([], [], color=INK, marker="o", ms=2.8, lw=0.6, label="trusted"),
        Line2D([], [], color=INK, marker="o", mfc="white", ms=2.8, lw=0.6, label="suspect"),
        Line2D([], [], color=WARNING, marker="x", ms=2.8, lw=0, label="lost"),
        Line2D([], [], color=WARNING, ls=(0, (4, 2)), lw=0.6, label="limit of loss"),
        Line2D([], [], color=SOFT, lw=4, alpha=0.3, label="within the limit of suspicion"),
    ]


SECTION = Section(
    "reference", "References", reference, {"reference": offsets}, place=70, needs=REFERENCES
)
