"""The name of a raw file held against the patterns: whose it is, and what it says."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from trivet.rawfiles.layout.pair_words import pair_token
from trivet.schema.settings.raw import RawFiles

_TOKENS = {"part": r"[^\W_]+(?:-[^\W_]+)*", "cycle": "[0-9]+", "any": "[^/]*?"}
_ANY_PAIR = r"[^\W_]+(?:[ -][^\W_]+)*"
_CELL_SIGN = "\0"
"""Stands for the id of a cell while its path is matched; no path has it."""


def pattern_regex(
    pattern: str, cell: str, *, pair_words: Iterable[str] = (), any_pair: bool = False
) -> re.Pattern[str]:
    """Regular expression of the files of one cell.

    Parameters
    ----------
    pattern : str
        Path below the campaign folder with placeholders.
    cell : str
        Id of the cell; it must stand in the path exactly, letter case included.
    pair_words : iterable of str
        Words of the layout for pairs, in one spelling.
    any_pair : bool
        Whether {pair} stands for any word, to find out which words people use.

    Returns
    -------
    re.Pattern
        To be matched against the whole relative path; {part} is letters and digits, with hyphens
        between them, {cycle} is digits, {pair} a word for a pair, {any} anything within one folder
        or name. A placeholder other than {any} that occurs again must have the same value again.
    """
    seen: set[str] = set()
    tokens = _TOKENS | {"pair": _ANY_PAIR if any_pair else pair_token(pair_words)}
    out = []
    for piece in re.split(r"(\{[a-z]+\})", pattern):
        name = piece[1:-1] if piece.startswith("{") and piece.endswith("}") else ""
        if name == "cell":
            out.append(re.escape(composed(cell)))
        elif name == "any":
            out.append(tokens[name])
        elif name in tokens:
            out.append(f"(?P={name})" if name in seen else f"(?P<{name}>{tokens[name]})")
            seen.add(name)
        else:
            out.append(re.escape(piece))
    return re.compile("".join(out))


class Pattern:
    """A pattern of files, ready to be matched for any cell.

    Parameters
    ----------
    content : str
        `cycling`, `impedance` or `plating`.
    entry : RawFiles
        The pattern.
    pair_words : mapping of str to str
        Words of its layout for pairs, from `own_words`.
    """

    def __init__(
        self, content: str, entry: RawFiles, pair_words: Mapping[str, str] | None = None
    ) -> None:
        self.pair_words = dict(pair_words or {})
        self.content, self.layout, self.pair = content, entry.layout, entry.pair
        self.files, self.reading = entry.files, (content, entry.layout)
        self.places = entry.files.count("{cell}")
        self._regex = pattern_regex(composed(entry.files), _CELL_SIGN, pair_words=self.pair_words)

    def match(self, name: str, cell: str = "", starts: Sequence[int] = ()) -> re.Match[str] | None:
        """Match a path in which the id of a cell begins at these positions."""
        marked = (_marked(name, cell, chosen) for chosen in combinations(starts, self.places))
        matches = [match for path in marked if (match := self._regex.fullmatch(path))]
        if len(matches) < 2:
            return matches[0] if matches else None
        # Several readings of one name: that which the pattern of this cell alone takes.
        return pattern_regex(composed(self.files), cell, pair_words=self.pair_words).fullmatch(name)


def _marked(name: str, cell: str, starts: Sequence[int]) -> str:
    """A path with a sign in place of the id at these positions; empty where ids overlap."""
    pieces, at = [], 0
    for start in starts:
        if start < at:
            return ""
        pieces += [name[at:start], _CELL_SIGN]
        at = start + len(cell)
    return "".join([*pieces, name[at:]])


class Ids:
    """The ids of a campaign, as they are looked for in names.

    Parameters
    ----------
    cells : iterable of str
        Ids as typed.

    Attributes
    ----------
    cells : dict of str to list of str
        Ids as typed by their form with one sign a letter.
    lengths : tuple of int
        Lengths that these forms have, the shortest first [1].
    """

    def __init__(self, cells: Iterable[str]) -> None:
        self.cells: dict[str, list[str]] = {}
        for cell in dict.fromkeys(cells):
            self.cells.setdefault(composed(cell), []).append(cell)
        self.lengths = tuple(sorted({len(one) for one in self.cells}))


def owners(
    relative: str, patterns: Sequence[Pattern], ids: Ids
) -> dict[str, list[tuple[Pattern, re.Match[str]]]]:
    """Cells that a file belongs to, each with the patterns that match, in their order.

    Parameters
    ----------
    relative : str
        Path below the campaign folder.
    patterns : sequence of Pattern
        In the order of the settings.
    ids : Ids
        Those of the campaign. Where patterns with {cell} match for several, the file belongs to
        the longest.
    """
    name = composed(relative)
    starts = _starts(name, ids)
    shared: dict[int, re.Match[str]] = {}
    named: dict[str, dict[int, re.Match[str]]] = {}
    for at, pattern in enumerate(patterns):
        if not pattern.places and (match := pattern.match(name)):
            shared[at] = match
        for one in starts if pattern.places else ():
            if match := pattern.match(name, one, starts[one]):
                named.setdefault(one, {})[at] = match
    longest = max(map(len, named), default=0)
    return {
        cell: [(patterns[at], match) for at, match in sorted(matches.items())]
        for one in (ids.cells if shared else named)
        if len(one) >= longest and (matches := shared | named.get(one, {}))
        for cell in ids.cells[one]
    }


@dataclass(frozen=True)
class Misfit:
    """How far a pattern fits a name that it does not match.

    Attributes
    ----------
    pattern : str
        The pattern.
    fits : str
        Beginning of the name that fits.
    piece : str
        Piece of the pattern that does not; empty where the name goes on behind the pattern.
    rest : str
        What stands there in the name.
    """

    pattern: str
    fits: str
    piece: str
    rest: str


def nearest_misfit(name: str, patterns: Sequence[Pattern], cells: Sequence[str]) -> Misfit | None:
    """Find the pattern that fits a name furthest, and the piece at which it fails.

    Parameters
    ----------
    name : str
        Path below the campaign folder.
    patterns : sequence of Pattern
        Patterns that do not match it.
    cells : sequence of str
        Ids of the campaign.
    """
    plain = composed(name)
    named = [cell for cell in cells if composed(cell) in plain] or list(cells[:1])
    found = [_misfit(plain, pattern, cell) for pattern in patterns for cell in named]
    return max(found, key=lambda one: len(one.fits), default=None)


def _misfit(name: str, pattern: Pattern, cell: str) -> Misfit:
    """How far one pattern fits a name for one cell."""
    pieces = [piece for piece in re.split(r"(\{[a-z]+\})", composed(pattern.files)) if piece]
    for count in range(len(pieces), 0, -1):
        begun = "".join(pieces[:count])
        match = pattern_regex(begun, cell, pair_words=pattern.pair_words).match(name)
        if match:
            piece = pieces[count] if count < len(pieces) else ""
            return Misfit(pattern.files, match.group(), piece, name[match.end() :])
    return Misfit(pattern.files, "", pieces[0], name)


def _starts(name: str, ids: Ids) -> dict[str, list[int]]:
    """Where ids occur in a path."""
    out: dict[str, list[int]] = {}
    for length in ids.lengths:
        for at in range(len(name) - length + 1):
            if name[at : at + length] in ids.cells:
                out.setdefault(name[at : at + length], []).append(at)
    return out


def composed(text: str) -> str:
    """Text with one sign a letter: some systems write a letter with its accent as two signs."""
    return unicodedata.normalize("NFC", text)
