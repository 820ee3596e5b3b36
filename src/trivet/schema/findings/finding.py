"""A finding: one thing noticed about the data, with what was done about it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["note", "caution", "fault"]
"""`fault`: a number or a cell is lost or wrong, and a hand is needed; `caution`: believe it less;
`note`: done for you."""


@dataclass(frozen=True)
class Finding:
    """One thing noticed about the data.

    Attributes
    ----------
    cell : str
        Cell id; empty for the whole campaign.
    check : str
        Name of the check, in the words of the report, e.g. `common-mode jump`.
    severity : Severity
        How much it matters.
    message : str
        One sentence for a person.
    action : str
        What was done, e.g. `row set aside`, `values withheld`, `none`.
    file, line : str, int or None
        Where in the raw files; empty and None where no single place is meant.
    value, limit : float or None
        The number and the limit it was held against.
    unit : str
        Unit of value and limit.
    """

    cell: str
    check: str
    severity: Severity
    message: str
    action: str
    file: str = ""
    line: int | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""


def finding_columns(findings: list[Finding]) -> dict[str, list[object]]:
    """Findings as columns of the table `findings`, in the order given."""
    rows = [asdict(finding) for finding in findings]
    names = list(Finding.__dataclass_fields__)
    return {name: [row[name] for row in rows] for name in names}
