"""Comparisons: verdicts in words, tests and effects."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.wording import (
    MISSING,
    clock_unit,
    interval,
    is_missing,
    number,
    p_value,
)
from trivet.report.sections.front import PRIMARY_MEASURE, why_no_contrast

_GRAY = "Gray: "
_CONTRAST = ("endpoint", "clock", "factor", "group", "control")
DOUBTS = ("imputation-permutation", "bound:", "Gray:")
"""How the names of these measures begin."""


def contrast_words(row: Row) -> str:
    """Say what these cells could have shown at best."""
    smallest = p_value(row["smallest_attainable_p"])
    return f"The smallest p that these cells could have given: {smallest}."


def verdict_title(row: Row) -> str:
    """What is compared, in words."""
    return f"{row['group']} against {row['control']}, {row['endpoint']} life in {row['clock']}"


def comparison(data: ReportData) -> dict[str, Any]:
    """All contrasts, a line each, and the verdicts on the primary clock in words."""
    rows = data.rows["comparisons"]
    primary = [row for row in rows if row["measure"] == PRIMARY_MEASURE]
    return {
        "tests": _contrasts(data, rows),
        "doubts": _doubts(data, rows),
        "reasons": [row for row in primary if row["clock"] == data.clock and row["verdict"]],
    }


def _contrasts(data: ReportData, rows: list[Row]) -> PrintedTable:
    """One line a contrast: its test, and its effects side by side."""
    lines: dict[tuple[str, ...], Row] = {}
    for row in rows:
        key = tuple(row[name] for name in ("endpoint", "clock", "factor", "group", "control"))
        line = lines.setdefault(key, {**row, "verdict": "", "by": {}})
        line["by"][row["measure"]] = row
        line["verdict"] = line["verdict"] or row["verdict"]
    primary_first = sorted(
        lines.values(),
        key=lambda r: (
            r["endpoint"] != data.settings.comparison.primary_endpoint,
            r["clock"] != data.clock,
        ),
    )
    return print_table(
        primary_first,
        [
            made("life of, in", lambda r: f"{r['endpoint']}, {clock_unit(r['clock'])}"),
            made("contrast", _contrast),
            made("ended of cells", _ended, numeric=True),
            made("exact p", lambda r: _of(r, PRIMARY_MEASURE, "p"), numeric=True),
            made("after Holm", lambda r: _of(r, PRIMARY_MEASURE, "p_adjusted"), numeric=True),
            made(
                "smallest p",
                lambda r: _of(r, PRIMARY_MEASURE, "smallest_attainable_p"),
                numeric=True,
            ),
            made("time ratio", lambda r: _effect(r, "time ratio"), numeric=True),
            made("hazard ratio", lambda r: _effect(r, "hazard ratio"), numeric=True),
            made("verdict", lambda r: _verdict(data, r)),
        ],
        caption="Contrasts: the exact log-rank test, and effects of group over control with their "
        f"{data.confidence} intervals. 'Smallest p': what the clearest "
        "possible result would give with these cells and ends. A dash: no such number, the reason "
        "stands in the table. Holm's correction covers the contrasts of one endpoint, clock and "
        "factor; factors, clocks and endpoints are not joined. The table "
        "also has the asymptotic test, lognormal time ratios and differences of restricted "
        "means. Hazard ratios are descriptive, and so are time ratios where a group has fewer "
        "than four ends. From comparisons.",
        reason="No comparison was made: " + why_no_contrast(data) + ".",
        small=True,
    )


def _doubts(data: ReportData, rows: list[Row]) -> PrintedTable:
    """Tests that may turn a verdict, and those of single causes, on the primary clock."""
    shown = [
        row
        for row in rows
        if row["measure"].startswith(DOUBTS) and row["clock"] == data.clock and row["p"] is not None
    ]
    return print_table(
        _causes_together(shown),
        [
            words("life of", "endpoint"),
            made("contrast", _contrast),
            words("what", "measure"),
            figure("p", "p", p_value),
            made("time ratio", _ratio, numeric=True),
        ],
        caption="What may turn a verdict: the test for groups that were not followed alike, and "
        "the contrast with the cells that a person stopped taken as ended in one group and never "
        "ending in the other; and Gray's tests of single causes (asymptotic, descriptive). From "
        "comparisons.",
        reason="Nothing that may turn a verdict: groups were followed alike, no person stopped a "
        "cell, and there are not several causes.",
        small=True,
    )


def _causes_together(rows: list[Row]) -> list[Row]:
    """Gray's tests of a contrast on one line, each cause with its p."""
    lines: list[Row] = []
    for row in rows:
        if not row["measure"].startswith(_GRAY):
            lines.append(row)
            continue
        same = [name for name in _CONTRAST if lines and lines[-1][name] != row[name]]
        words = f"{row['measure'].removeprefix(_GRAY)} {p_value(row['p'])}"
        if lines and not same and lines[-1]["measure"].startswith(_GRAY):
            lines[-1]["measure"] += f"; {words}"
        else:
            lines.append({**row, "measure": f"{_GRAY}p of {words}", "p": None})
    return lines


def _ratio(row: Row) -> str:
    """Time ratio with its limits, where the row has one."""
    if is_missing(row["estimate"]):
        return MISSING
    return f"{number(row['estimate'])} ({interval(row['lower'], row['upper'])})"


def _verdict(data: ReportData, row: Row) -> str:
    """Verdict on the primary clock; the other clock is a sensitivity and decides nothing."""
    if not row["verdict"]:
        return MISSING
    return str(row["verdict"]) if row["clock"] == data.clock else "sensitivity only"


def _contrast(row: Row) -> str:
    """Groups compared, with their factor."""
    if row["control"] == "all":
        return f"{row['factor']}: all groups"
    return f"{row['factor']}: {row['group']} / {row['control']}"


def _ended(row: Row) -> str:
    """Ends and cells of both groups; of all of them together for an overall test."""
    own = f"{row['events']} of {row['cells']}"
    if row["control"] == "all":
        return own
    return f"{own} / {row['control_events']} of {row['control_cells']}"


def _of(row: Row, measure: str, name: str) -> str:
    """Print a p of a measure of a contrast."""
    found = row["by"].get(measure)
    return MISSING if found is None else p_value(found[name])


def _effect(row: Row, measure: str) -> str:
    """Effect with its limits in brackets."""
    found = row["by"].get(measure)
    if found is None or is_missing(found["estimate"]):
        return MISSING
    return f"{number(found['estimate'])} ({interval(found['lower'], found['upper'])})"
