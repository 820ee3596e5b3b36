"""Contents of the sections on lifetimes and survival."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.printed import PrintedColumn, PrintedTable, made, print_table, words
from trivet.report.frame.wording import (
    MISSING,
    clock_unit,
    interval,
    is_missing,
    median,
    number,
    shown,
)


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
    order = {
        cell: place for place, cell in enumerate(c for g in data.groups for c in data.cells_of(g))
    }
    merged = []
    for pair in sorted(pairs, key=lambda p: order.get(p["cell"], len(order))):
        first = (pair[data.clock] or pair["hours"] or pair["cycles"])[0]
        merged.append({**first, "h": pair["hours"], "n": pair["cycles"]})
    start = "clock start" if endpoint == "cell" else "plating"
    return print_table(
        merged,
        [
            words("cell", "cell"),
            words("group", "group"),
            words("batch", "batch"),
            made("life [h]", lambda r: duration(r["h"]), numeric=True),
            made("known between [h]", lambda r: _bounds(r["h"]), numeric=True),
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
        caption=f"Lives, endpoint {endpoint}, counted from the {start}; '+': the end was not seen. "
        "From lifetimes.",
        reason=f"No lives of the endpoint {endpoint}: no included cell.",
        small=True,
    )


def duration(rows: list[Row]) -> str:
    """Duration with a plus where the end was not seen."""
    if not rows or rows[0]["duration"] is None:
        return MISSING
    return number(rows[0]["duration"], 4) + ("" if rows[0]["observed"] else "+")


def _bounds(rows: list[Row]) -> str:
    """Last time known good and first known bad, where the end was seen."""
    if not rows or not rows[0]["observed"]:
        return MISSING
    return interval(rows[0]["lower"], rows[0]["upper"], 4)


def survival(data: ReportData) -> dict[str, Any]:
    """Numbers at risk, and the summary of each group."""
    primary_first = sorted(
        data.rows["life_summary"],
        key=lambda r: (
            r["endpoint"] != data.settings.comparison.primary_endpoint,
            r["clock"] != data.clock,
        ),
    )
    return {
        "at_risk": {endpoint: _at_risk(data, endpoint) for endpoint in ("cell", "reference")},
        "groups": print_table(
            primary_first,
            [
                made("life of, in", lambda r: f"{r['endpoint']}, {clock_unit(r['clock'])}"),
                made("group", lambda r: f"{r['factor']}: {r['group']}"),
                made("ended of cells", lambda r: f"{r['events']} of {r['cells']}", numeric=True),
                made("median (limits)", median, numeric=True),
                made("restricted mean ± standard error", _restricted, numeric=True),
                made("Weibull shape (limits)", lambda r: _limits(r, "weibull_shape"), numeric=True),
                made("one in ten ended by", lambda r: _limits(r, "b10"), numeric=True),
            ],
            caption="Lives by group, with "
            f"{data.confidence} limits. 'Not reached': the curve, or its "
            "limit, does not fall to one half before the last cell was seen. Restricted means "
            "reach to the shortest follow-up of the groups; they are descriptive, since "
            "their errors are "
            "too small for few cells. The Weibull description takes all causes and batches "
            "together, needs three ends, reaches beyond the data and is descriptive for few cells. "
            "From life_summary.",
            reason="No summary: no included cell has a life.",
            small=True,
        ),
    }


def _restricted(row: Row) -> str:
    """Restricted mean with its error and the time it reaches to."""
    if is_missing(row["restricted_mean"]):
        return MISSING
    if not row["events"]:
        return f"no end seen up to {number(row['restriction_time'])}"
    return (
        f"{number(row['restricted_mean'])} ± {number(row['restricted_mean_se'], 2)} "
        f"up to {number(row['restriction_time'])}"
    )


def _limits(row: Row, name: str) -> str:
    """Value with its limits in brackets."""
    if is_missing(row[name]):
        return MISSING
    return f"{number(row[name])} ({interval(row[f'{name}_lower'], row[f'{name}_upper'])})"


def _at_risk(data: ReportData, endpoint: str) -> PrintedTable:
    """Numbers at risk, groups down and times across."""
    rows = where(data.rows["at_risk"], endpoint=endpoint, clock=data.clock, factor=data.factor)
    times = sorted({row["time"] for row in rows})
    crossed = [
        {"group": group} | {str(row["time"]): row["at_risk"] for row in where(rows, group=group)}
        for group in data.groups
        if where(rows, group=group)
    ]

    def column(time: float) -> PrintedColumn:
        return made(number(time), lambda r: shown(r.get(str(time))), numeric=True)

    return print_table(
        crossed,
        [
            words(f"cells at risk at [{clock_unit(data.clock)}]", "group"),
            *(column(t) for t in times),
        ],
        caption=f"Numbers at risk, endpoint {endpoint}. From at_risk.",
        reason=f"No numbers at risk for the endpoint {endpoint}.",
    )
