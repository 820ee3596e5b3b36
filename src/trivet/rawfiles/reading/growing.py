"""Rows that grow block by block, without a second copy of what is there already."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyarrow as pa

from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.text.rows import Rows

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


class GrowingRows:
    """Rows of a segment, gathered block by block."""

    def __init__(self) -> None:
        self._lines: GrowingColumn | None = None
        self._values: dict[str, GrowingColumn] = {}
        self._texts: dict[str, list[pa.Array]] = {}
        self._aside: dict[str, list[np.ndarray]] = {}

    def set_aside(self, aside: dict[str, np.ndarray]) -> None:
        """Add lines set aside, by reason."""
        for reason, lines in aside.items():
            self._aside.setdefault(reason, []).append(lines)

    def add(
        self,
        rows: Rows,
        values: dict[str, np.ndarray],
        texts: dict[str, pa.Array],
        *,
        share: float,
    ) -> None:
        """Add a block that is this share of the file, its columns in our units."""
        self.set_aside(rows.aside)
        if self._lines is None:
            expected = int(len(rows.lines) / share) if share else 0
            self._lines = GrowingColumn(expected)
            self._values = {name: GrowingColumn(expected) for name in values}
            self._texts = {name: [] for name in texts}
        self._lines.add(rows.lines)
        for name, column in self._values.items():
            column.add(values[name])
        for name, parts in self._texts.items():
            parts.append(texts[name])

    def in_one(self, read: RawRead) -> RawRead:
        """Give a file with these rows."""
        aside = {reason: np.sort(np.concatenate(self._aside[reason])) for reason in self._aside}
        aside = dict(sorted(aside.items()))
        if self._lines is None:
            return replace(read, aside=aside)
        return replace(
            read,
            lines=self._lines.whole(),
            values={name: column.whole() for name, column in self._values.items()},
            texts={name: pa.concat_arrays(parts) for name, parts in self._texts.items()},
            aside=aside,
        )
