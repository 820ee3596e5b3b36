"""A column of an unknown file that says what each spectrum was measured across."""

from __future__ import annotations

from collections.abc import Sequence

from trivet.rawfiles.layout.pair_words import meant_pair, tokens_of
from trivet.rawfiles.proposal.guesses import ColumnGuess
from trivet.rawfiles.proposal.text import is_number
from trivet.schema.settings.block import DECIDE
from trivet.schema.settings.raw import PairWords
from trivet.schema.tables.impedance import PAIRS

_HEADERS = {"pair", "paar", "paire", "par", "terminals", "electrode", "elektrode", "electrodes"}
_MOST_WORDS = 6


def is_pair_column(header: str, values: Sequence[str]) -> bool:
    """Whether a column holds words for pairs: few words, and one that is known or so headed."""
    words = set(values)
    if not words or len(words) > _MOST_WORDS or any(map(is_number, words)):
        return False
    headed = bool(set(tokens_of(header)) & _HEADERS)
    return headed or any(meant_pair(word) for word in words)


def pair_column(place: int, header: str, values: Sequence[str]) -> ColumnGuess:
    """The column, with a question where a word may mean several pairs."""
    meant = {word: meant_pair(word) for word in dict.fromkeys(values)}
    known = ", ".join(f"'{word}' is {pair}" for word, pair in meant.items() if pair)
    unknown = unknown_words(values)
    question = ""
    if unknown:
        listed = ", ".join(f"'{word}'" for word in unknown)
        question = (
            f"pair: column '{header}' has {listed}, which may be the positive or the negative"
            f"{f' ({known})' if known else ''}. List each under 'pair_words' of the layout."
        )
    return ColumnGuess(place, header, "pair", evidence=known or "its words", question=question)


def unknown_words(values: Sequence[str]) -> list[str]:
    """Words of a column of pairs that may mean several."""
    return [word for word in dict.fromkeys(values) if not meant_pair(word)]


def open_pairs(values: Sequence[str]) -> PairWords:
    """Words for the layout: `decide` for each pair that no known word of the column means."""
    if not unknown_words(values):
        return PairWords()
    taken = {meant_pair(word) for word in set(values)}
    return PairWords(**{pair: [DECIDE] for pair in PAIRS if pair not in taken})
