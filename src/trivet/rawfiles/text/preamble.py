"""Start time that stands before the header of a file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trivet.rawfiles.text.clock import local_seconds, to_unix
from trivet.rawfiles.text.text_file import RawFileError
from trivet.store.arrow_arrays import text_array

_BEHIND = r"(?:[.,]\d+)?(?P<z> ?(?:Z|[+-]\d{2}:?\d{2}))?"
_ISO = r"(?P<Y>\d{4})-(?P<m>\d{2})-(?P<d>\d{2})[T ]+"
_DOTS = r"(?P<d>\d{1,2})\.(?P<m>\d{1,2})\.(?P<Y>\d{4})[T ,]+"
_CLOCK = r"(?P<H>\d{1,2}):(?P<M>\d{2})(?::(?P<S>\d{2}))?"
_FORMS = tuple(re.compile(date + _CLOCK + _BEHIND) for date in (_ISO, _DOTS))
"""Dates that can be read one way only: ISO 8601, and day.month.year with dots. With slashes day and
month can't be told apart, so such a date is left alone."""
_STARTS = re.compile(r"start|began|begin", re.IGNORECASE)
_WRITTEN = re.compile(r"\d{1,2}:\d{2}(?P<S>:\d{2}(?:[.,](?P<f>\d+))?)?")
_AROUND = " \t;:,=|\"'"
"""Signs that may stand between the words of a line and its time."""
DAY_s = 86400.0


@dataclass(frozen=True)
class Start:
    """A start that a line above the header states.

    Attributes
    ----------
    time_s : float
        Unix time [s].
    step_s : float
        Smallest difference that its way of writing can show [s].
    line : int
        Line, from 1.
    """

    time_s: float
    step_s: float
    line: int


def written_step_s(text: str) -> float:
    """Smallest difference that a time can show as it is written [s]: 1 for whole seconds.

    Parameters
    ----------
    text : str
        A date, with a time of day or without.
    """
    match = _WRITTEN.search(text)
    if match is None:
        return DAY_s
    if match["S"] is None:
        return 60.0
    return 10.0 ** -len(match["f"]) if match["f"] else 1.0


def declared_start(above: Sequence[str], *, words: str, form: str, zone: str) -> Start:
    """Start time in a line above the header that a layout names.

    Parameters
    ----------
    above : sequence of str
        Lines above the header.
    words : str
        What the line begins with.
    form : str
        How the time is written, in the codes of C's strptime; empty for ISO 8601.
    zone : str
        IANA zone of the file, for a time without an offset.

    Raises
    ------
    RawFileError
        No line begins so, or what follows is no time in that form.
    """
    wanted = words.strip().casefold()
    for number, line in enumerate(above, start=1):
        plain = line.strip().lstrip("\ufeff\"'")
        if not plain.casefold().startswith(wanted):
            continue
        text = plain[len(wanted) :].strip(_AROUND)
        time_s = _unix_s(text, form=form, zone=zone)
        if not np.isfinite(time_s):
            shown = form or "ISO 8601"
            message = f"behind '{words}' stands '{text[:60]}', which is no time as '{shown}'"
            raise RawFileError("start time", message, number)
        return Start(time_s, written_step_s(text), number)
    raise RawFileError("start time", f"no line above the header begins with '{words}'")


def start_of(preamble: str, *, zone: str) -> float | None:
    """Unix time of the start that a preamble states [s].

    Parameters
    ----------
    preamble : str
        What stands before the header of a file.
    zone : str
        IANA zone of the file.

    Returns
    -------
    float or None
        Of the line that speaks of a start, else of the only time there is; None where there is
        none, or several that differ.
    """
    lines = preamble.splitlines()
    named = _moments([line for line in lines if _STARTS.search(line)], zone)
    found = named or _moments(lines, zone)
    return found.pop() if len(found) == 1 else None


def _moments(lines: list[str], zone: str) -> set[float]:
    """Different times in some lines, as Unix times [s]."""
    found = set()
    for line in lines:
        for form in _FORMS:
            for hit in form.finditer(line):
                second = hit["S"] or "00"
                text = f"{hit['Y']}-{hit['m']}-{hit['d']} {hit['H']}:{hit['M']}:{second}"
                offset = (hit["z"] or "").strip()
                code = "%Y-%m-%d %H:%M:%S" + ("%z" if offset else "")
                time_s = _unix_s(text + offset, form=code, zone=zone)
                # Digits that look like a date and are none, such as 99.99.2026, are not finite.
                found |= {time_s} if np.isfinite(time_s) else set()
    return found


def _unix_s(text: str, *, form: str, zone: str) -> float:
    """Unix time that a text means [s]; NaN where it is no time in that form."""
    local_s = local_seconds(text_array([text]), form=form)
    placed = local_s if "%z" in form else to_unix(local_s, zone=zone).time_s
    return float(placed[0])
