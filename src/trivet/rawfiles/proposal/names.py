"""What the names of many files have in common: patterns, and the names of the cells in them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from trivet.rawfiles.proposal.words import pair_of
from trivet.schema.tables.impedance import PAIRS

_PARTING = re.compile(r"([_/\s.,()\[\]]+)")
_DATE = re.compile(r"[0-9]{6,14}|[0-9]{1,4}-[0-9]{1,2}-[0-9]{1,4}")
_MOST_LITERAL = 6
"""Words that no placeholder stands for get a pattern each, where they are so few."""


@dataclass(frozen=True)
class NamePattern:
    """A pattern of file names.

    Attributes
    ----------
    files : str
        Path with `{cell}`, `{pair}`, `{cycle}` and `{part}`.
    pair : str
        What the spectra were measured across, by a word in their names; `?` where the word does
        not say it, empty where no word of the pattern does.
    cells : tuple of str
        Cells, in order of their names.
    count : int
        Files it is made from.
    """

    files: str
    pair: str
    cells: tuple[str, ...]
    count: int


@dataclass(frozen=True)
class _Shape:
    """Names that are parted by the same signs: a row a file, a column a word."""

    impedance: bool
    signs: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def column(self, place: int) -> list[str]:
        """Words of all files at a position."""
        return [row[place] for row in self.rows]

    def varies(self, place: int) -> bool:
        """Whether files have different words there."""
        return len(set(self.column(place))) > 1

    @property
    def places(self) -> range:
        """Positions of words, but for the ending of the name."""
        return range(len(self.rows[0]) - 1)


def name_patterns(groups: Sequence[tuple[bool, Sequence[str]]]) -> list[list[NamePattern]]:
    """Find patterns in the names of groups of files that are laid out alike.

    Parameters
    ----------
    groups : sequence of (bool, sequence of str)
        Of each group whether its files hold impedance, and their paths with `/`.

    Returns
    -------
    list of list of NamePattern
        Patterns of each group. The word taken for the cell varies, occurs in the names of other
        groups too, has letters and digits, and is no date; the first of those that do best.
    """
    shapes = [list(_shapes(impedance, names)) for impedance, names in groups]
    every = [shape for some in shapes for shape in some]
    seen = {id(shape): {word for row in shape.rows for word in row} for shape in every}
    out = []
    for some in shapes:
        patterns: list[NamePattern] = []
        for shape in some:
            others = [seen[id(other)] for other in every if other is not shape]
            patterns += _patterns(shape, _cell_place(shape, set().union(*others)))
        out.append(patterns)
    return out


def _shapes(impedance: bool, names: Sequence[str]) -> Iterator[_Shape]:
    """Names grouped by the signs between their words."""
    found: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
    for name in names:
        pieces = _PARTING.split(name)
        found.setdefault(tuple(pieces[1::2]), []).append(tuple(pieces[::2]))
    for signs, rows in found.items():
        yield _Shape(impedance, signs, tuple(rows))


def _cell_place(shape: _Shape, others: set[str]) -> int | None:
    """Position of the word that names the cell; None where there is no word."""

    def worth(place: int) -> tuple[float, ...]:
        words = shape.column(place)
        share = [
            [word in others for word in words],
            [shape.varies(place)] * len(words),
            [bool(re.search("[A-Za-z]", word) and re.search("[0-9]", word)) for word in words],
        ]
        last = shape.signs[place - 1 : place] == ("/",) or not place
        return (*(sum(flags) / len(words) for flags in share), float(last), float(-place))

    places = [
        place for place in shape.places
        if all(shape.column(place)) and not _is_pair(shape, place)
        and not all(_DATE.fullmatch(word) for word in shape.column(place))
    ]  # fmt: skip
    return max(places, key=worth, default=None)


def _is_pair(shape: _Shape, place: int) -> bool:
    """Whether all words at a position are those of pairs."""
    return shape.impedance and set(shape.column(place)) <= set(PAIRS)


def _patterns(shape: _Shape, cell: int | None) -> Iterator[NamePattern]:
    """Patterns of the names of one shape."""
    holders: dict[int, str] = {} if cell is None else {cell: "{cell}"}
    literal = []
    for place in shape.places:
        if place in holders:
            continue
        words = shape.column(place)
        if _is_pair(shape, place) and "{pair}" not in holders.values():
            holders[place] = "{pair}"
        elif not shape.varies(place):
            continue
        elif shape.impedance and len(set(words)) <= len(PAIRS) and all(map(str.isalpha, words)):
            literal.append(place)
        elif shape.impedance and "{cycle}" not in holders.values() and all(map(_digits, words)):
            holders[place] = "{cycle}"
        elif "{part}" not in holders.values() and all(word.isalnum() for word in words):
            holders[place] = "{part}"
        else:
            literal.append(place)
    if not shape.varies(len(shape.rows[0]) - 1):
        yield from _expanded(shape, cell, holders, literal)
    else:
        yield from _expanded(shape, cell, holders, [*literal, len(shape.rows[0]) - 1])


def _digits(word: str) -> bool:
    """Whether a word is a number of plain digits."""
    return re.fullmatch("[0-9]+", word) is not None


def _expanded(
    shape: _Shape, cell: int | None, holders: Mapping[int, str], literal: Sequence[int]
) -> Iterator[NamePattern]:
    """A pattern for each combination of words that no placeholder stands for."""
    found: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
    for row in shape.rows:
        found.setdefault(tuple(row[place] for place in literal), []).append(row)
    if len(found) > _MOST_LITERAL:
        return
    for rows in found.values():
        words = [holders.get(place, word) for place, word in enumerate(rows[0])]
        files = "".join(a + b for a, b in zip(words, (*shape.signs, ""), strict=True))
        cells = () if cell is None else tuple(sorted({row[cell] for row in rows}))
        yield NamePattern(files, _pair(shape, rows[0], literal), cells, len(rows))


def _pair(shape: _Shape, row: Sequence[str], literal: Sequence[int]) -> str:
    """Pair that a word of the names means; `?` where only a person knows it."""
    words = [row[place] for place in literal if row[place].isalpha()]
    if not shape.impedance or not words:
        return ""
    return next((pair for word in words if (pair := pair_of(word))), "?")
