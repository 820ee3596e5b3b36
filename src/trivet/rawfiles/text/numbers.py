"""One number as text: a value, missing, or unreadable; never a guess."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_GROUPING = {".": ",", ",": "."}
_DATED = re.compile(
    r"[0-9]{1,2}[./-][0-9]{1,2}[./-][0-9]{2,4}|[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[ T][0-9:.]+)?"
    r"|[0-9]{1,2}/[0-9]{1,2}|[0-9]{1,2}\.?[ -]?[A-Za-zäé]{3,4}\.?(?:[ -][0-9]{2,4})?"
    r"|[A-Za-zäé]{3,4}\.?[ -][0-9]{2,4}"
)
"""What spreadsheets turn numbers into: 03.04.2025, 2025-04-03, 3/4, 03. Apr, Apr 25."""
_OTHER_GROUPING = "'\u2019 \u00a0\u202f"
"""Apostrophes and blanks that stand between groups of three digits."""


class NumberReader:
    """Reads numbers with a declared decimal sign.

    A thousands sign is taken where it can mean nothing else: groups of three, and either a decimal
    sign behind them or more than one group. `1.234` with decimal comma could be a slip for
    `1,234`, so it is unreadable.

    Parameters
    ----------
    decimal : str
        `.` or `,`.
    missing : sequence of str
        Words for no value, whatever their letter case. One that is a number, such as `9.9E37`,
        stands for every spelling of that number.
    thousands : str
        Declared sign between groups of three digits; empty where none is declared.
    """

    def __init__(self, *, decimal: str, missing: Sequence[str], thousands: str = "") -> None:
        self.decimal = decimal
        self.words = frozenset(word.strip().casefold() for word in missing)
        self.spellings = self.words.union(missing, (word.upper() for word in missing))
        group = re.escape(_GROUPING[decimal])
        point = re.escape(decimal)
        self._grouped = re.compile(
            rf"[+-]?[0-9]{{1,3}}(?:(?:{group}[0-9]{{3}})+{point}[0-9]+|(?:{group}[0-9]{{3}}){{2,}}"
            rf"|(?:[{_OTHER_GROUPING}][0-9]{{3}})+(?:{point}[0-9]*)?)"
        )
        sign = f"[{_OTHER_GROUPING}]" if thousands in ("'", " ") else re.escape(thousands)
        self._declared = (
            re.compile(rf"[+-]?[0-9]{{1,3}}(?:{sign}[0-9]{{3}})+(?:{point}[0-9]*)?")
            if thousands
            else None
        )
        self._delete = str.maketrans("", "", _OTHER_GROUPING + _GROUPING[decimal])
        values = (_plain(word.replace(decimal, ".")) for word in self.words)
        self.missing_numbers = tuple(sorted({value for value in values if value is not None}))

    def read(self, text: str) -> float | None:
        """Value of a text; NaN where it stands for no value, None where it is unreadable."""
        text = text.strip()
        if text.casefold() in self.words:
            return math.nan
        declared = self._declared is not None and self._declared.fullmatch(text)
        if declared or self._grouped.fullmatch(text):
            text = text.translate(self._delete)
        elif self.decimal != "." and "." in text:
            return None
        value = _plain(text.replace(self.decimal, "."))
        if value is None:
            return None
        return math.nan if value in self.missing_numbers else value


def _plain(text: str) -> float | None:
    """Value of digits with a decimal point; None for anything else, and for more than fits."""
    if not _PLAIN.fullmatch(text):
        return None
    value = float(text)
    return value if math.isfinite(value) else None


def is_dated(text: str) -> bool:
    """Whether a field that should be a number looks like a date, such as `03. Apr` or `Apr 25`."""
    return _DATED.fullmatch(text.strip()) is not None
