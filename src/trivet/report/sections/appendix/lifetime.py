"""Lives of the cells: every life on both clocks, and why it ended."""

from __future__ import annotations

from typing import Any

from trivet.reasons import Censored
from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.printed import PrintedTable, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import (
    MISSING,
    interval,
    number,
    shown,
)

_NEVER_SEEN = (Censored.NO_DATA, Censored.NO_TIMES, Censored.NO_CHECK)


def lifetime(data: ReportData) -> dict[str, Any]:
    """Every cell's life on both clocks, and why it ended or why the end was not seen."""
    return {
        "tables": [_lifetime_table(data, endpoint) for endpoint in ("cell", "reference")],
        "primary": data.clock,
    }


def _lifetime_table(data: ReportData, endpoint: str) -> PrintedTable:
    """Lifetimes of one endpoint, one row a cell, both clocks side by side."""
    rows = where(data.rows["lifetimes"], endpoint=endpoint)
    pairs = [
        {clock: where(own, clock=clock) for clock in ("hours", "cycles")} | {"cell": cell}
        for cell, own in by(rows, "cell").items()
    ]
    order = {cell: place for place, cell in enumerate(data.cells)}
    merged = []
    for pair in sorted(pairs, key=lambda p: order.get(p["cell"], len(order))):
        first = (pair[data.clock] or pair["hours"] or pair["cycles"])[0]
        merged.append({**first, "h": pair["hours"], "n": pair["cycles"]})
    start = "start of the clock" if endpoint == "cell" else "plating"
    return print_table(
        merged,
        [
            words("cell", "cell"),
            words("group", "group"),
            words("batch", "batch"),
            made("life [h]", lambda r: duration(r["h"]), numeric=True),
            made("end lies between [h]", lambda r: _bounds(r["h"]), numeric=True),
            made("life [cycles]", lambda r: duration(r["n"]), numeric=True),
            made(
                "end",
                lambda r: shown(
                    r["cause"] if r["observed"] else f"not seen: {shown(r['censored_because'])}"
                ),
            ),
            words("decided by", "decided_by"),
            words("evidence", "evidence"),
        ],
        caption=f"Lives, endpoint {endpoint}, counted from the {start}; '+': the end was not seen; "
        "a dash: nothing of it was observed, and it counts as censored at 0. From lifetimes.",
        reason=f"No life of the endpoint {endpoint} was observed.",
        sources=("lifetimes",),
        small=True,
    )


def duration(rows: list[Row]) -> str:
    """Duration with a plus where the end was not seen; a dash where nothing was observed."""
    if not rows or rows[0]["duration"] is None or never_seen(rows[0]):
        return MISSING
    return number(rows[0]["duration"], 4) + ("" if rows[0]["observed"] else "+")


def never_seen(row: Row) -> bool:
    """Whether a life counts as censored at 0 since nobody observed any of it."""
    return not row["duration"] and row["censored_because"] in _NEVER_SEEN


def _bounds(rows: list[Row]) -> str:
    """Last time known good and first known bad, where the end was seen."""
    if not rows or not rows[0]["observed"]:
        return MISSING
    return interval(rows[0]["lower"], rows[0]["upper"], 4)


SECTION = Section("lifetime", "Lives of the cells", lifetime, place=40)
