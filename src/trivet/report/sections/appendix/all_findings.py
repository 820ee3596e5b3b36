"""Findings: what was noticed about the data, and what was done about it."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, where
from trivet.report.frame.printed import (
    PrintedTable,
    figure,
    made,
    print_table,
    words,
)
from trivet.report.frame.section import Section
from trivet.report.frame.wording import MISSING, count, number, unit
from trivet.report.sections.findings import SEVERITIES, together

_ALIKE = ("severity", "cell", "check", "action")
_SAME = ("severity", "check", "message", "action", "value", "limit", "file")


def all_findings(data: ReportData) -> dict[str, Any]:
    """Findings by severity, the gravest first, up to the number that the settings allow."""
    ordered = [row for level in SEVERITIES for row in where(data.rows["findings"], severity=level)]
    lines, limit = together(alike_together(ordered), _SAME), data.settings.report.findings_listed
    return {
        "counts": [
            (level, count(len(where(ordered, severity=level))))
            for level in SEVERITIES
            if where(ordered, severity=level)
        ],
        "rest": count(len(lines[limit:])) if lines[limit:] else "",
        "kinds": _kinds(ordered),
        "table": print_table(
            lines[:limit],
            [
                words("severity", "severity"),
                words("cell", "cell"),
                words("check", "check"),
                made("value (limit)", _value_and_limit, numeric=True),
                made("what was noticed", _with_place),
                words("what was done", "action"),
            ],
            caption="Findings, the gravest first; of many alike in a cell the first; the same of "
            "several cells once. From findings.",
            reason="No findings.",
            sources=("findings",),
            small=True,
        ),
    }


def alike_together(rows: list[Row]) -> list[Row]:
    """Findings in their order; of many of one check in a cell the first, with a count."""
    groups: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        groups.setdefault(tuple(row[name] for name in _ALIKE), []).append(row)
    lines = []
    for own in groups.values():
        more = f" And {len(own) - 1} more of this check in this cell." if len(own) > 1 else ""
        lines.append({**own[0], "message": f"{own[0]['message']}{more}"})
    return lines


def _kinds(rows: list[Row]) -> PrintedTable:
    """Count findings by check and severity."""
    pairs = sorted({(row["severity"], row["check"]) for row in rows}, key=_by_severity)
    counted = [
        {
            "severity": level,
            "check": check,
            "findings": len(where(rows, severity=level, check=check)),
            "cells": len({row["cell"] for row in where(rows, severity=level, check=check)}),
        }
        for level, check in pairs
    ]
    return print_table(
        counted,
        [
            words("severity", "severity"),
            words("check", "check"),
            figure("findings", "findings", count),
            figure("cells", "cells", count),
        ],
        caption="Findings by check. From findings.",
        reason="No findings.",
        sources=("findings",),
    )


def _by_severity(pair: tuple[str, str]) -> tuple[int, str]:
    """Order of a pair of severity and check."""
    return SEVERITIES.index(pair[0]), pair[1]


def _value_and_limit(row: Row) -> str:
    """Value, limit and unit of a finding."""
    if row["value"] is None:
        return MISSING
    limit = f" ({number(row['limit'])})" if row["limit"] is not None else ""
    return f"{number(row['value'])}{limit} {unit(row['unit'])}".strip()


def _with_place(row: Row) -> str:
    """Message with file and line."""
    place = row["file"] if row["line"] is None else f"{row['file']}, line {row['line']}"
    return f"{row['message']} ({place})" if row["file"] else str(row["message"])


SECTION = Section("all_findings", "All findings", all_findings, place=140)
