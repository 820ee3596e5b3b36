"""Lines that tell the batches of cells apart in figures."""

from __future__ import annotations

from typing import Any

from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData
from trivet.report.frame.style import BATCH_LINES, SOFT
from trivet.report.frame.wording import short


def batch_line(data: ReportData, batch: str) -> Any:  # noqa: ANN401
    """Line style of a batch; one style for all where there are more batches than styles."""
    told_apart = len(data.batches) <= len(BATCH_LINES)
    return BATCH_LINES[data.batches.index(batch) if told_apart else 0]


def batch_key(data: ReportData) -> list[Line2D]:
    """Entries of the key for the batches; none where they are too many to be told apart."""
    if len(data.batches) > len(BATCH_LINES):
        return []
    return [
        Line2D([], [], color=SOFT, ls=batch_line(data, batch), label=f"batch {short(batch)}")
        for batch in data.batches
    ]
