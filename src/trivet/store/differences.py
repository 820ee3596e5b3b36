"""A difference between what a bag should hold and what it holds."""

from __future__ import annotations

from dataclasses import dataclass

from trivet.errors import printable


@dataclass(frozen=True)
class Difference:
    """One thing that differs.

    Attributes
    ----------
    file : str
        Path in the bag.
    what : str
        What was compared: checksum, number of rows, a cell of a table ...
    expected : str
        What should stand there.
    found : str
        What stands there.
    """

    file: str
    what: str
    expected: str
    found: str

    def __str__(self) -> str:
        """One line: file, what, expected, found."""
        line = f"{self.file}: {self.what}: expected {self.expected}, found {self.found}"
        return printable(line)
