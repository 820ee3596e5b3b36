"""What changed since an earlier data cut: the block on page one and the section."""

from __future__ import annotations

import datetime
from typing import Any

from trivet.report.frame.answer import VERDICT_WORDS
from trivet.report.frame.data import ReportData, Row, by, where
from trivet.report.frame.printed import Names, made, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import MISSING, listed, number

_ORDER = (
    "verdict",
    "event",
    "event withdrawn",
    "cause",
    "censoring",
    "start",
    "trust",
    "finding",
)
"""Kinds of changes in the order of print."""
_HEADS = {
    "event": "Ended",
    "event withdrawn": "No longer taken as ended",
    "cause": "Ended, judged otherwise",
    "censoring": "End not seen, and why is new",
    "start": "Newly under observation",
    "trust": "Trust of the reference",
}
_LONGEST = 6
"""Changes of one kind that page one spells out."""


def changes(data: ReportData) -> dict[str, Any]:
    """All changes, a line each, and how to print the report of the earlier cut."""
    before = _cut(data, "before")
    rows = sorted(data.rows["changes"], key=lambda row: _ORDER.index(row["what"]))
    since = f" since the data cut {moment_words(before)}" if before else ""
    return {
        "reason": _why_none(data),
        "setting": before["data_cut"] if before else "",
        "table": print_table(
            rows,
            [
                words("what", "what"),
                made(
                    "cell or contrast",
                    lambda row: row["cell"] or row["contrast"] or "campaign",
                    names=Names.CELL,
                ),
                words("endpoint", "endpoint"),
                words("before", "before"),
                words("now", "after"),
            ],
            caption=f"What changed{since}. Lives in hours; verdicts on the primary clock; of "
            "findings those of a kind that the cell did not have. From changes.",
            reason=f"Nothing changed{since}.",
            sources=("changes",),
            small=True,
        ),
    }


def block(data: ReportData) -> dict[str, Any]:
    """Heading and sentences of page one."""
    before = _cut(data, "before")
    if before is None:
        return {"heading": "Since the last report", "sentences": [_why_none(data)]}
    rows = by(data.rows["changes"], "what")
    lines = [_verdict(data, row) for row in rows.get("verdict", [])]
    lines += [_lives(data, head, rows[what]) for what, head in _HEADS.items() if what in rows]
    found = rows.get("finding", [])
    if found:
        kinds = by(found, "after")
        said = [f"{kind} in {listed(cells)}" if (cells := _cells(own)) else kind
                for kind, own in list(kinds.items())[:_LONGEST]]  # fmt: skip
        rest = len(kinds) - len(said)
        lines.append(f"New findings: {'; '.join(said)}{f'; and {rest} more' if rest else ''}.")
    same = "No event, no new censoring, no change of trust or verdict, no new kind of finding."
    heading = f"Since {moment_words(before)}"
    return {"heading": heading, "sentences": lines or [same]}


def _cells(rows: list[Row]) -> list[str]:
    """Cells that rows are about, in order of name."""
    return sorted({row["cell"] for row in rows if row["cell"]})


def _cut(data: ReportData, cut: str) -> Row | None:
    """Row of a data cut; None where there is none."""
    found = [row for row in where(data.rows["data_cuts"], cut=cut) if row["time_s"] is not None]
    return found[0] if found else None


def _why_none(data: ReportData) -> str:
    """Reason for no comparison; empty where there is one."""
    reasons = [row["reason"] for row in where(data.rows["data_cuts"], cut="before")]
    reason = reasons[0] if reasons else "no earlier data cut is known"
    return f"Not compared with an earlier data cut: {reason}." if reason else ""


def moment_words(row: Row) -> str:
    """Print a data cut: a date as it was set, else the minute in UTC."""
    text = str(row["data_cut"])
    if "T" not in text and " " not in text:
        return text
    moment = datetime.datetime.fromtimestamp(row["time_s"], tz=datetime.UTC)
    return f"{moment:%Y-%m-%d %H:%M} UTC"


def _verdict(data: ReportData, row: Row) -> str:
    """Sentence on a verdict; where one look alone decides, that it has come is the change."""
    before, now = (VERDICT_WORDS.get(row[name], MISSING) for name in ("before", "after"))
    once = data.final and data.settings.comparison.looks == "final"
    why = " (at the planned end)" if once else ""
    return f"{row['contrast']}, {row['endpoint']} life: before {before}, now {now}{why}."


def _lives(data: ReportData, head: str, rows: list[Row]) -> str:
    """Sentence on changes of one kind."""
    said = [_life(data, row) for row in rows[:_LONGEST]]
    rest = len(rows) - len(said)
    return f"{head}: {'; '.join(said)}{f'; and {rest} more' if rest else ''}."


def _life(data: ReportData, row: Row) -> str:
    """One cell with what is known of it now."""
    name = row["cell"]
    if row["what"] == "trust":
        return f"{name} {row['before'] or 'no check'}, now {row['after']}"
    which = " (reference)" if row["endpoint"] == "reference" else ""
    lives = where(data.of_cell("lifetimes", name), endpoint=row["endpoint"], clock="hours")
    now = lives[0] if lives else None
    if now is None or not now["observed"]:
        return f"{name}{which}, {row['after']}"
    return f"{name}{which}, {now['cause']} at {number(now['duration'], 4)} h"


SECTION = Section("changes", "Since the earlier data cut", changes, place=10)
