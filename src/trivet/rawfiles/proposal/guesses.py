"""One column of an unknown file, as far as it is understood."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ColumnGuess:
    """One column.

    Attributes
    ----------
    place : int
        Position.
    header, quantity, unit, format : str
        As in a layout.
    evidence : str
        Why.
    question : str
        What can't be told; empty where all is clear.
    """

    place: int
    header: str
    quantity: str
    unit: str = ""
    format: str = ""
    evidence: str = ""
    question: str = ""
