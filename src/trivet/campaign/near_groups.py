"""Names of groups that differ by a slip of the hand: asked about, since each is a group."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

from trivet.errors import Problem

_SHORTEST = 4
"""Words below this length differ by a letter on purpose more often than by a slip."""


def near_groups(
    name: str,
    rows: Sequence[tuple[int, dict[str, str]]],
    factors: Sequence[str],
    as_meant: Sequence[str],
) -> Iterator[Problem]:
    """Ask about values of build factors that look like another value.

    Parameters
    ----------
    name : str
        File, for the message.
    rows : sequence of (int, dict of str to str)
        Lines and rows of the sheet.
    factors : sequence of str
        Columns of build factors.
    as_meant : sequence of str
        Values that are meant as they are written.

    Yields
    ------
    Problem
        One for each value that is rarer than its near one, on its first line.
    """
    for factor in factors:
        counts = Counter(row[factor] for _, row in rows if row[factor])
        ordered = sorted(counts, key=lambda value: (-counts[value], value))
        for place, rarer in enumerate(ordered):
            usual = next((one for one in ordered[:place] if near(one, rarer)), None)
            if usual is None or rarer in as_meant:
                continue
            line, cell = next((at, row["cell"]) for at, row in rows if row[factor] == rarer)
            message = (
                f"'{factor}' of cell '{cell}' is '{rarer}', and '{usual}' of "
                f"{counts[usual]} others: is it the same?"
            )
            hint = f"Write it alike, or list '{rarer}' in 'build_sheet.as_meant'."
            yield Problem(name, message, line, hint)


def near(one: str, other: str) -> bool:
    """Whether two names differ by a slip only.

    That is by letter case, blanks and signs between words; or in one word of at least four letters
    by one letter more, less or other, or by two that changed places. Numbers must be the same.
    """
    if one == other:
        return False
    words, others = (re.findall(r"[^\W\d_]+|[0-9]+", text.casefold()) for text in (one, other))
    if "".join(words) == "".join(others):
        # Signs may carry the meaning where there are hardly any letters: 1+1, 1-1.
        return any(word.isalpha() for word in words)
    if len(words) != len(others):
        return False
    unlike = [pair for pair in zip(words, others, strict=True) if pair[0] != pair[1]]
    if len(unlike) != 1:
        return False
    a, b = unlike[0]
    return a.isalpha() and b.isalpha() and min(len(a), len(b)) >= _SHORTEST and _one_slip(a, b)


def _one_slip(a: str, b: str) -> bool:
    """Whether one letter is more, less or other, or two neighbours changed places."""
    start = next(
        (n for n, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b))
    )
    rests = (
        (a[start + 1 :], b[start + 1 :]),
        (a[start:], b[start + 1 :]),
        (a[start + 1 :], b[start:]),
    )
    swapped = (
        a[start : start + 2] == b[start : start + 2][::-1] and a[start + 2 :] == b[start + 2 :]
    )
    return any(x == y for x, y in rests) or (swapped and len(a) == len(b))
