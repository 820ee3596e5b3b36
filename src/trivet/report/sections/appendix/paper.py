"""What a paper asks for: the table of results, and the reporting checklist."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from trivet.reasons import Judged
from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.printed import PrintedTable, figure, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import (
    MISSING,
    clock_unit,
    count,
    is_missing,
    median,
    p_value,
    quantity,
    ratio,
)

EFFECT = "time ratio"
_CHECKLIST_WIDTHS = ("17%", "50%", "8%", "25%")
"""Answers are long, and the rule for other tables stops at one length."""


def paper(data: ReportData) -> dict[str, Any]:
    """Table of results as journals ask for it, and the checklist with its score."""
    rows = data.rows["checklist"]
    return {
        "results": _results(data),
        "points": count(sum(row["points"] for row in rows)),
        "known": count(sum(row["known"] for row in rows)),
        "items": count(len(rows)),
        "complete": count(sum(row["known"] == row["points"] for row in rows)),
        "checklist": replace(_checklist(rows), widths=_CHECKLIST_WIDTHS),
    }


def _checklist(rows: list[Row]) -> PrintedTable:
    """One line an item of the checklist."""
    return print_table(
        rows,
        [
            made("item", lambda row: f"{row['item']} {row['topic']}"),
            words("what is known", "answer"),
            made("known", lambda row: f"{row['known']} of {row['points']}", numeric=True),
            made("write down next time", lambda row: row["write_down"] or MISSING),
        ],
        caption="Reporting checklist, a union of published ones for battery papers in our own "
        "words, filled from build sheet, raw data and settings. Names in the last column are "
        "optional columns of the build sheet, unless said otherwise. From checklist.",
        reason="No checklist: the campaign has no cell.",
        sources=("checklist",),
        small=True,
    )


def _results(data: ReportData) -> PrintedTable:
    """One line a group of the primary endpoint: its life, and its contrast with the control."""
    about = {"endpoint": data.settings.comparison.primary_endpoint, "clock": data.clock}
    lives = sorted(
        where(data.rows["life_summary"], **about),
        key=lambda r: (r["factor"] != data.factor, r["factor"], data.place_of(r["group"])),
    )
    compared = where(data.rows["comparisons"], **about)
    unit = clock_unit(data.clock)
    return print_table(
        [_line(row, compared) for row in lives],
        [
            made("group", lambda row: f"{row['factor']}: {row['group']}"),
            figure("cells", "cells", count),
            figure("events", "events", count),
            figure("censored", "censored", count),
            made(f"median life [{unit}]", median, numeric=True),
            made(EFFECT, _effect, numeric=True),
            made("exact p", lambda row: _of(row, "p"), numeric=True),
            made("adjusted p", lambda row: _of(row, "p_adjusted"), numeric=True),
            made("verdict", _verdict),
        ],
        caption=f"Results for a paper: {about['endpoint']} life in {data.clock}. Median with "
        f"{data.confidence} limits; {quantity(EFFECT)} of group over control with its "
        f"{data.confidence} interval (Weibull model; "
        "descriptive where a group has fewer than four ends); two-sided exact permutation "
        "log-rank test, p adjusted over the contrasts by closed testing (more than five: by "
        "Holm's method); a group without a test is the control. From life_summary and comparisons.",
        reason="No results: no included cell has a life.",
        sources=("life_summary", "comparisons"),
        small=True,
    )


def _line(life: Row, compared: list[Row]) -> Row:
    """Row of one group with its test and its effect."""
    own = where(compared, factor=life["factor"], group=life["group"])
    by_measure = {row["measure"]: row for row in own if row["control"] != "all"}
    return {
        **life,
        "censored": life["cells"] - life["events"],
        "test": by_measure.get(Judged.EXACT),
        "effect": by_measure.get(EFFECT),
    }


def _effect(row: Row) -> str:
    """Effect with its limits."""
    if row["test"] is None:
        return "control"
    found = row["effect"]
    if found is None or is_missing(found["estimate"]):
        return "not estimable"
    said = ratio(found["estimate"], found["lower"], found["upper"])
    return f"{said}, descriptive" if found["reason"] else said


def _of(row: Row, name: str) -> str:
    """P of the test of a group."""
    return MISSING if row["test"] is None else p_value(row["test"][name])


def _verdict(row: Row) -> str:
    """Verdict on a group."""
    return MISSING if row["test"] is None else str(row["test"]["verdict"] or MISSING)


SECTION = Section("paper", "For a paper", paper, place=160)
