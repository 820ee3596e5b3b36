"""Two columns that are the potentials of the electrodes, known by their difference alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from trivet.rawfiles.layout.units import known_unit
from trivet.rawfiles.proposal.guesses import ColumnGuess
from trivet.rawfiles.proposal.text import TextGuess
from trivet.rawfiles.text.numbers import NumberReader
from trivet.schema.settings.raw import MISSING_WORDS

_NOISE_V = 0.005
"""A channel's noise and rounding stay below this; common practice, no source."""
_MOVES_V = 0.02
"""A potential that moves less may be an open or shorted input, whose difference proves nothing."""
_ROWS = 20
_MOST = 99.0


@dataclass(frozen=True)
class Electrodes:
    """Columns whose difference is the cell voltage.

    Attributes
    ----------
    positive, negative : int
        Positions.
    apart_mV : float
        So far their difference lies from the cell voltage in 99 of 100 rows at most [mV].
    rows : int
        Rows looked at.
    """

    positive: int
    negative: int
    apart_mV: float
    rows: int


def find_electrodes(guess: TextGuess, *, cell: int, units: Mapping[int, str]) -> Electrodes | None:
    """Find two columns whose difference is the cell voltage to noise.

    Parameters
    ----------
    guess : TextGuess
        How the file is written.
    cell : int
        Position of the cell voltage.
    units : mapping of int to str
        Units of the cell voltage and of the columns that may be potentials, by position.

    Returns
    -------
    Electrodes or None
        None where no two columns are, where both may be either, or where one hardly moves.
    """
    volts = {place: column for place, unit in units.items()
             if (column := _volts(guess, place, unit)) is not None}  # fmt: skip
    if cell not in volts:
        return None
    moving = [place for place in volts if place != cell and np.nanmax(volts[place])
              - np.nanmin(volts[place]) > _MOVES_V]  # fmt: skip
    found = list(_pairs(volts, cell, moving))
    return found[0] if len(found) == 1 else None


def with_contradiction(
    guess: TextGuess, found: Mapping[str, ColumnGuess]
) -> dict[str, ColumnGuess]:
    """Ask where names say one thing of two potentials, and their difference the other.

    Parameters
    ----------
    guess : TextGuess
        How the file is written.
    found : mapping of str to ColumnGuess
        Columns by quantity; names win.
    """
    names = ("cell voltage", "positive potential", "negative potential")
    if not all(name in found for name in names):
        return dict(found)
    cell, positive, negative = (found[name] for name in names)
    units = {column.place: column.unit for column in (cell, positive, negative)}
    by_numbers = find_electrodes(guess, cell=cell.place, units=units)
    if by_numbers is None or by_numbers.positive != negative.place:
        return dict(found)
    question = (
        f"potentials: by their names '{positive.header}' is the positive and '{negative.header}' "
        f"the negative, but '{negative.header}' - '{positive.header}' is the cell voltage within "
        f"{by_numbers.apart_mV:.2g} mV in {by_numbers.rows} rows. Either the leads were exchanged "
        "at the channel: declare the names, and write 'leads exchanged' in the bench log, which "
        "turns the spectra too. Or the names are exchanged in this file only: declare them the "
        "other way round."
    )
    return {**found, "positive potential": positive.asking(question)}


def _pairs(volts: Mapping[int, np.ndarray], cell: int, moving: list[int]) -> Iterator[Electrodes]:
    """Every two columns whose difference is the cell voltage."""
    for positive, negative in permutations(moving, 2):
        apart = np.abs(volts[positive] - volts[negative] - volts[cell])
        known = apart[np.isfinite(apart)]
        if len(known) >= _ROWS and (far := float(np.percentile(known, _MOST))) < _NOISE_V:
            yield Electrodes(positive, negative, far * 1000.0, len(known))


def _volts(guess: TextGuess, place: int, unit: str) -> np.ndarray | None:
    """A column of the rows looked at [V], shape (n_rows,); None where it is none of voltages."""
    known = known_unit(unit)
    if known is None or known.kind != "voltage":
        return None
    reader = NumberReader(decimal=guess.decimal, missing=MISSING_WORDS)
    numbers = [reader.read(row[place].strip()) for row in guess.rows]
    column = known.convert(np.array([np.nan if one is None else one for one in numbers]))
    return column if np.sum(np.isfinite(column)) >= _ROWS else None
