"""What the columns of an unknown file hold: quantity, unit and format, with the evidence."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from trivet.rawfiles.layout.rules import header_unit
from trivet.rawfiles.layout.units import CLOCK, kind_of, known_unit, normal_unit
from trivet.rawfiles.proposal.currents import settled_currents
from trivet.rawfiles.proposal.dates import DATE, date_format
from trivet.rawfiles.proposal.differences import find_electrodes, with_contradiction
from trivet.rawfiles.proposal.guesses import ColumnGuess
from trivet.rawfiles.proposal.pairs import is_pair_column, pair_column
from trivet.rawfiles.proposal.text import TextGuess, is_number
from trivet.rawfiles.proposal.words import quantity_of, unit_word
from trivet.rawfiles.text.numbers import NumberReader
from trivet.schema.settings.raw import MISSING_WORDS, Layout

_CLOCK = re.compile(r"(?:[0-9]+[d\- .])?[0-9]+:[0-9]{1,2}:[0-9]{1,2}(?:[.,][0-9]+)?")
STATE_WORDS = tuple(
    word
    for name in ("charge_words", "discharge_words", "rest_words")
    for word in Layout.model_fields[name].default
)
"""Words of states that a layout knows where it declares none."""
_UNIX_FROM, _UNIX_TO = 3e8, 4e9
_SMALL_V, _LARGEST_V = 0.3, 10.0
"""Between these lies the largest voltage of a cell or potential of an electrode that is charged and
discharged; common practice, no source."""


def guess_columns(guess: TextGuess) -> tuple[list[ColumnGuess], list[str]]:
    """Find out what the columns hold.

    Parameters
    ----------
    guess : TextGuess
        How the file is written.

    Returns
    -------
    list of ColumnGuess
        The columns that mean something, each quantity once.
    list of str
        Headers that are left out, with the reason.
    """
    found: dict[str, ColumnGuess] = {}
    left: dict[int, str] = {}
    for place, header in enumerate(guess.header):
        if not header:
            continue
        column = _guess(guess, place, header)
        if column is None:
            left[place] = _not_taken(guess, place, header)
        elif column.quantity == "current" and "current" in found:
            found["current"] = _one_of_two(found["current"], header)
            left[place] = f"'{header}': current stands in an earlier column too"
        elif column.quantity in found:
            left[place] = f"'{header}': {column.quantity} stands in an earlier column too"
        elif column.quantity == "capacity" and column.question:
            left[place] = f"'{header}': a capacity without a unit; declare it with one to use it"
        else:
            found[column.quantity] = column
    found, gone = settled_currents(guess, found)
    left |= gone
    found = with_contradiction(guess, found)
    for column in _by_difference(guess, found, list(left)):
        found[column.quantity] = column
        del left[column.place]
    return list(found.values()), list(left.values())


def _one_of_two(current: ColumnGuess, other: str) -> ColumnGuess:
    """A column of current with the question that another one raises."""
    question = (
        f"current: '{current.header}' or '{other}'? Where one is of charge and one of discharge, "
        "declare them as 'charge current' and 'discharge current'."
    )
    return current.asking(question)


def _by_difference(
    guess: TextGuess, found: Mapping[str, ColumnGuess], left: Sequence[int]
) -> list[ColumnGuess]:
    """Both potentials where no header names them, but two columns differ by the cell voltage."""
    cell = found.get("cell voltage")
    if cell is None or {"positive potential", "negative potential"} & set(found):
        return []
    units = {place: _stated_unit(guess, place, guess.header[place])[0] for place in left}
    pair = find_electrodes(guess, cell=cell.place, units=units | {cell.place: cell.unit})
    if pair is None:
        return []
    headers = [guess.header[place] for place in (pair.positive, pair.negative)]
    proof = (
        f"'{headers[0]}' - '{headers[1]}' is the cell voltage within {pair.apart_mV:.2g} mV "
        f"in {pair.rows} rows"
    )
    return [
        ColumnGuess(
            place, guess.header[place], quantity, units[place], evidence=proof, by_difference=True
        )
        for place, quantity in (
            (pair.positive, "positive potential"),
            (pair.negative, "negative potential"),
        )
    ]


def _not_taken(guess: TextGuess, place: int, header: str) -> str:
    """Why a column is left out: its words, or a content that they do not fit."""
    quantity, values = quantity_of(header), guess.column(place)
    if not quantity or not values:
        return f"'{header}': its words are not known"
    return f"'{header}': its words say {quantity}, its content, as '{values[0]}', does not"


def _guess(guess: TextGuess, place: int, header: str) -> ColumnGuess | None:
    """One column; None where its header means nothing."""
    quantity = quantity_of(header)
    values = guess.column(place)
    if quantity in ("", "pair", "cell") and is_pair_column(header, values):
        return pair_column(place, header, values)
    return _by_words(guess, place, header, quantity)


def _by_words(guess: TextGuess, place: int, header: str, quantity: str) -> ColumnGuess | None:
    """One column by the quantity that its header means."""
    values = guess.column(place)
    dated = bool(values) and all(DATE.fullmatch(value) for value in values[:50])
    if quantity == "time" or (dated and quantity in ("", "time")):
        return _time(guess, place, header, values, dated=dated)
    if not quantity:
        return None
    numeric = sum(map(is_number, values)) * 2 >= len(values)
    if quantity in ("step", "state") and not numeric:
        return _state(guess, place, header, values)
    if not _content_fits(quantity, values, numeric=numeric):
        return None
    if not kind_of(quantity):
        return ColumnGuess(place, header, quantity, evidence="its words")
    unit, where = _stated_unit(guess, place, header)
    if kind_of(quantity) == "voltage" and known_unit(unit) is None:
        unit, where = _volts_by_size(guess) or (unit, where)
    if quantity == "unix time" and not unit:
        unit, where = _unix_unit(guess, values)
    return _with_unit(place, header, quantity, unit, where)


def _content_fits(quantity: str, values: list[str], *, numeric: bool) -> bool:
    """Whether a column holds what its header says: numbers, words or pairs."""
    if quantity == "pair":
        return False
    return not values or quantity == "cell" or numeric == (quantity != "state")


def _state(guess: TextGuess, place: int, header: str, values: list[str]) -> ColumnGuess | None:
    """A column of words for charge, discharge and rest; left out where the current has a sign."""
    words = {value.casefold() for value in values}
    known = set(STATE_WORDS)
    if not words <= known or any(
        value.startswith("-")
        for at, other in enumerate(guess.header)
        if quantity_of(other) == "current"
        for value in guess.column(at)
    ):
        return None
    listed = ", ".join(sorted(words)[:6])
    return ColumnGuess(place, header, "state", evidence=f"words {listed}; no current is negative")


def _with_unit(place: int, header: str, quantity: str, unit: str, where: str) -> ColumnGuess:
    """A column with the unit that was found, or a question."""
    known = known_unit(unit) if unit else None
    if known is not None and known.kind == kind_of(quantity):
        return ColumnGuess(place, header, quantity, unit, evidence=f"its words; unit from {where}")
    said = f"says '{unit}', which is not known" if unit else "names no unit"
    question = f"unit of {quantity}: column '{header}' {said}. Which unit is it in?"
    return ColumnGuess(place, header, quantity, evidence="its words", question=question)


def _stated_unit(guess: TextGuess, place: int, header: str) -> tuple[str, str]:
    """Unit in our spelling from the row of units or the header, and where it stands."""
    in_row = guess.units[place].strip() if guess.units else ""
    if in_row and in_row not in ("-", "1"):
        return _spelled(in_row), "the row of units"
    if word := unit_word(header):
        return word, "the header"
    stated = header_unit(header)
    return (_spelled(stated), "the header") if stated else ("", "")


def _volts_by_size(guess: TextGuess) -> tuple[str, str] | None:
    """Unit of the voltages without one, by the largest of them; None where it may be either."""
    reader = NumberReader(decimal=guess.decimal, missing=MISSING_WORDS)
    values = [
        value
        for at, header in enumerate(guess.header)
        if kind_of(quantity_of(header)) == "voltage"
        and known_unit(_stated_unit(guess, at, header)[0]) is None
        for value in guess.column(at)
    ]
    numbers = [abs(number) for value in values if (number := reader.read(value)) is not None]
    if not numbers:
        return None
    largest = float(np.percentile(numbers, 99.0))
    if _SMALL_V < largest < _LARGEST_V:
        return "V", "its size"
    return ("mV", "its size") if 1000.0 * _SMALL_V < largest < 1000.0 * _LARGEST_V else None


def _spelled(unit: str) -> str:
    """Unit as a layout writes it."""
    plain = normal_unit(unit)
    same = {name.casefold(): name for name in ("ohm", "hz", "degC")}
    if known_unit(plain) is None and plain.casefold() in ("hz", "ohm", "degc", "c"):
        return {"hz": "Hz", "ohm": "ohm", "degc": "degC", "c": "degC"}[plain.casefold()]
    return plain if known_unit(plain) is not None else same.get(plain.casefold(), plain)


def _unix_unit(guess: TextGuess, values: list[str]) -> tuple[str, str]:
    """Unit of a Unix time by its size."""
    reader = NumberReader(decimal=guess.decimal, missing=MISSING_WORDS)
    numbers = [reader.read(value) or 0.0 for value in values]
    middle = float(np.median(numbers)) if numbers else 0.0
    if _UNIX_FROM < middle < _UNIX_TO:
        return "s", "its size"
    return ("ms", "its size") if _UNIX_FROM < middle / 1000 < _UNIX_TO else ("", "")


def _time(
    guess: TextGuess, place: int, header: str, values: list[str], *, dated: bool
) -> ColumnGuess | None:
    """A column of dates, of clocks, of Unix times, or of elapsed times in a unit."""
    if dated:
        form, why, question = date_format(values)
        return ColumnGuess(place, header, "absolute time", "", form, why, question)
    if values and all(_CLOCK.fullmatch(value) for value in values[:50]):
        return ColumnGuess(place, header, "elapsed time", CLOCK, evidence="written as a clock")
    if not values or sum(map(is_number, values)) * 2 < len(values):
        return None
    unit, where = _stated_unit(guess, place, header)
    by_size, _ = _unix_unit(guess, values)
    if by_size and unit in ("", by_size):
        words = "numbers of the size of seconds since 1970"
        return ColumnGuess(place, header, "unix time", by_size, evidence=words)
    return _with_unit(place, header, "elapsed time", unit, where)
