"""Several campaigns side by side: tables in words, the lives over data cuts, one page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from matplotlib import dates
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from trivet.report.figure_list import Plate, plate_of
from trivet.report.frame import wording
from trivet.report.frame.data import NO_DATE, Row
from trivet.report.frame.printed import (
    PrintedColumn,
    PrintedTable,
    figure,
    made,
    print_table,
    words,
)
from trivet.report.frame.style import (
    Absent,
    Drawing,
    GroupStyle,
    group_styles,
    key,
    look,
    new_figure,
    panels,
)
from trivet.report.render import environment, own_parts, printed

_SHARES = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0)
"""Shares of the rows that are tried until they fit on one page."""
_FEWEST_CUTS = 2
_DAY_S = 86_400
_ASIDE = 0.006
"""How far groups of one data cut are drawn apart, as a share of the time drawn."""


@dataclass(frozen=True)
class Overview:
    """Campaigns side by side, the earliest data cut first.

    Attributes
    ----------
    campaigns : tuple of dict
        `name, folder, question, variants, data_cut, moment, built, included, ended, running,
        interim, invented`; `moment` is in seconds since 1970, None where no time is known.
    verdicts : tuple of dict
        `name, factor, group, control, verdict, p, cells, events, control_cells, control_events`.
    lives : tuple of dict
        `name, moment, factor, group, endpoint, clock` and the columns of `life_summary`; in order
        of factor and group, so that those of a group over data cuts follow each other.
    """

    campaigns: tuple[Row, ...]
    verdicts: tuple[Row, ...]
    lives: tuple[Row, ...]


def tables(overview: Overview) -> list[PrintedTable]:
    """Campaigns, verdicts and lives in words."""
    return [
        print_table(
            overview.campaigns,
            [
                words("campaign", "name"),
                made("data cut", _cut),
                words("question", "question"),
                words("variants, the control first", "variants"),
                figure("built", "built", wording.count),
                figure("count", "included", wording.count),
                figure("ended", "ended", wording.count),
                figure("running", "running", wording.count),
                made("remarks", _remarks),
            ],
            caption="Campaigns by data cut; cells that were built, that count, that have ended, "
            "that still run.",
            reason="No campaign.",
            small=True,
        ),
        print_table(
            overview.verdicts,
            _verdict_columns(),
            caption="Verdicts of the primary comparisons; p over all contrasts of a campaign.",
            reason="Nothing was compared.",
            small=True,
        ),
        print_table(
            overview.lives,
            [
                words("factor", "factor"),
                words("group", "group"),
                made("data cut", lambda row: _date(row["moment"])),
                words("campaign", "name"),
                words("life of", "endpoint"),
                made("median, with limits", wording.median, numeric=True),
                made("unit", lambda row: wording.clock_unit(row["clock"])),
                figure("cells", "cells", wording.count),
                figure("ended", "events", wording.count),
            ],
            caption="Lives by group, over data cuts. Groups of the same name may have been built "
            "unlike: nothing is tested across campaigns.",
            reason="No life is known.",
            small=True,
        ),
    ]


def _verdict_columns() -> list[PrintedColumn]:
    """Columns of the verdicts."""
    return [
        words("campaign", "name"),
        words("factor", "factor"),
        made("contrast", lambda row: f"{row['group']} against {row['control']}"),
        words("verdict", "verdict"),
        figure("p", "p", wording.p_value),
        made("ended", lambda row: f"{row['events']} of {row['cells']} against "
             f"{row['control_events']} of {row['control_cells']}"),
    ]  # fmt: skip


def _remarks(row: Row) -> str:
    """What must be known of a campaign's verdicts."""
    said = ["interim"] if row["interim"] else []
    return ", ".join([*said, "invented"] if row["invented"] else said)


def _cut(row: Row) -> str:
    """Data cut as a day, or why there is none."""
    return str(row["data_cut"]) if row["moment"] is None else _date(row["moment"])


def _date(moment: float | None) -> str:
    """Day of a data cut, UTC."""
    if moment is None:
        return wording.MISSING
    return f"{datetime.fromtimestamp(moment, UTC):%Y-%m-%d}"


def trend(overview: Overview) -> Drawing | Absent:
    """Draw the median life of each group over the data cuts of campaigns."""
    name = "lives-over-data-cuts"
    lives = [row for row in overview.lives if row["moment"] is not None]
    kinds = sorted({(row["endpoint"], row["clock"]) for row in lives})
    if len({row["moment"] for row in lives}) < _FEWEST_CUTS:
        return Absent(name, "No trend is drawn: it needs campaigns of two data cuts at least.")
    groups = list(dict.fromkeys(f"{row['factor']}: {row['group']}" for row in lives))
    styles = group_styles(groups)
    moments = [row["moment"] for row in lives]
    step = _ASIDE * (max(moments) - min(moments))
    drawn = new_figure(2.2)
    (row_of_axes,) = panels(drawn, 1, len(kinds))
    for axes, (endpoint, clock) in zip(row_of_axes, kinds, strict=True):
        axes.set_ylabel(f"{endpoint} life [{wording.clock_unit(clock)}]")
        chosen = [row for row in lives if (row["endpoint"], row["clock"]) == (endpoint, clock)]
        for place, group in enumerate(groups):
            own = [row for row in chosen if f"{row['factor']}: {row['group']}" == group]
            _draw(axes, own, styles[group], step * (place - (len(groups) - 1) / 2))
        axes.set_ylim(bottom=0)
        locator: Any = dates.AutoDateLocator
        formatter: Any = dates.DateFormatter
        axes.xaxis.set_major_locator(locator(maxticks=6))
        axes.xaxis.set_major_formatter(formatter("%Y-%m-%d", tz=UTC))
    key(drawn, [Line2D([], [], color=style.colour, ls=style.line, marker=style.marker, label=group)
                for group, style in styles.items()])  # fmt: skip
    caption = (
        "Median life by group over the data cuts of campaigns, with its limits; a hollow sign "
        "stands at the lower limit of a median that was not reached. From life_summary."
    )
    return Drawing(name, drawn, caption, caption, lives)


def _draw(axes: Axes, rows: Sequence[Row], style: GroupStyle, aside: float) -> None:
    """Draw one group, so far aside [s] that groups of one data cut are told apart."""
    days = [(row["moment"] + aside) / _DAY_S for row in rows]
    reached = [(day, row) for day, row in zip(days, rows, strict=True) if row["median"] is not None]
    axes.plot([day for day, _ in reached], [row["median"] for _, row in reached],
              color=style.colour, linestyle=style.line, marker=style.marker)  # fmt: skip
    for day, row in zip(days, rows, strict=True):
        lower, upper = row["median_beta_lower"] or row["median_lower"], row["median_beta_upper"]
        if row["median"] is None and lower:
            axes.plot([day], [lower], color=style.colour, marker=style.marker, mfc="white",
                      linestyle="none")  # fmt: skip
        elif row["median"] is not None:
            ends = [lower or row["median"], row["median"] if upper is None else upper]
            axes.plot([day, day], ends, color=style.colour)


def overview_pdf(overview: Overview) -> bytes:
    """Print campaigns side by side on one page; what does not fit is counted, the oldest first.

    Parameters
    ----------
    overview : Overview
        The campaigns.
    """
    with look():
        plate = plate_of(trend(overview), {})
    for share in _SHARES:
        pdf, pages = printed(*_page(overview, plate, share))
        if pages == 1:
            break
    return pdf


def _page(
    overview: Overview, plate: Plate, share: float
) -> tuple[str, dict[str, tuple[bytes, str]]]:
    """HTML with a share of the rows, and its parts."""
    kept = Overview(
        _latest(overview.campaigns, share),
        _latest(overview.verdicts, share),
        _latest(overview.lives, share),
    )
    left = [
        f"{len(whole) - len(some)} of {len(whole)} {noun}"
        for whole, some, noun in (
            (overview.campaigns, kept.campaigns, "campaigns"),
            (overview.verdicts, kept.verdicts, "verdicts"),
            (overview.lives, kept.lives, "lives of groups"),
        )
        if len(some) < len(whole)
    ]
    moments = [row["moment"] for row in overview.campaigns if row["moment"] is not None]
    last = datetime.fromtimestamp(max(moments), UTC) if moments else NO_DATE
    invented = [row["name"] for row in overview.campaigns if row["invented"]]
    html = environment().get_template("overview.html.j2").render(
        date=f"{last:%Y-%m-%dT%H:%M:%SZ}",
        last_cut=_date(max(moments, default=None)),
        mark=f"Invented data: {wording.listed(invented)}." if invented else "",
        tables=tables(kept),
        plate=plate,
        left_out=f"Not on this page, but in the tables beside it: {', '.join(left)}."
        if left else "",
    )  # fmt: skip
    return html, own_parts({"overview": [plate]})


def _latest(rows: tuple[Row, ...], share: float) -> tuple[Row, ...]:
    """Rows of the latest data cuts, in the order in which they stand."""
    most = math.ceil(share * len(rows))
    newest = sorted(range(len(rows)), key=lambda at: rows[at]["moment"] or 0.0, reverse=True)
    return tuple(rows[at] for at in sorted(newest[:most]))
