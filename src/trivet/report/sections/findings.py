"""Findings that need a hand: what to do, at which cell, and what was noticed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from trivet.reasons import Censored, Hand
from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.printed import MOST_CELLS_NAMED, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import count, listed, plural
from trivet.schema.findings.hands import AT_THE_CELL, HIDDEN_BY_LEADS, hand_of

SEVERITIES = ("fault", "caution", "note")
MEANINGS = {
    "fault": "a number or a cell is lost or wrong, and a hand is needed",
    "caution": "believe it less",
    "note": "done for you",
}
"""What each severity asks of the reader."""

HEADS = {
    Hand.EXCHANGE: "look, then add a line to the bench log",
    Hand.TURN: "turn a lead",
    Hand.FILES: "find the files",
    Hand.READ: "look into the files",
    Hand.REPLATE: "plate anew",
    Hand.TOUCH: "look for a touch",
    Hand.CLIP: "check the clip",
    Hand.NAME_ANCHOR: "name a potential in the settings",
    Hand.ANCHOR: "add a rest",
    Hand.LOG_END: "log why it ended",
    Hand.LOG_STOP: "log why it was stopped",
    Hand.LOG: "mend the bench log",
    Hand.SHEET: "mend the build sheet",
    Hand.SPECTRA_TIME: "give the time",
    Hand.LOOK: "look at it",
}
"""What to do, as briefly as the head of a row; every hand has its words."""


_WIDTHS = ("14%", "9%", "52%", "25%")


@dataclass(frozen=True)
class Task:
    """What a hand is needed for, and where.

    Attributes
    ----------
    hand : Hand
        What to do.
    cells : list of str
        Cells in order of name; `the campaign` where a finding is about no cell.
    findings : list of dict
        Findings behind it, the gravest first.
    """

    hand: Hand
    cells: list[str]
    findings: list[Row]


def tasks(data: ReportData) -> list[Task]:
    """Tasks that follow from the findings, in the order of `Hand`.

    What is done at a cell is asked of running cells only, and nothing of excluded ones; what
    exchanged leads explain goes with them.
    """
    running = {
        row["cell"]
        for row in where(data.rows["lifetimes"], endpoint="cell", clock="hours")
        if row["censored_because"] in (Censored.RUNNING, Censored.PAUSED)
    }
    excluded = {row["cell"] for row in where(data.rows["cells"], included=0)}
    asked: list[tuple[Hand, Row]] = []
    for level in SEVERITIES:
        for row in where(data.rows["findings"], severity=level):
            hand = hand_of(row["check"], row["severity"], file=row["file"] or "")
            if hand is not None and row["cell"] not in excluded:
                asked.append((hand, row))
    leads = {row["cell"] for hand, row in asked if hand in (Hand.EXCHANGE, Hand.TURN)}
    kept = [
        (hand, row)
        for hand, row in asked
        if not (hand in HIDDEN_BY_LEADS and row["cell"] in leads)
        and not (hand in AT_THE_CELL and row["cell"] and row["cell"] not in running)
    ]
    made_of = {hand: [row for own, row in kept if own is hand] for hand in Hand}
    return [
        Task(hand, sorted({row["cell"] or "the campaign" for row in rows}), rows)
        for hand, rows in made_of.items()
        if rows
    ]


def findings(data: ReportData) -> dict[str, Any]:
    """What needs a hand, a line each task and cell; the counts of all findings."""
    asked, lines = tasks(data), []
    for task in asked:
        for cell in task.cells:
            own = [row for row in task.findings if (row["cell"] or "the campaign") == cell]
            lines.append({"do": HEADS[task.hand], "cell": cell, "seen": _said(own, "message"),
                          "done": _said(own, "action")})  # fmt: skip
    found = data.rows["findings"]
    shown = {id(row) for task in asked for row in task.findings}
    beyond = sorted(
        {row["cell"] or "the campaign" for row in where(found, severity="fault")
         if id(row) not in shown}
    )  # fmt: skip
    return {
        "counts": [
            (level, _how_many(where(found, severity=level)), MEANINGS[level])
            for level in SEVERITIES
        ],
        "beyond": listed(beyond, 12),
        "table": replace(
            print_table(
                together(lines, ("do", "seen", "done")),
                [
                    words("what to do", "do"),
                    words("cell", "cell"),
                    words("what was noticed", "seen"),
                    words("what was done so far", "done"),
                ],
                caption="Findings that need a hand; what is done at a cell is asked of running "
                "cells only. All findings stand in the table of that name. From findings.",
                reason="No finding needs a hand.",
                sources=("findings",),
            ),
            widths=_WIDTHS,
        ),
    }


def together(rows: list[Row], names: Sequence[str]) -> list[Row]:
    """Rows that say the same of several cells as one line that names them.

    Parameters
    ----------
    rows : list of dict
        Rows, each of a cell or of the campaign.
    names : sequence of str
        What makes two rows the same.
    """
    groups: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        key = tuple("" if row[name] is None else row[name] for name in names)
        groups.setdefault(key, []).append(row)
    lines = []
    for own in groups.values():
        cells = [row["cell"] or "campaign" for row in own]
        lines.append(own[0] | {"cell": listed(cells, MOST_CELLS_NAMED), "cells": cells})
    return lines


def _how_many(rows: list[Row]) -> str:
    """Findings of a severity, and in how many cells they are."""
    cells = {row["cell"] for row in rows if row["cell"]}
    return count(len(rows)) + (f" in {plural(len(cells), 'cell')}" if cells else "")


def _said(rows: list[Row], name: str) -> str:
    """Texts of a column, each once, in order."""
    return " ".join(dict.fromkeys(str(row[name]) for row in rows))


SECTION = Section("findings", "Findings that need a hand", findings, place=110)
