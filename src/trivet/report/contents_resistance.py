"""What is said of spectra: first and last ones, and what a separator adds."""

from __future__ import annotations

from typing import Any

from trivet.report import contents_cells
from trivet.report.data import ReportData, Row
from trivet.report.wording import interval, is_missing, number, plural

_WHERE = {
    "cell": "in the cell",
    "positive": "on the side of the positive",
    "negative": "on the side of the negative",
}


def impedance(data: ReportData) -> dict[str, Any]:
    """Contents of the section on impedance."""
    return contents_cells.impedance(data) | {"separators": separators(data)}


def separators(data: ReportData) -> list[str]:
    """Say what one more separator adds to the ohmic resistance; nothing where no spectrum is."""
    rows = data.rows["separator_resistance"]
    if not rows or not data.rows["spectra"]:
        return []
    order = list(_WHERE)
    said = [_sentence(row) for row in sorted(rows, key=lambda r: order.index(r["pair"]))]
    return [
        "One more separator adds to the ohmic resistance at the first check-up, batches apart "
        f"({data.confidence} limits): {'; '.join(said)}. From separator_resistance."
    ]


def _sentence(row: Row) -> str:
    """What one pair says."""
    where = _WHERE[row["pair"]]
    if is_missing(row["per_separator_ohm"]):
        return f"{where} {row['reason']}"
    limits = interval(row["lower_ohm"], row["upper_ohm"])
    areal = row["areal_per_separator_ohm_cm2"]
    per_area = "" if is_missing(areal) else f", {number(areal)} Ω cm²"
    cells = plural(row["cells"], "cell")
    batches = f"{row['batches']} {'batch' if row['batches'] == 1 else 'batches'}"
    return (
        f"{where} {number(row['per_separator_ohm'])} Ω ({limits}){per_area}, {cells} of {batches}"
    )
