"""What other programs and the next report want to know of this one, as JSON."""

from __future__ import annotations

from typing import Any

from trivet.report.frame.data import ReportData, last_states, tally, where
from trivet.report.sections.appendix.provenance import settings_digest
from trivet.report.sections.summary import primary_rows
from trivet.schema.tables.dictionary import SCHEMA_VERSION
from trivet.version import VERSION

_VERDICT = (
    "endpoint",
    "clock",
    "factor",
    "group",
    "control",
    "cells",
    "events",
    "control_cells",
    "control_events",
    "p",
    "p_adjusted",
    "smallest_attainable_p",
    "shown_on",
    "verdict",
    "reason",
)


def summary(data: ReportData) -> dict[str, Any]:
    """Counts and verdicts, exactly as the tables have them."""
    states = last_states(data.rows["timeline"], "reference")
    cells = data.rows["cells"]
    return {
        "campaign": data.settings.campaign.id,
        "title": data.settings.campaign.title,
        "question": data.settings.campaign.question,
        "data_cut": data.cut.words,
        "invented": data.settings.campaign.invented,
        "interim": data.interim,
        "cells": {
            "built": len(cells),
            "included": len(where(cells, included=1)),
            "status": dict(tally(cells, "status")),
        },
        "verdicts": [{name: row[name] for name in _VERDICT} for row in primary_rows(data)],
        "references": {cell: states[cell] for cell in sorted(states)},
        "findings": dict(tally(data.rows["findings"], "severity")),
        "faults": [
            {"cell": row["cell"], "check": row["check"], "message": row["message"]}
            for row in where(data.rows["findings"], severity="fault")
        ],
        "withheld": {
            "electrode_cycles": len(data.some("electrode_cycles", ("cell",), withheld=1)),
            "spectra": len(where(data.rows["spectra"], withheld=1)),
        },
        "tables": {name: table.num_rows for name, table in sorted(data.tables.items())},
        "settings_sha256": settings_digest(data),
        "version": VERSION,
        "schema": SCHEMA_VERSION,
    }
