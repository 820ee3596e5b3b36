"""Columns that grow block by block, without a second copy of what is there already."""

from __future__ import annotations

import numpy as np

_SPARE = 1.02
"""Room is made for this much more than is expected; what is not used costs no memory."""


class GrowingColumn:
    """A column that blocks of values are added to.

    Parameters
    ----------
    expected : int
        How many values may come in all; more are taken too, at the price of a copy.
    """

    def __init__(self, expected: int) -> None:
        self._room = int(expected * _SPARE) + 1
        self._values: np.ndarray | None = None
        self._filled = 0

    def add(self, block: np.ndarray) -> None:
        """Add a block, shape (n_values, ...)."""
        stop = self._filled + len(block)
        if self._values is None:
            self._room = max(self._room, stop)
            self._values = np.empty((self._room, *block.shape[1:]), dtype=block.dtype)
        elif stop > self._room:
            self._room = max(stop, self._room * 3 // 2)
            larger = np.empty((self._room, *block.shape[1:]), dtype=block.dtype)
            larger[: self._filled] = self._values[: self._filled]
            self._values = larger
        self._values[self._filled : stop] = block
        self._filled = stop

    def whole(self) -> np.ndarray:
        """Give all values, shape (n_values, ...)."""
        return np.zeros(0) if self._values is None else self._values[: self._filled]
