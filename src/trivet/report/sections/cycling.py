"""Capacity and electrodes: what each cell and each electrode did, and lithium deposition."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData, Row, by, numbers, where
from trivet.report.frame.section import Section
from trivet.report.frame.style import (
    BATCH_LINES,
    FAINT,
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
    as_set,
    count,
    is_missing,
    plural,
    short,
)


def cycling(data: ReportData) -> dict[str, Any]:
    """What is said beside the figures of capacity and electrodes."""
    cycles = data.rows["cycles"]
    rows = data.rows["electrode_cycles"]
    kinds = [(kind, count(len(own))) for kind, own in sorted(by(cycles, "kind").items())]
    cells = sorted({row["cell"] for row in data.rows["cells"]})
    without = [cell for cell in cells if cell not in {row["cell"] for row in cycles}]
    return {
        "kinds": kinds,
        "from_table": data.settings.lifetime.table,
        "basis": f"{as_set(data.settings.cycling.capacity_basis_mAh)} mAh",
        "origin": data.settings.cycling.capacity_basis_origin,
        "without": without,
        "electrode_cycles": count(len(rows)),
        "withheld": count(len(where(rows, withheld=1))),
        "deposition": deposition(data),
    }


def deposition(data: ReportData) -> str:
    """Say how often lithium deposition was possible, and by which numbers."""
    if data.settings.electrodes.negative.material == "lithium":
        return "The negative is lithium: its minimum says nothing of deposition."
    trust, ohmic = data.settings.trust, data.settings.electrodes.negative_ohmic_ohm
    rows = where(data.rows["electrode_cycles"], electrode="negative")
    counts = {
        state: sum(row["lithium_deposition"] == state for row in rows)
        for state in ("possible", "near", "no")
    }
    corrected = sorted({row["cell"] for row in rows if not is_missing(row["ohmic_ohm"])})
    everyone = {row["cell"] for row in rows}
    how = (
        f"less the ohmic part of {as_set(ohmic)} Ω"
        if ohmic is not None
        else (
            f"less the ohmic part, by the cell's own spectra in {len(corrected)} of "
            f"{plural(len(everyone), 'cell')}, unknown in the others"
        )
    )
    return (
        f"Lowest potential of the negative in a cycle, {how}: below 0 V by more than "
        f"{as_set(trust.deposition_uncertainty_mV)} mV (lithium deposition possible, not proven) "
        f"in {plural(counts['possible'], 'cycle')}, below {as_set(trust.deposition_near_mV)} mV "
        f"(near) in {plural(counts['near'], 'cycle')}, else in {plural(counts['no'], 'cycle')}."
    )


_LARGEST_GRID = 4


_POINTS_PRINTED = 250


def capacity(data: ReportData) -> list[Drawing | Absent]:
    """Draw discharge capacity and retention of every cell, one column a group."""
    if not data.rows["cycles"]:
        return [Absent("capacity", "No capacity: no cell has a cycle.")]
    drawings: list[Drawing | Absent] = []
    for first in range(0, len(data.groups), _LARGEST_GRID):
        groups = data.groups[first : first + _LARGEST_GRID]
        drawings.append(
            _capacity_of(data, groups, "capacity" if first == 0 else f"capacity-{first}")
        )
    return drawings


def _capacity_of(data: ReportData, groups: tuple[str, ...], name: str) -> Drawing:
    """Draw the columns of some groups."""
    figure = new_figure(3.3)
    grid = panels(figure, 2, len(groups), margins=Margins(rows=0.2), sharex=True, sharey="row")
    drawn: list[Row] = []
    for column, group in enumerate(groups):
        style = group_styles(data.groups)[group]
        for cell in data.cells_of(group):
            rows = data.of_cell("cycles", cell)
            line = BATCH_LINES[data.batches.index(data.batch_of[cell]) % len(BATCH_LINES)]
            drawn += _draw_capacity(grid[0][column], grid[1][column], rows, style.colour, line)
        grid[0][column].set_title(short(group, 24))
        limit = data.settings.lifetime.capacity.retention_below
        grid[1][column].axhline(limit, color=WARNING, lw=0.6, ls=(0, (4, 2)))
        grid[1][column].set_xlabel("cycle")
        grid[0][column].set_ylim(bottom=0)
    grid[0][0].set_ylabel("discharge capacity [mAh]")
    grid[1][0].set_ylabel("retention")
    keys = [
        Line2D(
            [], [], color=SOFT, ls=BATCH_LINES[place % len(BATCH_LINES)], label=f"batch {short(b)}"
        )
        for place, b in enumerate(data.batches)
    ]
    keys.append(Line2D([], [], color=WARNING, lw=0.6, ls=(0, (4, 2)), label="end-of-life limit"))
    keys.append(
        Line2D(
            [], [], color=SOFT, marker="o", mfc="white", ms=2.8, lw=0, label="check-up or formation"
        )
    )
    key(figure, keys)
    return Drawing(
        name,
        figure,
        "Above: discharge capacity of complete cycles; rings: check-up and formation cycles at the "
        "low rate. Below: retention of ageing cycles against the "
        f"{data.settings.lifetime.capacity.reference_cycle}; broken line: limit of the end of life "
        f"({as_set(data.settings.lifetime.capacity.retention_below)}, a setting). Each line is a "
        "cell. From cycles (cycle, discharge_capacity_mAh, retention, kind, complete).",
        f"Capacity and retention against cycle for the groups {', '.join(groups)}.",
        drawn,
    )


def _draw_capacity(
    upper: Axes, lower: Axes, rows: list[Row], colour: str, line: object
) -> list[Row]:
    """Draw one cell; returns the rows drawn."""
    whole = [row for row in rows if row["complete"]]
    ageing = _thin(where(whole, kind="ageing"))
    slow = [row for row in whole if row["kind"] in ("check-up", "formation")]
    upper.plot(
        numbers(ageing, "cycle"),
        numbers(ageing, "discharge_capacity_mAh"),
        color=colour,
        ls=line,
        lw=0.8,
    )
    upper.plot(
        numbers(slow, "cycle"),
        numbers(slow, "discharge_capacity_mAh"),
        "o",
        color=colour,
        mfc="white",
        ms=2.4,
        mew=0.6,
    )
    lower.plot(
        numbers(ageing, "cycle"), numbers(ageing, "retention"), color=colour, ls=line, lw=0.8
    )
    names = ("cell", "cycle", "kind", "discharge_capacity_mAh", "retention")
    return [{name: row[name] for name in names} for row in [*ageing, *slow]]


def _thin(rows: list[Row]) -> list[Row]:
    """Every n-th row and the last, down to what print can show."""
    step = -(-len(rows) // _POINTS_PRINTED)
    return [*rows[:: max(step, 1)], *rows[-1:]] if step > 1 else rows


def potentials(data: ReportData) -> list[Drawing | Absent]:
    """Draw the potentials of one cell a group, and of one cell whose values are withheld."""
    curves = by(data.rows["potential_curves"], "cell")
    chosen = _chosen_cells(data, curves)
    if not chosen:
        return [Absent("potentials", "No potential curves: no cell has a complete ageing cycle.")]
    figure = new_figure(4.5)
    grid = panels(
        figure, 3, len(chosen), margins=Margins(rows=0.2, bottom=0.55), sharex="col", sharey="row"
    )
    for column, cell in enumerate(chosen):
        rows = curves[cell]
        for line, name in enumerate(("cell_V", "positive_V", "negative_V")):
            _draw_potential(grid[line][column], rows, name)
        grid[0][column].set_title(f"{short(cell, 16)}\n{short(data.group_of[cell], 22)}")
        grid[2][column].set_xlabel("charge passed in the\nhalf-cycle [mAh]")
    for line, words in enumerate(
        ("cell [V]", "positive against\nreference [V]", "negative against\nreference [V]")
    ):
        grid[line][0].set_ylabel(words)
    names = ("cell", "cycle", "half", "capacity_mAh", "cell_V", "positive_V", "negative_V", "trust")
    return [
        Drawing(
            "potentials",
            figure,
            "Voltage and electrode potentials of single cycles: the first cell of each group whose "
            "reference serves for shapes, in order of batch and name, and one cell whose "
            "potentials are withheld where there is one. Against the reference as measured where "
            "its offset is not known, less the offset where it is corrected. Charge: full lines; "
            "discharge: broken lines; from the first drawn cycle (light) to the last (dark). From "
            "potential_curves (capacity_mAh, cell_V, positive_V, negative_V).",
            f"Three rows of panels, cell voltage and the two potentials, for {', '.join(chosen)}.",
            [{name: row[name] for name in names} for cell in chosen for row in curves[cell]],
        )
    ]


def _chosen_cells(data: ReportData, curves: dict[str, list[Row]]) -> list[str]:
    """First cell of each group with potentials, then one withheld; at most four."""
    shown = {cell for cell, rows in curves.items() if _has(rows, "positive_V")}
    chosen = []
    for group in data.groups:
        of_group = [cell for cell in data.cells_of(group) if cell in shown]
        chosen += of_group[:1]
    withheld = sorted(cell for cell in curves if cell not in shown)
    return chosen[: _LARGEST_GRID - 1] + withheld[:1]


def _has(rows: list[Row], name: str) -> bool:
    """Whether a column has any value."""
    return any(row[name] is not None for row in rows)


def _draw_potential(axes: Axes, rows: list[Row], name: str) -> None:
    """Draw one quantity over the drawn cycles, light to dark."""
    if not _has(rows, name):
        trust = sorted({row["trust"] for row in rows})
        say_in(axes, f"withheld\n(reference {', '.join(trust)})")
        return
    cycles = by(rows, "cycle")
    for place, of_cycle in enumerate(cycles.values()):
        shade = np.linspace(0.68, 0.12, len(cycles))[place] if len(cycles) > 1 else 0.12
        for half, line in (("charge", "solid"), ("discharge", (0, (4, 1.4)))):
            points = where(of_cycle, half=half)
            axes.plot(
                numbers(points, "capacity_mAh"),
                numbers(points, name),
                color=str(shade),
                ls=line,
                lw=0.9,
            )
    axes.grid(axis="y", color=FAINT, lw=0.3)


_PANELS_A_ROW = 3


_LARGEST_ELECTRODE_GRID = 4


_ELECTRODE_POINTS_PRINTED = 250


def shares(data: ReportData) -> list[Drawing | Absent]:
    """Draw the positive's share in the polarisation of every cell, one panel a group."""
    rows = [row for row in _with_time(data) if row["polarisation_share"] is not None]
    if not rows:
        reason = (
            "No shares in polarisation: no cycle has both mean potentials of a trusted reference."
        )
        return [Absent("polarisation", reason)]
    lines = -(-len(data.groups) // _PANELS_A_ROW)
    figure = new_figure(0.6 + 2.1 * lines)
    grid = panels(figure, lines, _PANELS_A_ROW, sharex=True, sharey=True)
    places = [axes for line in grid for axes in line]
    last_h = float(max(numbers(rows, "start_h")))
    drawn: list[Row] = []
    for axes, group in zip(places, data.groups, strict=False):
        colour = group_styles(data.groups)[group].colour
        of_group = [row for cell in data.cells_of(group) for row in where(rows, cell=cell)]
        drawn += _draw_shares(axes, data, of_group, colour)
        if not of_group:
            say_in(axes, "no trusted reference\nin this group")
        axes.axhline(0.5, color=FAINT, lw=0.6)
        axes.set_ylim(0.0, 1.0)
        axes.set_title(short(group, 28))
        week_ticks(axes, last_h)
    for axes in places[len(data.groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("share of the positive")
    below(figure, "hours since the clock start of the cell")
    key(figure, _batches(data))
    return [
        Drawing(
            "polarisation",
            figure,
            "Share of the positive in the polarisation of the cell, ageing cycles, one line a "
            "cell; what is left to 1 is that of the negative. Polarisation is the hysteresis of "
            "charge-weighted mean potentials. Cycles of an untrusted reference are left out. From "
            "electrode_cycles (polarisation_share), cycles (start_h, kind).",
            f"Share between 0 and 1 against time for the groups {', '.join(data.groups)}.",
            drawn,
        )
    ]


def _with_time(data: ReportData) -> list[Row]:
    """Rows of the positive in ageing cycles, each with the time and kind of its cycle."""
    cycles = {(row["cell"], row["cycle"]): row for row in data.rows["cycles"]}
    found = []
    for row in where(data.rows["electrode_cycles"], electrode="positive"):
        cycle = cycles.get((row["cell"], row["cycle"]))
        if cycle is not None and cycle["kind"] == "ageing":
            found.append(row | {"start_h": cycle["start_h"]})
    return found


def _draw_shares(axes: Axes, data: ReportData, rows: list[Row], colour: str) -> list[Row]:
    """Draw the cells of a group; returns the rows drawn."""
    drawn: list[Row] = []
    for cell, own in by(rows, "cell").items():
        step = max(-(-len(own) // _ELECTRODE_POINTS_PRINTED), 1)
        kept = [*own[::step], *own[-1:]] if step > 1 else own
        place = data.batches.index(data.batch_of[cell]) % len(BATCH_LINES)
        axes.plot(
            numbers(kept, "start_h"),
            numbers(kept, "polarisation_share"),
            color=colour,
            ls=BATCH_LINES[place],
            lw=0.8,
        )
        names = ("cell", "cycle", "start_h", "polarisation_share")
        drawn += [{name: row[name] for name in names} for row in kept]
    return drawn


def _batches(data: ReportData) -> list[Line2D]:
    """Entries of the key for the batches."""
    return [
        Line2D(
            [], [], color=SOFT, ls=BATCH_LINES[place % len(BATCH_LINES)], label=f"batch {short(b)}"
        )
        for place, b in enumerate(data.batches)
    ]


def differential(data: ReportData) -> list[Drawing | Absent]:
    """Draw dQ/dV of both electrodes for the first cell of each group with a trusted reference."""
    rows = data.rows["differential_capacity"]
    usable = {row["cell"] for row in rows if row["electrode"] == "positive"}
    chosen = []
    for group in data.groups:
        chosen += [cell for cell in data.cells_of(group) if cell in usable][:1]
    chosen = chosen[:_LARGEST_ELECTRODE_GRID]
    if not chosen:
        reason = "No differential capacity: no slow cycle was seen with a trusted reference."
        return [Absent("differential-capacity", reason)]
    figure = new_figure(3.8)
    grid = panels(figure, 2, len(chosen), margins=Margins(rows=0.42, bottom=0.5), sharey="row")
    drawn: list[Row] = []
    for column, cell in enumerate(chosen):
        for line, electrode in enumerate(("positive", "negative")):
            own = where(rows, cell=cell, electrode=electrode)
            if not own:
                say_in(grid[line][column], "not given for\na negative of lithium")
            drawn += own
            _draw_differential(grid[line][column], own)
        grid[0][column].set_title(f"{short(cell, 16)}\n{short(data.group_of[cell], 22)}")
        grid[1][column].set_xlabel("potential against\nreference [V]")
    for line, electrode in enumerate(("positive", "negative")):
        grid[line][0].set_ylabel(f"{electrode}\ndQ/dV [mAh/V]")
    return [
        Drawing(
            "differential-capacity",
            figure,
            "Differential capacity of the electrodes against their own potentials, first (light) "
            "and last (dark) slow cycle; discharge is drawn downwards. Bins of "
            f"{as_set(data.settings.cycling.differential_bin_V)} V, nothing smoothed: the area is "
            "the charge. From differential_capacity (potential_V, dq_dv_mAh_V).",
            f"Two rows of panels, positive and negative, for {', '.join(chosen)}.",
            drawn,
        )
    ]


def _draw_differential(axes: Axes, rows: list[Row]) -> None:
    """Draw the bins of the cycles as steps, light to dark."""
    cycles = by(rows, "cycle")
    for place, of_cycle in enumerate(cycles.values()):
        shade = np.linspace(0.68, 0.12, len(cycles))[place] if len(cycles) > 1 else 0.12
        for half, sign in (("charge", 1.0), ("discharge", -1.0)):
            points = where(of_cycle, half=half)
            if points:
                potential, height = numbers(points, "potential_V"), numbers(points, "dq_dv_mAh_V")
                axes.vlines(potential, 0.0, sign * height, color=str(shade), lw=0.9)
    axes.axhline(0.0, color=FAINT, lw=0.5)


SECTION = Section(
    "cycling",
    "Capacity and electrodes",
    cycling,
    {
        "capacity": capacity,
        "potentials": potentials,
        "polarisation": shares,
        "differential": differential,
    },
)
