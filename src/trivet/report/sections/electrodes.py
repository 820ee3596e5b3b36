"""The electrodes: share of each in the polarisation, margin to lithium deposition."""

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
    SINCE_START,
    SOFT,
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
    as_set,
    is_missing,
    plural,
    short,
)


def electrodes(data: ReportData) -> dict[str, Any]:
    """What is said of the electrodes beside the figure."""
    return {"deposition": deposition(data)}


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


_PANELS_A_ROW = 3


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
        axes.set_title(short(group, 28))
        time_ticks(axes, last_h)
    for axes in places[len(data.groups) :]:
        axes.set_visible(False)
    grid[0][0].set_ylabel("positive's share of\nthe polarisation of cycles")
    share_axis(grid[0][0], [row["polarisation_share"] for row in drawn])
    below(figure, SINCE_START)
    key(figure, _batches(data))
    return [
        Drawing(
            "polarisation",
            figure,
            "The positive's share of the polarisation of cycles: of the hysteresis of "
            "charge-weighted mean potentials, ageing cycles, one line a cell; what is left to 1 is "
            "the negative's. Single values beyond the axis are cut; cycles of an untrusted "
            "reference are left out. From "
            "electrode_cycles (polarisation_share), cycles (start_h, kind).",
            f"Share against time for the groups {', '.join(data.groups)}.",
            drawn,
        )
    ]


def share_axis(axes: Axes, values: list[float]) -> None:
    """Let an axis of shares span nearly all that was found, and one half; never beyond 0 and 1.

    A cell at its end throws single shares far off; these are cut.
    """
    inner = np.percentile(values, [1.0, 99.0]) if values else [0.5, 0.5]
    low, high = min(float(inner[0]), 0.5), max(float(inner[1]), 0.5)
    room = 0.1 * (high - low) or 0.1
    axes.set_ylim(max(0.0, low - room), min(1.0, high + room))


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


SECTION = Section(
    "electrodes", "Electrodes: margin and polarisation", electrodes, {"polarisation": shares}
)
