"""How wide the columns of a printed table are, by the widths of the letters that stand in them."""

from __future__ import annotations

import functools
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

from fontTools.ttLib import TTFont

from trivet.report.frame.style import font_files

_TYPE_AREA_PT = 170 / 25.4 * 72
_BESIDE_PT = (1.6 + 1.8) / 25.4 * 72
"""Space beside the text of a column, as in `style.css`."""
_SIZES_PT = {"plain": 8.0, "small": 7.1}
_ROOM = 1.02  # the layout sets letters in whole units of its own
_NARROWEST_PT, _WIDEST = 14.0, 0.42
"""Least width of a column, and the share of the line from which on long texts break."""
_UNKNOWN_LETTER_EM = 0.7
_MAY_BREAK = re.compile(r" |(?<=[-\u2013/])(?=[^\W\d])")
"""Where a line may end within a text: at spaces, and behind hyphens and strokes before a letter
(Unicode Standard Annex 14, classes SP, HY, BA and SY), not at a space that holds words together."""


@dataclass(frozen=True)
class ColumnTexts:
    """What stands in a column.

    Attributes
    ----------
    heading : str
        Its heading.
    texts : sequence of str
        Its texts.
    numeric : bool
        Whether it holds numbers, which break before sentences do not.
    """

    heading: str
    texts: Sequence[str]
    numeric: bool


@functools.cache
def _letters(file: str) -> dict[str, float]:
    """Width of every letter of a font, in em."""
    with TTFont(io.BytesIO(font_files()[file]), lazy=True) as font:
        em, widths = font["head"].unitsPerEm, font["hmtx"]
        return {chr(code): widths[name][0] / em for code, name in font.getBestCmap().items()}


def width_em(text: str, *, bold: bool = False) -> float:
    """Width of a text on one line [em].

    Parameters
    ----------
    text : str
        The text.
    bold : bool
        Whether it is a heading.
    """
    letters = _letters(f"SourceSansPro-{'Semibold' if bold else 'Regular'}.ttf")
    return sum(letters.get(letter, _UNKNOWN_LETTER_EM) for letter in text)


def column_widths(columns: Sequence[ColumnTexts], *, style: str) -> tuple[str, ...]:
    """Share the type area between columns so that no word breaks where the page has room.

    Words come first, then numbers on one line, then sentences on as few lines as can be. Where
    not even words have room, only those of the widest columns break.

    Parameters
    ----------
    columns : sequence of ColumnTexts
        What stands in them.
    style : str
        Size of print: `plain` or `small`.

    Returns
    -------
    tuple of str
        Share of each column in percent, as style sheets write it.
    """
    size = _SIZES_PT[style] * _ROOM
    words = [_longest_word(column, size) for column in columns]
    lines = [
        max(_longest_line(column, size), word) for column, word in zip(columns, words, strict=True)
    ]
    numbers = [
        line if column.numeric else word
        for column, line, word in zip(columns, lines, words, strict=True)
    ]
    given = words
    if sum(words) > _TYPE_AREA_PT:
        given = _cut_to(words, _TYPE_AREA_PT)
    elif sum(numbers) > _TYPE_AREA_PT:
        given = _between(words, numbers)
    elif sum(lines) > _TYPE_AREA_PT:
        given = _between(numbers, lines)
    else:
        given = lines
    return tuple(f"{100 * width / sum(given):.2f}%" for width in given)


def _longest_word(column: ColumnTexts, size_pt: float) -> float:
    """Width that a column needs for its words [pt]; words as long as a path may break."""
    heading = max(width_em(word, bold=True) for word in _MAY_BREAK.split(column.heading))
    words = {word for text in column.texts for word in _MAY_BREAK.split(text)}
    longest = max([heading, *(width_em(word) for word in words)]) * size_pt
    return max(min(longest, _WIDEST * _TYPE_AREA_PT), _NARROWEST_PT) + _BESIDE_PT


def _longest_line(column: ColumnTexts, size_pt: float) -> float:
    """Width that a column takes with every text on one line [pt]; sentences break."""
    longest = max((width_em(text) for text in {*column.texts}), default=0.0) * size_pt
    return max(min(longest, _WIDEST * _TYPE_AREA_PT), _NARROWEST_PT) + _BESIDE_PT


def _between(low: Sequence[float], high: Sequence[float]) -> list[float]:
    """Widths between two, of which the first has room in the line and the second has not [pt]."""
    share = (_TYPE_AREA_PT - sum(low)) / (sum(high) - sum(low))
    return [one + share * (other - one) for one, other in zip(low, high, strict=True)]


def _cut_to(widths: Sequence[float], room_pt: float) -> list[float]:
    """Widths of which the widest are cut to one size, so that all have room [pt]."""
    rest, left = room_pt, len(widths)
    for width in sorted(widths):
        if width * left > rest:
            break
        rest, left = rest - width, left - 1
    return [min(width, rest / left) for width in widths] if left else list(widths)
