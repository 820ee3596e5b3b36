"""Impedance tables with one spectrum a row: where its parts stand, and their frequencies."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from trivet.rawfiles.layout.declared import WideTable
from trivet.rawfiles.layout.units import unit_of
from trivet.rawfiles.reading.raw_read import RawRead
from trivet.schema.tables.impedance import PAIRS
from trivet.store.arrow_arrays import number_array
from trivet.store.regular_file import read_regular

_NUMBER = r"([0-9]+\.?[0-9]*(?:[eE][+-]?[0-9]+)?)"
_ROUNDED = 0.1
"""An exact frequency lies within this share of the rounded one in its header."""


@dataclass(frozen=True)
class WideColumns:
    """Columns of the parts of impedance in a header.

    Attributes
    ----------
    real, imaginary : tuple of int
        Positions, in the order of the file.
    frequency_Hz : numpy.ndarray, shape (n_points,)
        As the headers state them [Hz].
    """

    real: tuple[int, ...]
    imaginary: tuple[int, ...]
    frequency_Hz: np.ndarray

    @property
    def places(self) -> tuple[int, ...]:
        """All positions."""
        return self.real + self.imaginary

    def parts(self, numbers: dict[int, np.ndarray], *, unit: str) -> dict[str, np.ndarray]:
        """Real and imaginary parts and frequencies, shape (n_rows, n_points) [Ohm, Hz]."""
        known = unit_of("real", unit)
        real = np.column_stack([known.convert(numbers[place]) for place in self.real])
        imaginary = np.column_stack([known.convert(numbers[place]) for place in self.imaginary])
        return {
            "real": real,
            "imaginary": imaginary,
            "frequency": np.tile(self.frequency_Hz, (len(real), 1)),
        }


def find_wide(cells: Sequence[str], table: WideTable) -> WideColumns | None:
    """Find the columns of a wide table; None where real and imaginary parts do not match.

    Parameters
    ----------
    cells : sequence of str
        Headers of the file.
    table : WideTable
        How the headers are written.
    """
    real, imaginary = _numbered(cells, table.real), _numbered(cells, table.imaginary)
    if not real or [value for _, value in real] != [value for _, value in imaginary]:
        return None
    return WideColumns(
        tuple(place for place, _ in real),
        tuple(place for place, _ in imaginary),
        np.array([value for _, value in real]),
    )


def _numbered(cells: Sequence[str], pattern: str) -> list[tuple[int, float]]:
    """Positions and numbers of headers that fit a pattern."""
    before, _, behind = pattern.partition("{frequency}")
    regex = re.compile(re.escape(before) + _NUMBER + re.escape(behind))
    found = [(place, regex.fullmatch(cell.strip())) for place, cell in enumerate(cells)]
    return [(place, float(match.group(1))) for place, match in found if match]


def spread(read: RawRead, *, frequencies: Path | None) -> RawRead:
    """Give every point of a wide table an entry of its own.

    Parameters
    ----------
    read : RawRead
        Rows with parts of shape (n_rows, n_points).
    frequencies : Path or None
        File with the exact frequencies.

    Returns
    -------
    RawRead
        With `wide` set, entries in the order of rows and columns.
    """
    points = read.values["frequency"].shape[1]
    if frequencies is not None:
        exact = _exact(frequencies)
        if isinstance(exact, str):
            return read.refuse("frequencies", exact)
        shown = read.values["frequency"]
        if len(exact) != points:
            message = f"'{frequencies.name}' has {len(exact)} frequencies, the table {points}"
            return read.refuse("frequencies", message)
        if np.any(np.abs(exact / shown - 1) > _ROUNDED):
            message = f"the frequencies of '{frequencies.name}' are not those of the headers"
            return read.refuse("frequencies", message)
        values = {**read.values, "frequency": np.tile(exact, (len(shown), 1))}
        read = replace(read, values=values)
        read = read.assume(f"exact frequencies from '{frequencies.name}'")
    values = {
        name: column.ravel() if column.ndim == 2 else np.repeat(column, points)
        for name, column in read.values.items()
    }
    rows = np.repeat(np.arange(len(read.lines)), points)
    texts = {name: column.take(rows) for name, column in read.texts.items()}
    lines = np.repeat(read.lines, points)
    return replace(read, lines=lines, values=values, texts=texts, wide=True)


def stack_pairs(read: RawRead) -> RawRead:
    """Give each pair an entry of its own, where a row holds the parts of several pairs.

    Parameters
    ----------
    read : RawRead
        Rows with quantities such as `real:positive`.

    Returns
    -------
    RawRead
        With `wide` set and the pair of each entry in `values`, row after row.
    """
    named = [name.partition(":") for name in read.values]
    pairs = [pair for pair in PAIRS if any(other == pair for _, _, other in named)]
    if not pairs or not len(read.lines):
        return read
    none = np.full(len(read.lines), np.nan)
    values = {name: np.repeat(read.values[name], len(pairs)) for name, _, pair in named if not pair}
    for part in {part for part, _, pair in named if pair}:
        columns = [read.values.get(f"{part}:{pair}", none) for pair in pairs]
        values[part] = np.column_stack(columns).ravel()
    values["pair"] = np.tile([float(PAIRS.index(pair)) for pair in pairs], len(read.lines))
    rows = np.repeat(np.arange(len(read.lines)), len(pairs))
    texts = {name: column.take(number_array(rows)) for name, column in read.texts.items()}
    return replace(read, lines=read.lines[rows], values=values, texts=texts, wide=True)


def _exact(path: Path) -> np.ndarray | str:
    """Frequencies of a file [Hz], or what is wrong with it."""
    try:
        lines = read_regular(path).decode("utf-8-sig").split()
        values = np.array([float(line) for line in lines])
    except (OSError, ValueError) as error:
        return f"the file of frequencies '{path.name}' can't be read: {error}"
    if not len(values) or not np.all(np.isfinite(values) & (values > 0)):
        return f"the file of frequencies '{path.name}' has values that are no frequency"
    return values
