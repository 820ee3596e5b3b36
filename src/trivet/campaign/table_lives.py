"""Lives from a table instead of raw files: one row of it, and the blocks that then have no use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trivet.reasons import STATED_REASONS, Censored, StopReason

TABLE = "table"
"""What decided a life that a table states."""

CLOCK_UNITS: dict[str, dict[str, float]] = {
    "hours": {
        "s": 1 / 3600,
        "min": 1 / 60,
        "h": 1.0,
        "hours": 1.0,
        "d": 24.0,
        "days": 24.0,
        "wk": 168.0,
        "weeks": 168.0,
    },
    "cycles": {"1": 1.0, "cycles": 1.0},
}
"""Units that a life may be given in, by clock, with what turns them into ours."""

WHY_CENSORED: dict[str, str] = {
    "": "not stated",
    "stopped": "stopped by a person",
    "stopped by a person": "stopped by a person",
    "removed": "removed",
    "paused": "paused",
    "running": "running",
    **dict.fromkeys(STATED_REASONS, "stopped by a person"),
}
"""Words for why an end was not seen, and those of the tables; other words stay as they are."""


def stop_reason(cause: str) -> StopReason:
    """Why a cell of the table was stopped: as written, not stated, or it was not stopped."""
    if cause in STATED_REASONS:
        return StopReason(cause)
    by_person = (Censored.STOPPED, Censored.REMOVED, Censored.PAUSED)
    return StopReason.NOT_STATED if WHY_CENSORED.get(cause) in by_person else StopReason.NONE


UNUSED_BLOCKS: dict[str, dict[str, Any]] = {
    "raw": {},
    "electrodes": {"positive": {"material": "other"}, "negative": {"material": "other"}},
    "cycling": {
        "capacity_basis_mAh": 1.0,
        "ageing_rate": 1.0,
        "upper_voltage_V": 1.0,
        "lower_voltage_V": 0.0,
    },
}
"""Blocks that describe raw files and cells on test. Where lives come from a table nothing reads
them, so they may be left out; they then stand as here, and the report does not print them."""


@dataclass(frozen=True)
class TableLife:
    """One row of a table of lives.

    Attributes
    ----------
    cell, endpoint, clock : str
        What the life is of, on which clock.
    duration : float
        Time to the end or to the last sight [h or 1].
    lower : float
        Last time known good [h or 1].
    upper : float or None
        First time known bad [h or 1]; None where the end was not reached.
    entry : float or None
        Time from which the cell was under observation [h or 1]; None: from the start.
    observed : bool
        Whether the end was seen.
    cause : str
        Cause of the end, or why it was not seen.
    line : int
        Line in the table.
    """

    cell: str
    endpoint: str
    clock: str
    duration: float
    lower: float
    upper: float | None
    entry: float | None
    observed: bool
    cause: str
    line: int

    def row(self, *, group: str, batch: str, file: str) -> dict[str, Any]:
        """The same as a row of the table of lifetimes.

        Parameters
        ----------
        group, batch : str
            Those of the cell.
        file : str
            Name of the table of lives.
        """
        seen = self.observed
        return {
            "cell": self.cell,
            "group": group,
            "batch": batch,
            "endpoint": self.endpoint,
            "clock": self.clock,
            "duration": self.duration,
            "lower": self.lower,
            "upper": self.upper,
            "entry": self.entry,
            "observed": int(seen),
            "cause": (self.cause or "other") if seen else "",
            "censored_because": "" if seen else WHY_CENSORED.get(self.cause, self.cause),
            "stop_reason": "" if seen else str(stop_reason(self.cause)),
            "known_h": None,
            "start_s": None,
            "decided_by": TABLE,
            "evidence": f"{file}, line {self.line}",
        }
