"""Lives from a table of lives, as the lifetime stage gives them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trivet.campaign.table_lives import WHY_CENSORED, TableLife, stop_reason
from trivet.reasons import StopReason
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import Finding
from trivet.schema.findings.lives import no_reason, no_row
from trivet.science.lives.cell_life import NO_DATA

Row = dict[str, Any]


def lives_from_table(
    cells: Sequence[CellFacts], *, lives: Sequence[TableLife], factor: str, file: str
) -> tuple[list[Row], list[str], list[Finding]]:
    """Rows of the table of lifetimes, statuses of the cells, and findings.

    Parameters
    ----------
    cells : sequence of CellFacts
        All cells of the build sheet.
    lives : sequence of TableLife
        Rows of the table of lives.
    factor : str
        Primary factor, whose value is the group.
    file : str
        Name of the table.

    Notes
    -----
    A cell that counts but has no row counts as censored at 0 on every clock of the table, so
    that it stays in every number of cells.
    """
    given: dict[str, dict[tuple[str, str], TableLife]] = {facts.cell: {} for facts in cells}
    for life in lives:
        given[life.cell][life.endpoint, life.clock] = life
    kinds = sorted({(life.endpoint, life.clock) for life in lives})
    rows: list[Row] = []
    statuses, found = [], []
    for facts in cells:
        own = given[facts.cell]
        statuses.append(_status(facts, own))
        if not facts.included:
            continue
        for endpoint, clock in kinds:
            here = own.get((endpoint, clock))
            rows.append(_row(facts, factor, endpoint, clock, here, file))
            if here is None:
                found.append(no_row(facts.cell, endpoint=endpoint, clock=clock, file=file))
        found += _without_reason([own[kind] for kind in kinds if kind in own], file)
    return rows, statuses, found


def _without_reason(own: Sequence[TableLife], file: str) -> list[Finding]:
    """The first life of a cell that a person ended without saying why."""
    for life in own:
        if not life.observed and stop_reason(life.cause) is StopReason.NOT_STATED:
            return [no_reason(life.cell, event=life.cause, line=life.line, place=file)]
    return []


def _status(facts: CellFacts, own: dict[tuple[str, str], TableLife]) -> str:
    """Status of a cell, from the life of the cell on either clock."""
    if not facts.included:
        return "excluded"
    lives = [own["cell", clock] for clock in ("hours", "cycles") if ("cell", clock) in own]
    if not lives:
        return "no data" if not own else "cell life not in the table"
    life = lives[0]
    if life.observed:
        return f"ended ({life.cause or 'other'})"
    why = WHY_CENSORED.get(life.cause, life.cause)
    return {"stopped by a person": "stopped", "not stated": "end not seen"}.get(why, why)


def _row(
    facts: CellFacts, factor: str, endpoint: str, clock: str, life: TableLife | None, file: str
) -> Row:
    """One life as a row of the table of lifetimes."""
    about = {"group": facts.values[factor], "batch": facts.batch, "file": file}
    if life is not None:
        return life.row(**about)
    none = TableLife(
        facts.cell, endpoint, clock, 0.0, 0.0, None, None, observed=False, cause=NO_DATA, line=0
    )
    return none.row(**about) | {"evidence": f"no row in {file}"}
