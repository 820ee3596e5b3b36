"""Contents of the section on raw files: an account of every row, and how files were read."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, Row, by
from trivet.report.frame.printed import (
    PrintedColumn,
    PrintedTable,
    figure,
    made,
    print_table,
    words,
)
from trivet.report.frame.section import FILES, Section
from trivet.report.frame.wording import MISSING, count, listed

_COUNTS = (("files", "files"), ("rows", "rows_seen"), ("used", "rows_used"),
           ("aside", "rows_set_aside"))  # fmt: skip


def ledger(data: ReportData) -> dict[str, Any]:
    """Rows seen, used and set aside by cell; how each kind of file was read; rows set aside."""
    rows = data.rows["ledger"]
    return {
        "by_cell": _by_cell(data.rows["ledger_by_cell"]),
        "layouts": _layouts(data.rows["ledger_by_cell"]),
        "set_aside": print_table(
            [row for row in rows if row["rows_set_aside"]],
            [
                words("cell", "cell"),
                words("file", "file"),
                figure("rows seen", "rows_seen", count),
                figure("set aside", "rows_set_aside", count),
                words("why", "set_aside_because"),
            ],
            caption="Files with rows set aside. From ledger.",
            reason="No row of any file was set aside." if rows else "",
            sources=("ledger",),
            small=True,
        ),
    }


def _by_cell(rows: list[Row]) -> PrintedTable:
    """One line a cell, its kinds of files side by side."""
    contents = list(dict.fromkeys(row["content"] for row in rows))
    lines = [
        {"cell": cell} | {row["content"]: row for row in own}
        for cell, own in by(rows, "cell").items()
    ]
    return print_table(
        lines,
        [
            words("cell", "cell"),
            *(_counted(content, *names) for content in contents for names in _COUNTS),
        ],
        caption="Raw files of each cell: files, rows seen up to the data cut, used, and set aside. "
        "Every file has its own line, with checksum, in the table ledger. From ledger_by_cell.",
        reason="No raw files were found.",
        sources=("ledger_by_cell", "ledger"),
        small=True,
    )


def _counted(content: str, heading: str, name: str) -> PrintedColumn:
    """One count of one kind of files; a dash where a cell has none."""

    def text(line: Row) -> str:
        return count(line[content][name]) if content in line else MISSING

    return made(f"{content}: {heading}" if heading == "files" else heading, text, numeric=True)


def _layouts(rows: list[Row]) -> PrintedTable:
    """One line for each kind of file and layout: its cells, and what was assumed for the first."""
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        groups.setdefault((row["content"], row["layouts"]), []).append(row)
    return print_table(
        [{**own[0], "cells": [row["cell"] for row in own]} for own in groups.values()],
        [
            words("content", "content"),
            words("layout", "layouts"),
            made("cells", lambda r: listed(r["cells"])),
            words("what was assumed and proved, for the first of them", "inferred"),
        ],
        caption="How the files were read. The others of a line have their own assumptions and "
        "proofs in the table. From ledger_by_cell.",
        reason="",
        sources=("ledger_by_cell",),
        small=True,
    )


SECTION = Section("ledger", "Raw files", ledger, place=170, needs=FILES)
