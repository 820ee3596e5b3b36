"""Lines and marks that tell the batches of cells apart in figures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

from matplotlib.lines import Line2D

from trivet.report.frame.data import ReportData
from trivet.report.frame.style import BATCH_LINES, SOFT
from trivet.report.frame.wording import short

Look = TypeVar("Look")


def told_apart(data: ReportData, looks: Sequence[object]) -> bool:
    """Whether there are looks enough, of lines or of marks, for every batch to have its own."""
    return len(data.batches) <= len(looks)


def batch_look(data: ReportData, batch: str, looks: Sequence[Look]) -> Look:
    """Look of a batch; one for all where they can't be told apart."""
    return looks[data.batches.index(batch) if told_apart(data, looks) else 0]


def batch_line(data: ReportData, batch: str) -> Any:  # noqa: ANN401
    """Line style of a batch."""
    return batch_look(data, batch, BATCH_LINES)


def batch_key(data: ReportData) -> list[Line2D]:
    """Entries of the key for the batches; none where they can't be told apart."""
    if not told_apart(data, BATCH_LINES):
        return []
    return [
        Line2D([], [], color=SOFT, ls=batch_line(data, batch), label=f"batch {short(batch)}")
        for batch in data.batches
    ]
