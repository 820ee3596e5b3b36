"""Mass that a closed cell lost between weighings, as its bench log says."""

from __future__ import annotations

from collections.abc import Sequence

from trivet.campaign.typed_values import number_of
from trivet.schema.cell_facts import CellFacts, LogEntry

MASS_LOST = "mass_lost_mg_per_d"
"""Column of the table of cells, and name of the covariate."""
_DAY_S = 86_400.0


def mass_lost_mg_per_d(log: Sequence[LogEntry], cut_s: float | None) -> float | None:
    """Mass lost from the first weighing to the last, by the days between them [mg/d].

    Parameters
    ----------
    log : sequence of LogEntry
        Entries of one cell, in order of time.
    cut_s : float or None
        Data cut as Unix time [s]: later weighings do not count; None counts all.

    Returns
    -------
    float or None
        Loss above 0 [mg/d]; None where there are not two weighings at different times.

    Notes
    -----
    Weighing a closed cell again and again shows what leaves it, solvent above all (common
    practice, no source). The loss is of the whole span: it may come from a leak that ended the
    cell as well as from a seal that was never tight.
    """
    weighings = [
        (entry.time_s, entry.mass_mg)
        for entry in log
        if entry.mass_mg is not None and (cut_s is None or entry.time_s <= cut_s)
    ]
    if not weighings:
        return None
    (first_s, first_mg), (last_s, last_mg) = weighings[0], weighings[-1]
    return (first_mg - last_mg) / (last_s - first_s) * _DAY_S if last_s > first_s else None


def mass_lost_of(facts: CellFacts, cut_s: float | None) -> float | None:
    """Mass lost as the bench log has it, else as a column of that name in the build sheet [mg/d].

    Parameters
    ----------
    facts : CellFacts
        The cell.
    cut_s : float or None
        As in `mass_lost_mg_per_d`.
    """
    found = mass_lost_mg_per_d(facts.log, cut_s)
    return number_of(facts.values.get(MASS_LOST, "")) if found is None else found
