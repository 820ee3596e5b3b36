"""One column of an unknown file, as far as it is understood."""

from __future__ import annotations

from dataclasses import dataclass, replace


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
    by_difference : bool
        Whether it is a potential that only its difference to another one tells.
    """

    place: int
    header: str
    quantity: str
    unit: str = ""
    format: str = ""
    evidence: str = ""
    question: str = ""
    by_difference: bool = False

    def asking(self, question: str) -> ColumnGuess:
        """Give the same column with one question more."""
        return replace(self, question=" ".join(filter(None, (self.question, question))))
