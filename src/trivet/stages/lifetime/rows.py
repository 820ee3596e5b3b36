"""Rows of lives, and the table of cells, as the lifetime stage writes them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pyarrow as pa

from trivet.campaign.built.weighings import MASS_LOST, mass_lost_of
from trivet.schema.cell_facts import CellFacts
from trivet.schema.tables.dictionary import TABLES
from trivet.science.lives.cell_life import NO_DATA, Life
from trivet.store.tables import make_table


def life_rows(facts: CellFacts, factor: str, endpoint: str, life: Life) -> list[dict[str, Any]]:
    """Rows of the table for one life, one a clock, as `cell_life` or `reference_life` gives it."""
    return [
        {
            "cell": facts.cell,
            "group": facts.values[factor],
            "batch": facts.batch,
            "endpoint": endpoint,
            "clock": clock,
            "duration": span.duration,
            "lower": span.lower,
            "upper": span.upper,
            "entry": None,
            "observed": int(seen := life.observed and span.upper is not None),
            "cause": life.cause if seen else "",
            "censored_because": life.censored_because if seen == life.observed else "no times",
            "decided_by": life.decided_by,
            "evidence": life.evidence,
            "stop_reason": str(life.stop_reason),
            "known_h": life.known_h if seen and endpoint == "cell" else None,
            "start_s": facts.clock_start_s if endpoint == "cell" else None,
        }
        for clock, span in (("hours", life.hours), ("cycles", life.cycles))
    ]


def seen_by_spectra(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is known of the lives of a cell that was never cycled: hours, where somebody saw any."""
    return [
        row
        for row in rows
        if row["clock"] == "hours" and (row["observed"] or row["duration"] > 0.0)
    ]


def counted_rows(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows but those of cells without data on an endpoint and clock that no cell was observed on.

    A cell without data stays in every count of cells, censored at 0; a count of nothing else would
    look like a result.
    """
    kinds = {_kind(row) for row in rows if row["censored_because"] != NO_DATA}
    return [row for row in rows if _kind(row) in kinds]


def _kind(row: dict[str, Any]) -> tuple[str, str]:
    """Endpoint and clock of a life."""
    return row["endpoint"], row["clock"]


def cells_table(
    cells: Sequence[CellFacts], factor: str, statuses: Sequence[str], *, cut_s: float | None
) -> pa.Table:
    """All cells of the build sheet with their status; the sheet's own columns follow.

    Weighings after the data cut `cut_s` [s] do not count; None counts all.
    """
    names = cells[0].values if cells else {}
    sheet = [name for name in names if name not in TABLES["cells"].names]
    columns: dict[str, list[Any]] = {
        "cell": [facts.cell for facts in cells],
        "batch": [facts.batch for facts in cells],
        "group": [facts.values[factor] for facts in cells],
        "included": [int(facts.included) for facts in cells],
        "exclusion_reason": [facts.exclusion_reason for facts in cells],
        "status": list(statuses),
        MASS_LOST: [mass_lost_of(facts, cut_s) for facts in cells],
    }
    columns |= {name: [facts.values[name] for facts in cells] for name in sheet}
    return make_table(TABLES["cells"], columns, sheet)
