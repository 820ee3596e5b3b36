"""What the names of many files have in common: patterns, and the names of the cells in them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from trivet.rawfiles.layout.pair_words import meant_pair
from trivet.schema.tables.impedance import PAIRS

_PARTING = re.compile(r"([_/\s.,()\[\]-]+)")
_HYPHEN = "-"
"""The one sign that may stand within the name of a cell, as in `K-04`."""
_DATE = re.compile(r"[0-9]{6,14}|[0-9]{1,4}-[0-9]{1,2}-[0-9]{1,4}")
_TIME_OF_DAY = re.compile(r"(?:[01][0-9]|2[0-3])[0-5][0-9](?:[0-5][0-9])?")
_CYCLE = re.compile(r"(cyc|cycle|zyklus|zyk|ciclo)[0-9]+", re.IGNORECASE)
"""A number of a cycle behind its word; common practice, no source."""
_MOST_LITERAL = 6
"""Words that no placeholder stands for get a pattern each, where they are so few."""


@dataclass(frozen=True)
class NamePattern:
    """A pattern of file names.

    Attributes
    ----------
    files : str
        Path with `{cell}`, `{pair}`, `{cycle}`, `{part}` and `{any}`.
    pair : str
        What the spectra were measured across, by a word in their names; `?` where the word does
        not say it, empty where no word of the pattern does.
    cells : tuple of str
        Cells, in order of their names.
    count : int
        Files it is made from.
    other_files : str
        Another pattern that the same names allow; empty where there is one reading only.
    other_cells : tuple of str
        The cells by that other reading.
    """

    files: str
    pair: str
    cells: tuple[str, ...]
    count: int
    other_files: str = ""
    other_cells: tuple[str, ...] = ()


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

    def runs(self) -> Iterator[range]:
        """Positions of words that hyphens join, single ones too, none of them empty."""
        for first in self.places:
            for last in self.places[first:]:
                if last > first and self.signs[last - 1] != _HYPHEN:
                    break
                if not all(self.column(last)):
                    break
                yield range(first, last + 1)

    def texts_of(self, run: range) -> list[str]:
        """What stands at a run of positions, of all files."""
        return [self._text(row, run) for row in self.rows]

    def _text(self, row: Sequence[str], run: range) -> str:
        """What stands at a run of positions of one name."""
        signs = ("", *self.signs[run.start : run.stop - 1])
        return "".join(sign + row[place] for sign, place in zip(signs, run, strict=True))

    def texts(self) -> list[str]:
        """Everything that could be a name in these names, once a file."""
        runs = list(self.runs())
        return [text for row in self.rows for text in {self._text(row, run) for run in runs}]

    def joined(self, run: range) -> _Shape:
        """The same names with a run of words as one word."""
        rows = tuple(
            (*row[: run.start], self._text(row, run), *row[run.stop :]) for row in self.rows
        )
        return _Shape(
            self.impedance,
            (*self.signs[: run.start], *self.signs[run.stop - 1 :]),
            rows,
        )


def name_patterns(groups: Sequence[tuple[bool, Sequence[str]]]) -> list[list[NamePattern]]:
    """Find patterns in the names of groups of files that are laid out alike.

    Parameters
    ----------
    groups : sequence of (bool, sequence of str)
        Of each group whether its files hold impedance, and their paths with `/`.

    Returns
    -------
    list of list of NamePattern
        Patterns of each group. What is taken for the cell varies, occurs in the names of other
        groups too, has letters and digits, and is no date; words joined by hyphens count as one
        (`K-04`), unless other names part them. The first of those that do best.
    """
    shapes = [list(_shapes(impedance, names)) for impedance, names in groups]
    every = [shape for some in shapes for shape in some]
    files = sum(len(shape.rows) for shape in every)
    seen = {id(shape): shape.texts() for shape in every}
    counts = Counter(text for texts in seen.values() for text in texts)
    common = {text for text, count in counts.items() if count == files}
    out = []
    for some in shapes:
        found: list[NamePattern] = []
        for shape in some:
            others = {text for other in every if other is not shape for text in seen[id(other)]}
            found += _read(shape, others - common)
        out.append(_merged(found))
    return out


def _merged(patterns: Sequence[NamePattern]) -> list[NamePattern]:
    """Patterns that say the same as one, such as those of `K-04` and `K05`."""
    found: dict[tuple[str, str, str], NamePattern] = {}
    for one in patterns:
        key = (one.files, one.pair, one.other_files)
        before = found.get(key, replace(one, cells=(), other_cells=(), count=0))
        found[key] = replace(
            one,
            cells=tuple(sorted({*before.cells, *one.cells})),
            other_cells=tuple(sorted({*before.other_cells, *one.other_cells})),
            count=before.count + one.count,
        )
    return list(found.values())


def _shapes(impedance: bool, names: Sequence[str]) -> Iterator[_Shape]:
    """Names grouped by the signs between their words, and by what hyphens join."""
    found: dict[tuple[tuple[str, ...], tuple[str, ...]], list[tuple[str, ...]]] = {}
    for name in names:
        words, signs = _parted(name)
        kinds = tuple(
            _kind(word) if _HYPHEN in signs[max(place - 1, 0) : place + 1] else ""
            for place, word in enumerate(words)
        )
        found.setdefault((signs, kinds), []).append(words)
    for (signs, _), rows in found.items():
        yield _Shape(impedance, signs, tuple(rows))


def _kind(word: str) -> str:
    """What a word beside a hyphen is: in `K-04-2` and `K-04-cyc` the last ones are unlike."""
    if _digits(word):
        return "number"
    return "word" if word.isalpha() and len(word) > 1 else "name"


def _parted(name: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words of a name and the signs between them; a date is one word."""
    pieces = _PARTING.split(name)
    words, signs = pieces[:1], list[str]()
    for sign, word in zip(pieces[1::2], pieces[2::2], strict=True):
        words.append(word)
        signs.append(sign)
        if signs[-2:] == [_HYPHEN, _HYPHEN] and _DATE.fullmatch(_HYPHEN.join(words[-3:])):
            words[-3:] = [_HYPHEN.join(words[-3:])]
            del signs[-2:]
    return tuple(words), tuple(signs)


def _read(shape: _Shape, others: set[str]) -> Iterator[NamePattern]:
    """Patterns by the best reading of names; with it the other one where there are two."""
    runs = _by_worth(shape, others)
    if not runs:
        yield from _patterns(shape, None)
        return
    best = runs[0]
    chosen = list(_patterns(shape.joined(best), best.start))
    other = _other_reading(shape, best, others) or _one_cell(shape, best, runs)
    also = [] if other is None else list(_patterns(shape.joined(other), other.start))
    for place, one in enumerate(chosen):
        if not also:
            yield one
        else:
            near = also[min(place, len(also) - 1)]
            yield replace(one, other_files=near.files, other_cells=near.cells)


def _by_worth(shape: _Shape, others: set[str]) -> list[range]:
    """Runs of words that may name the cell, the likeliest first."""

    def worth(run: range) -> tuple[float, ...]:
        texts = shape.texts_of(run)
        varies = len(set(texts)) > 1
        share = [
            [text in others and (varies or _has_digit(text)) for text in texts],
            [varies] * len(texts),
            [_has_digit(text) and bool(re.search("[A-Za-z]", text)) for text in texts],
        ]
        last = shape.signs[run.start - 1 : run.start] == ("/",) or not run.start
        means = (sum(flags) / len(texts) for flags in share)
        return (*means, float(len(run)), float(last), float(-run.start))

    possible = [
        run for run in shape.runs()
        if not any(_is_pair(shape, place) for place in run) and not _runs_on(shape, run)
        and not all(_DATE.fullmatch(text) for text in shape.texts_of(run))
    ]  # fmt: skip
    return sorted(possible, key=worth, reverse=True)


def _runs_on(shape: _Shape, run: range) -> bool:
    """Whether a run goes on into a word such as `cyc` behind a number, or holds a date."""
    numbered = False
    for place in run:
        words = shape.column(place)
        if len(run) > 1 and any(_DATE.fullmatch(word) for word in words):
            return True
        if numbered and all(word.isalpha() and len(word) > 1 for word in words):
            return True
        numbered = numbered or any(map(_has_digit, words))
    return False


def _other_reading(shape: _Shape, best: range, others: set[str]) -> range | None:
    """Another run that names of this shape allow as well; None where something speaks for one.

    `K04-1` may be a cell, or part 1 of cell `K04`; `lab-K-04` may be `K-04` of a laboratory; `A_12`
    may be a cell, where `A` was taken for one.
    """
    texts = shape.texts_of(best)
    if all(text in others for text in texts):
        return None
    shorter = range(best.start, best.stop - 1)
    if shorter and all(map(_has_digit, shape.texts_of(shorter))):
        return shorter if all(map(_digits, shape.column(shorter.stop))) else None
    inner = range(best.start + 1, best.stop)
    first = shape.column(best.start)
    if len(inner) > 1 and len(set(first)) == 1 and first[0].isalpha() and len(first[0]) > 1:
        return inner if all(word[:1].isalpha() for word in shape.column(inner.start)) else None
    longer = range(best.start, best.stop + 1)
    if (
        shape.signs[best.stop - 1 : best.stop] == ("_",)
        and all(map(str.isalpha, texts))
        and all(map(_digits, shape.column(best.stop)))
        and longer.stop <= shape.places.stop
    ):
        return longer
    return None


def _one_cell(shape: _Shape, best: range, runs: Sequence[range]) -> range | None:
    """The run that names one cell in all names, where plain numbers were taken for cells."""
    if not all(map(_digits, shape.texts_of(best))):
        return None
    for run in runs:
        texts = set(shape.texts_of(run))
        if len(texts) == 1 and re.fullmatch("[A-Za-z]{1,2}-?[0-9]+", texts.pop()):
            return run
    return None


def _has_digit(text: str) -> bool:
    """Whether a text holds a digit."""
    return re.search("[0-9]", text) is not None


def _is_pair(shape: _Shape, place: int) -> bool:
    """Whether all words at a position are those of pairs; in a folder only where they vary."""
    words = set(shape.column(place))
    if not shape.impedance or not all(map(meant_pair, words)):
        return False
    return shape.varies(place) or words <= set(PAIRS) or "/" not in shape.signs[place:]


def _patterns(shape: _Shape, cell: int | None) -> Iterator[NamePattern]:
    """Patterns of the names of one shape."""
    holders: dict[int, str] = {}
    if cell is not None:
        same = (place for place in shape.places if shape.column(place) == shape.column(cell))
        holders = dict.fromkeys(same, "{cell}")
    literal, free = list[int](), list[int]()
    for place in (place for place in shape.places if place not in holders):
        words = shape.column(place)
        counted = _counted(shape, place)
        if _is_pair(shape, place) and "{pair}" not in holders.values():
            holders[place] = "{pair}"
        elif not shape.varies(place):
            continue
        elif shape.impedance and len(set(words)) <= len(PAIRS) and all(map(str.isalpha, words)):
            literal.append(place)
        elif counted and not any("{cycle}" in holder for holder in holders.values()):
            holders[place] = f"{counted}{{cycle}}"
        else:
            free.append(place)
    holders |= _numbered(shape, free, holders)
    literal += [place for place in free if place not in holders]
    if shape.varies(len(shape.rows[0]) - 1):
        literal.append(len(shape.rows[0]) - 1)
    yield from _expanded(shape, cell, holders, literal)


def _counted(shape: _Shape, place: int) -> str:
    """What stands before the number of the cycle in all words at a position; empty without."""
    if not shape.impedance:
        return ""
    found = [_CYCLE.fullmatch(word) for word in shape.column(place)]
    before = {match.group(1) for match in found if match}
    return before.pop() if all(found) and len(before) == 1 else ""


def _numbered(shape: _Shape, free: Sequence[int], holders: Mapping[int, str]) -> dict[int, str]:
    """Placeholders of words that vary: the cycle, the part, and what may be anything.

    The last word that is no date and no time of day is the part; a date where there is no other.
    Dates and times of day beside it may be anything.
    """
    out: dict[int, str] = {}
    dated = [place for place in free if _all_match(_DATE, shape.column(place))]
    clocks = [place for place in free if place - 1 in dated and _is_clock(shape.column(place))]
    plain = [place for place in free if place not in (*dated, *clocks)]
    if shape.impedance and not any("{cycle}" in holder for holder in holders.values()):
        numbers = [place for place in plain if all(map(_digits, shape.column(place)))]
        out |= dict.fromkeys(numbers[:1], "{cycle}")
    words = [place for place in plain if place not in out
             and all(word.isalnum() for word in shape.column(place))]  # fmt: skip
    part = words[-1:] or dated[-1:]
    out |= dict.fromkeys(part, "{part}")
    loose = [place for place in (*dated, *clocks, *words) if place not in out]
    rest = [place for place in free if place not in (*out, *loose)]
    if len({tuple(row[place] for place in rest) for row in shape.rows}) > _MOST_LITERAL:
        loose += rest
    return out | dict.fromkeys(loose, "{any}")


def _all_match(form: re.Pattern[str], words: Sequence[str]) -> bool:
    """Whether all words have a form."""
    return all(form.fullmatch(word) for word in words)


def _is_clock(words: Sequence[str]) -> bool:
    """Whether all words are times of day without signs, such as 1042 or 104258."""
    return _all_match(_TIME_OF_DAY, words)


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
    return next((pair for word in words if (pair := meant_pair(word))), "?")


def squeezed(name: str) -> str:
    """A name without what people write now so, now otherwise: `K-04`, `K04`, `k_4`."""
    return "".join(
        str(int(piece)) if piece.isdecimal() else piece
        for piece in re.findall("[0-9]+|[^0-9_ -]+", name.casefold())
    )
