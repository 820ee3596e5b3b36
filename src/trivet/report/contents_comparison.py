"""Comparisons: verdicts in words, tests and effects."""

from __future__ import annotations

from typing import Any

from trivet.report.contents_front import PRIMARY_MEASURE, why_no_contrast
from trivet.report.data import ReportData, Row
from trivet.report.printed import PrintedColumn, PrintedTable, figure, made, print_table, words
from trivet.report.wording import clock_unit, interval, number, p_value, plural, shown


def contrast_words(row: Row) -> str:
    """Line of numbers beneath a verdict."""
    return (
        f"{row['events']} of {plural(row['cells'], 'cell')} ended against "
        f"{row['control_events']} of {row['control_cells']}; "
        f"{row['measure']} p = {p_value(row['p'])}, adjusted "
        f"{p_value(row['p_adjusted'])}; smallest p these numbers can give: "
        f"{p_value(row['smallest_attainable_p'])}"
    ).replace("= <", "<")


def verdict_title(row: Row) -> str:
    """What is compared, in words."""
    return f"{row['group']} against {row['control']}, {row['endpoint']} life in {row['clock']}"


def comparison(data: ReportData) -> dict[str, Any]:
    """All comparisons with their effects."""
    rows = data.rows["comparisons"]
    contrast = made("contrast", lambda r: f"{r['group']} / {r['control']}")
    ended = made(
        "ended of cells",
        lambda r: f"{r['events']} of {r['cells']} / {r['control_events']} of {r['control_cells']}",
        numeric=True,
    )
    return {
        "tests": print_table(
            [row for row in rows if row["p"] is not None or row["measure"] == PRIMARY_MEASURE],
            [
                words("endpoint", "endpoint"),
                made("clock", lambda r: clock_unit(r["clock"])),
                words("factor", "factor"),
                contrast,
                words("test", "measure"),
                ended,
                figure("p", "p", p_value),
                figure("adjusted", "p_adjusted", p_value),
                figure("smallest p", "smallest_attainable_p", p_value),
                made("verdict", lambda r: shown(r["verdict"])),
            ],
            caption="Tests. 'Smallest p' is the least that these numbers of cells and ends can "
            "give; 'adjusted' is after Holm. From comparisons.",
            reason="No comparison was made: " + why_no_contrast(data) + ".",
            small=True,
        ),
        "reasons": [row for row in rows if row["measure"] == PRIMARY_MEASURE and row["reason"]],
        "effects": _effects(data, contrast),
    }


def _effects(data: ReportData, contrast: PrintedColumn) -> PrintedTable:
    """Table of the effects with their limits, or the reason for a missing one."""
    rows = [row for row in data.rows["comparisons"] if "log-rank" not in row["measure"]]
    return print_table(
        rows,
        [
            words("endpoint", "endpoint"),
            made("clock", lambda r: clock_unit(r["clock"])),
            contrast,
            words("effect", "measure"),
            figure("estimate", "estimate", number),
            made("interval", lambda r: interval(r["lower"], r["upper"]), numeric=True),
            words("remark", "reason"),
        ],
        caption="Effects of group over control with their "
        f"{data.settings.comparison.confidence} intervals. From comparisons.",
        reason="No effect could be estimated.",
        small=True,
    )
