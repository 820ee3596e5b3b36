"""References: trust, offsets, platings."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, last_states, numbers, where
from trivet.report.frame.printed import (
    PrintedColumn,
    PrintedTable,
    figure,
    made,
    print_table,
    words,
)
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
    FAINT,
    INK,
    SOFT,
    WARNING,
    Absent,
    Drawing,
    Margins,
    below,
    group_styles,
    key,
    new_figure,
    panels,
    say_in,
    week_ticks,
)
from trivet.report.frame.wording import (
    MISSING,
    as_set,
    count,
    interval,
    is_missing,
    number,
    short,
    unit,
)
from trivet.report.sections.appendix.lifetime import duration
from trivet.report.sections.summary import TRUST_ORDER


def reference(data: ReportData) -> dict[str, Any]:
    """Last state of each reference, and the last check of each kind."""
    states = last_states(data.rows["timeline"], "reference")
    checks = by(data.rows["reference_checks"], "cell")
    names = sorted({row["check"] for row in data.rows["reference_checks"]})
    lines = []
    for cell in (c for g in data.groups for c in data.cells_of(g)):
        own = checks.get(cell, [])
        lines.append(
            {
                "cell": cell,
                "group": data.group_of[cell],
                "state": states.get(cell, "no check"),
                "lives": where(
                    data.of_cell("lifetimes", cell), endpoint="reference", clock="hours"
                ),
                **{name: _telling(where(own, check=name)) for name in names},
            }
        )
    order = [(state, count(sum(s == state for s in states.values()))) for state in TRUST_ORDER]
    return {
        "states": [(state, number) for state, number in order if number != "0"],
        "checked": any(is_offset(row) for row in data.rows["reference_checks"]),
        "table": print_table(
            lines,
            [
                words("cell", "cell"),
                words("group", "group"),
                words("last state", "state"),
                made("life since plating [h]", lambda r: duration(r["lives"]), numeric=True),
                *(_check_column(name, data.rows["reference_checks"]) for name in names),
            ],
            caption="References: the last state, and of each check the value that first lost the "
            "reference, else the last one, with its limit in brackets; a drift with its 95 % "
            "interval where five offsets allow one. A dash: the check could not be made. From "
            "timeline, lifetimes and reference_checks.",
            reason="No references: no cell.",
            small=True,
        ),
        "platings": platings(data),
    }


def _telling(checks: list[Row]) -> Row | None:
    """The check that first lost a reference, else the last one."""
    lost = where(checks, trust="lost")
    return lost[0] if lost else next(iter(reversed(checks)), None)


def _check_column(name: str, rows: list[Row]) -> PrintedColumn:
    """Last value of one check with its limit."""
    unit_name = next(
        (unit(row["unit"]) for row in rows if row["check"] == name and row["unit"]), ""
    )

    def text(row: Row) -> str:
        check = row[name]
        if check is None or check["value"] is None:
            return MISSING
        limit = f" ({number(check['limit'])})" if check["limit"] is not None else ""
        if not is_missing(check["lower"]):
            limit = f" [{interval(check['lower'], check['upper'], 2)}]" + limit
        return number(check["value"], 2) + limit

    return made(f"{name} [{unit_name}]" if unit_name else name, text, numeric=True)


def platings(data: ReportData) -> PrintedTable:
    """Every plating: charge, thickness, and the expected life beside the observed one."""
    efficiency = as_set(data.settings.reference.plating_efficiency)
    lives = {row["cell"]: row for row in where(data.rows["lifetimes"], endpoint="reference",
                                               clock="hours")}  # fmt: skip
    rows = [
        # The life of a first plating is decided once, for all sections: in lifetimes.
        row | {"life": lives[row["cell"]]} if row["plating"] == 1 and row["cell"] in lives else row
        for row in data.rows["plating"]
    ]
    return print_table(
        rows,
        [
            words("cell", "cell"),
            figure("no.", "plating", number),
            figure("at [h]", "time_h", number),
            made("charge [µAh]", _charge, numeric=True),
            figure("on surface [mAh/cm²]", "charge_per_area_mAh_cm2", number),
            figure("thickness [µm]", "thickness_um", number),
            made("left at most [%]", _left, numeric=True),
            made("ceiling by input current [h]", _ceiling, numeric=True),
            figure("implied drain [nA]", "implied_drain_nA", number),
            made("life [h]", _observed, numeric=True),
        ],
        caption="Platings. Thickness as if all charge were dense lithium. Charge left and the "
        f"ceiling of life are no forecasts: with {efficiency} of the charge usable (an assumption) "
        "they hold if measuring channels were the only drain, and corrosion and water take more. "
        "Of a lost reference they are left out, and the implied drain stands instead: the current "
        "that would have used its lithium up in its life. From plating; the life of a first "
        "plating from lifetimes.",
        reason="No platings: the bench log has none.",
        small=True,
    )


def _charge(row: Row) -> str:
    """Charge of a plating in the unit that suits it."""
    return MISSING if is_missing(row["charge_mAh"]) else number(1000.0 * row["charge_mAh"])


def _left(row: Row) -> str:
    """Share left in percent."""
    if row["lost"] or is_missing(row["left_share"]):
        return MISSING
    return number(100.0 * row["left_share"])


def _ceiling(row: Row) -> str:
    """Life that the channels alone would allow; not of one that was lost, which tells better."""
    if row["lost"] or is_missing(row["expected_life_h"]):
        return MISSING
    return number(row["expected_life_h"])


def _observed(row: Row) -> str:
    """Observed life; one without a loss goes on."""
    life = row.get("life")
    lost = bool(life["observed"] if life else row["lost"])
    text = number(life["duration"] if life else row["observed_life_h"])
    return f"{text} (lost)" if lost else f"{text} or more"


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


_OFFSET_STATES = {
    "trusted": {"marker": "o", "fill": True},
    "suspect": {"marker": "o", "fill": False},
    "lost": {"marker": "x", "fill": True},
}


_PANELS_A_ROW = 3


def is_offset(row: Row) -> bool:
    """Whether a check is one of the offset from the anchor."""
    return "offset" in row["check"] and row["value"] is not None


def offsets(data: ReportData) -> list[Drawing | Absent]:
    """Draw the offset of every reference, one panel a group."""
    rows = [row for row in data.rows["reference_checks"] if is_offset(row)]
    if not rows:
        reason = "No offsets: no reference could be held against a known potential."
        return [Absent("reference-offsets", reason)]
    lines = -(-len(data.groups) // _PANELS_A_ROW)
    figure = new_figure(0.6 + 2.3 * lines)
    grid = panels(figure, lines, _PANELS_A_ROW, sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    trust = data.settings.trust
    for axes, group in zip(places, data.groups, strict=False):
        _limits(axes, trust.offset_suspect_mV, trust.offset_lost_mV)
        colour = group_styles(data.groups)[group].colour
        drawn = [_draw_offsets(axes, rows, cell, colour) for cell in data.cells_of(group)]
        if not any(drawn):
            say_in(axes, "no reference of this group\ncould be checked")
        axes.set_title(short(group, 28))
        axes.set_yscale("symlog", linthresh=trust.offset_lost_mV, linscale=1.6)
        week_ticks(axes, float(max(numbers(rows, "time_h"))))
    mend_scale(
        places[0], [row["value"] for row in rows], trust.offset_suspect_mV, trust.offset_lost_mV
    )
    for axes in places[len(data.groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("offset from the anchor [mV]")
    below(figure, "hours since the clock start of the cell")
    key(figure, _offset_legend())
    return [
        Drawing(
            "reference-offsets",
            figure,
            "Offset of every reference from its anchor, one line a cell, over time. Bands: suspect "
            f"beyond {as_set(trust.offset_suspect_mV)} mV, lost beyond "
            f"{as_set(trust.offset_lost_mV)} mV (settings; common practice, no source). The axis "
            "is linear up to the limit of loss and logarithmic beyond. From reference_checks "
            "(time_h, value, trust) of the offset check.",
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


def _draw_offsets(axes: Axes, rows: list[Row], cell: str, colour: str) -> bool:
    """Draw one reference; the marker tells the trust that follows from each check."""
    own = [row for row in rows if row["cell"] == cell]
    axes.plot(numbers(own, "time_h"), numbers(own, "value"), color=colour, lw=0.6)
    for state, look in _OFFSET_STATES.items():
        points = [row for row in own if row["trust"] == state]
        axes.plot(
            numbers(points, "time_h"),
            numbers(points, "value"),
            str(look["marker"]),
            color=WARNING if state == "lost" else colour,
            mfc=colour if look["fill"] else "white",
            ms=2.8,
            mew=0.7,
        )
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


SECTION = Section("reference", "References", reference, {"trust": timelines, "reference": offsets})
