"""Rows of the tables on reports issued, from the register and the report that is made."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from trivet.campaign.register.differences import Difference, differences
from trivet.campaign.register.entry import contrast_of
from trivet.campaign.register.late import issued_on, late_decisions
from trivet.schema.findings.finding import Finding
from trivet.schema.findings.register import CHECK
from trivet.store.register_file import REGISTER_FILE, Entry, Register, without_time

Row = dict[str, Any]
_NUMBERS = ("p", "p_adjusted", "cells", "events", "control_cells", "control_events")


def issued_before(register: Register, now: Entry) -> tuple[Entry, ...]:
    """Reports issued before this one: the last entry is this one where it says the same.

    So a report that is made again, after a kill or on another machine, compares itself with the
    same one as when it was made first.

    Parameters
    ----------
    register : Register
        What the register holds.
    now : dict
        The entry of the report that is made.
    """
    entries = register.entries
    if entries and without_time(entries[-1]) == without_time(now):
        return entries[:-1]
    return entries


def reports_issued(entries: Sequence[Entry], now: Entry) -> list[Row]:
    """Rows of the table of this name.

    Parameters
    ----------
    entries : sequence of dict
        Reports issued before, the oldest first.
    now : dict
        The entry of the report that is made. Where its data cut lies before that of one of them,
        verdicts of the report that told the state at this cut get the verdict of now beside.
    """
    again = {contrast_of(row): row for row in now["verdicts"]}
    past = _of_this_cut(entries, now)
    rows = []
    for number, entry in enumerate(entries, start=1):
        base = {"report": number, "issued": issued_on(entry), "data_cut": entry["data_cut"]}
        base |= dict.fromkeys(("endpoint", "factor", "group", "control"), "")
        if not entry["verdicts"]:
            rows.append(base)
        for verdict in entry["verdicts"]:
            row = base | {name: verdict[name] for name in _NUMBERS}
            endpoint, factor, group, control = contrast_of(verdict)
            row |= {"endpoint": endpoint, "factor": factor, "group": group, "control": control}
            row |= {"clock": verdict["clock"], "verdict": verdict["verdict"]}
            if entry is past:
                now_row = again.get(contrast_of(verdict), {})
                row |= {
                    "verdict_again": now_row.get("verdict", ""),
                    "p_again": now_row.get("p"),
                    "differs": int(now_row.get("verdict", "") != verdict["verdict"]),
                }
            rows.append(row)
    return rows


def _of_this_cut(entries: Sequence[Entry], now: Entry) -> Entry | None:
    """Find the report that told the state at a past data cut, as it was issued first."""
    cut_s = now["data_cut_s"]
    placed = [entry for entry in entries if entry["data_cut_s"] is not None]
    if cut_s is None or not any(entry["data_cut_s"] > cut_s for entry in placed):
        return None
    told = [entry for entry in placed if entry["data_cut_s"] <= cut_s]
    return max(told, key=lambda entry: float(entry["data_cut_s"]), default=None)


def input_changes(entries: Sequence[Entry], now: Entry, *, time_zone: str) -> list[Row]:
    """Rows of the table of this name: from each report to the next, and from the last to now.

    Parameters
    ----------
    entries, now
        As for `reports_issued`.
    time_zone : str
        IANA name of the zone in which times of the bench log are written.
    """
    zone = ZoneInfo(time_zone)
    rows = []
    steps = [*pairwise(entries), *((entry, None) for entry in entries[-1:])]
    for number, (then, later) in enumerate(steps, start=1):
        about = {
            "report": number,
            "since": issued_on(then),
            "until": issued_on(later) if later is not None else "",
        }
        found = differences(then, later if later is not None else now)
        rows += [
            about | {"place": place} | _columns(what, zone)
            for place, what in enumerate(found, start=1)
        ]
    return rows


def late_rows(entries: Sequence[Entry], now: Entry, *, time_zone: str) -> list[Row]:
    """Rows of the table `late_decisions`.

    Parameters
    ----------
    entries, now, time_zone
        As for `input_changes`.
    """
    zone = ZoneInfo(time_zone)
    return [
        dict(zip(("endpoint", "factor", "group", "control"), late.contrast, strict=True))
        | {
            "place": place,
            "seen": late.seen.value,
            "reported": late.reported,
            "report": late.report,
            "reported_on": issued_on(entries[late.report - 1]),
        }
        | _columns(late.difference, zone)
        for place, late in enumerate(late_decisions(entries, now), start=1)
    ]


def _columns(what: Difference, zone: ZoneInfo) -> Row:
    """Say a difference in columns."""
    at = ""
    if what.time_s is not None:
        at = f"{datetime.fromtimestamp(what.time_s, zone):%Y-%m-%d %H:%M}"
    return {
        "kept": what.kept.value,
        "step": what.step.value,
        "name": what.name,
        "cell": what.cell,
        "at": at,
        "before": what.before,
        "after": what.after,
        "why": what.why,
    }


def damaged_lines(register: Register) -> list[Finding]:
    """Findings on lines of the register that can't be read."""
    return [
        Finding(
            cell="",
            check=CHECK,
            severity="caution",
            message=f"Line {line} of {REGISTER_FILE} can't be read as a report issued: {why}.",
            action="line kept as it stands, all others used",
            file=REGISTER_FILE,
            line=line,
        )
        for line, why in register.damaged
    ]
