"""Words for what a spectrum was measured across: cell, positive, negative."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping

from trivet.schema.settings.raw import Layout, PairWords
from trivet.schema.tables.impedance import PAIRS

_POSITIVE = (
    *("positive", "positiv", "positif", "positivo", "positiva", "pos"),
    *("cathode", "kathode", "catodo", "katode"),
)
_NEGATIVE = (
    *("negative", "negativ", "negatif", "negativo", "negativa", "neg"),
    *("anode", "anodo"),
)
_CELL = ("cell", "full", "whole", "zelle", "vollzelle", "fullcell", "cellule", "celda", "celula")
_FILLING = frozenset({"vs", "versus", "gegen", "against", "contre", "contra", "to"}) | {
    "electrode",
    "elektrode",
    "terminals",
}
_REFERENCE = ("re", "ref", "reference", "referenz")
_BOTH = (frozenset({"we", "ce"}),)
"""Which of the two is the positive in `WE` and `CE` is a habit of the laboratory, so neither alone
is known; between both lies the cell either way. Trade words; common practice, no source."""


def tokens_of(word: str) -> list[str]:
    """Words that a word for a pair is made of, in small letters without accents or filling."""
    plain = unicodedata.normalize("NFKD", word.casefold())
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    found = re.findall(r"[^\W_]+", plain)
    return [token for token in found if token not in _FILLING] or found or [plain.strip()]


def normal_word(word: str) -> str:
    """One spelling of a word for a pair: `WE vs RE` and `we_re` are `we-re`."""
    return "-".join(tokens_of(word))


def own_words(layout: Layout | None) -> dict[str, str]:
    """Pair by word that a layout declares, in one spelling; empty without a layout."""
    if layout is None:
        return {}
    return {normal_word(word): pair for pair, word in _declared(layout.pair_words)}


def _declared(words: PairWords) -> Iterator[tuple[str, str]]:
    """Every declared word with its pair."""
    for pair in PAIRS:
        yield from ((pair, word) for word in getattr(words, pair))


def meant_pair(word: str, own: Mapping[str, str] | None = None) -> str:
    """Pair that a word means.

    Parameters
    ----------
    word : str
        As it stands in a column or in the name of a file.
    own : mapping of str to str or None
        Words of the layout, from `own_words`; they outrank those known here.

    Returns
    -------
    str
        `cell`, `positive` or `negative`; empty where the word may mean several.
    """
    tokens = tokens_of(word)
    if found := (own or {}).get("-".join(tokens)):
        return found
    core = [token for token in tokens if token not in _REFERENCE] or tokens
    known = set(core)
    if known in _BOTH or (known & set(_POSITIVE) and known & set(_NEGATIVE)):
        return "cell" if len(core) == 2 and core == tokens else ""
    for pair, words in (("cell", _CELL), ("positive", _POSITIVE), ("negative", _NEGATIVE)):
        if known <= set(words) and (pair != "cell" or core == tokens):
            return pair
    return ""


def pair_token(own: Iterable[str] = ()) -> str:
    """Regular expression of the words that `{pair}` stands for in names of files, any case.

    Parameters
    ----------
    own : iterable of str
        Words of the layout in one spelling.
    """
    behind = rf"(?:[ _-]?(?:vs[ _-]?)?(?:{'|'.join(_REFERENCE)}))?"
    electrode = f"(?:{'|'.join((*_POSITIVE, *_NEGATIVE))}){behind}"
    both = f"(?:{'|'.join(_POSITIVE)})[ _-](?:{'|'.join(_NEGATIVE)})"
    mine = [r"[\W_]?(?:vs[\W_])?".join(map(re.escape, word.split("-"))) for word in own]
    known = (*_CELL, "full[ _-]cell", "we[ _-]?ce", "ce[ _-]?we", both, electrode)
    return f"(?i:{'|'.join((*mine, *known))})"
