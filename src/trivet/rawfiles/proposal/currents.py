"""Which columns of an unknown file hold its current: one with a sign, or two without."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from trivet.rawfiles.proposal.guesses import ColumnGuess
from trivet.rawfiles.proposal.text import TextGuess
from trivet.rawfiles.two_currents import CHARGE, DISCHARGE

_SIGNED = "current"
_HALVES = (CHARGE, DISCHARGE)


def settled_currents(
    guess: TextGuess, found: Mapping[str, ColumnGuess]
) -> tuple[dict[str, ColumnGuess], dict[int, str]]:
    """Make one account of the columns of current.

    Parameters
    ----------
    guess : TextGuess
        How the file is written.
    found : mapping of str to ColumnGuess
        Columns by quantity.

    Returns
    -------
    dict of str to ColumnGuess
        The same with a current, or with one of charge and one of discharge, never with half of it
        unless a question says so.
    dict of int to str
        Columns that are left out, with the reason, by position.
    """
    halves = [found[name] for name in _HALVES if name in found]
    if not halves:
        return dict(found), {}
    others = {name: column for name, column in found.items() if name not in _HALVES}
    whole = found.get(_SIGNED)
    if whole is not None and _signs(guess, whole) != {"+"}:
        why = f"'{whole.header}' holds both currents with their sign"
        return others, {one.place: f"'{one.header}': {why}" for one in halves}
    if len(halves) == 2:
        return _both(guess, others, halves)
    if whole is not None:
        why = f"'{whole.header}' is taken for the current"
        return others, {halves[0].place: f"'{halves[0].header}': {why}"}
    if _signs(guess, halves[0]) == {"+", "-"}:
        evidence = f"{halves[0].evidence}; it has both signs"
        return {**others, _SIGNED: replace(halves[0], quantity=_SIGNED, evidence=evidence)}, {}
    return {**others, halves[0].quantity: _with_question(guess, halves[0])}, {}


def _both(
    guess: TextGuess, others: dict[str, ColumnGuess], halves: list[ColumnGuess]
) -> tuple[dict[str, ColumnGuess], dict[int, str]]:
    """Two columns for charge and discharge, a third one without a sign left out."""
    pair = {one.quantity: _with_proof(guess, one) for one in halves}
    gone = others.pop(_SIGNED, None)
    why = "it has no sign, the columns of charge and discharge have"
    return {**others, **pair}, {} if gone is None else {gone.place: f"'{gone.header}': {why}"}


def _with_proof(guess: TextGuess, column: ColumnGuess) -> ColumnGuess:
    """A column of one of two currents, with the signs that it has."""
    minus = "-" in _signs(guess, column)
    how = "with a minus in front" if minus else "without a sign"
    return replace(column, evidence=f"{column.evidence}; written {how}")


def _with_question(guess: TextGuess, column: ColumnGuess) -> ColumnGuess:
    """Half of a current, with the question for the other half."""
    other = DISCHARGE if column.quantity == CHARGE else CHARGE
    headers = ", ".join(f"'{header}'" for header in guess.header[:20])
    question = (
        f"{other}: '{column.header}' holds the {column.quantity} only; which column holds the "
        f"{other}? Headers are {headers}. Declare it, or '{column.header}' as 'current' if it "
        "holds both."
    )
    return column.asking(question)


def _signs(guess: TextGuess, column: ColumnGuess) -> set[str]:
    """Signs of the numbers in a column that are not zero."""
    values = [
        text for text in guess.column(column.place) if any(sign in "123456789" for sign in text)
    ]
    return {"-" if text.startswith(("-", "\u2212")) else "+" for text in values}
