"""Provenance: settings, versions, what the results were made from."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
from typing import Any

from trivet.report.attachments import DIGITS, MOST_VALUES, going_along
from trivet.report.frame.data import ReportData
from trivet.report.frame.printed import figure, print_table, words
from trivet.report.frame.section import Section
from trivet.report.frame.wording import MISSING, count, shown, unit
from trivet.schema.settings.block import Block, marks_of
from trivet.schema.tables.dictionary import TABLES

_LIBRARIES = (
    "trivet",
    "numpy",
    "scipy",
    "pyarrow",
    "pydantic",
    "matplotlib",
    "jinja2",
    "weasyprint",
)


def provenance(data: ReportData) -> dict[str, Any]:
    """Versions, digests, tables and every setting that the report knows of."""
    attached = going_along(data.tables)
    return {
        "versions": [f"{name} {importlib.metadata.version(name)}" for name in _LIBRARIES],
        "digest": settings_digest(data),
        "raw_files": count(len(data.rows["ledger"])),
        "checksums": count(len({row["sha256"] for row in data.rows["ledger"]})),
        "cut": data.cut.words,
        "licence": data.settings.campaign.licence,
        "tables": print_table(
            [
                {
                    "table": name,
                    "row": TABLES[name].row,
                    "rows": table.num_rows,
                    "where": "attached" if name in attached else "beside the report",
                }
                for name, table in sorted(data.tables.items())
            ],
            [
                words("table", "table"),
                words("one row is", "row"),
                figure("rows", "rows", count),
                words("where", "where"),
            ],
            caption="Tables under tables/ beside report.pdf, and attached to it as CSV with "
            f"{DIGITS} significant digits, but for points of curves and what goes beyond "
            f"{count(MOST_VALUES)} values together. Every number printed stands in one of them; "
            "the dictionary of columns names the function that computed it.",
            reason="No tables.",
            small=True,
        ),
        "settings": [
            (name, _setting_lines(getattr(data.settings, name), ""))
            for name in type(data.settings).model_fields
        ],
    }


def settings_digest(data: ReportData) -> str:
    """SHA-256 of the settings as JSON with sorted keys."""
    text = json.dumps(data.settings.model_dump(mode="json"), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _setting_lines(block: Block, path: str) -> list[str]:
    """One line a setting with value and unit; blocks within blocks are walked."""
    lines: list[str] = []
    for name, info in type(block).model_fields.items():
        value, place = getattr(block, name), f"{path}{name}"
        if isinstance(value, Block):
            lines += _setting_lines(value, f"{place}.")
        elif isinstance(value, list) and value and isinstance(value[0], Block):
            for turn, item in enumerate(value):
                lines += _setting_lines(item, f"{place}[{turn}].")
        else:
            lines.append(f"{place}: {_as_read(name, value, str(marks_of(info).get('unit', '')))}")
    return lines


def _as_read(name: str, value: object, its_unit: str) -> str:
    """Print a setting with its unit; a dash alone where nothing is set."""
    # the digits of a seed are a name
    said = str(value) if name == "seed" else shown(value)
    return said if said == MISSING else f"{said} {unit(its_unit)}".rstrip()


SECTION = Section("provenance", "Provenance", provenance, place=190)
