"""Start time that stands before the header of a file."""

from __future__ import annotations

import re
from datetime import datetime

import numpy as np

from trivet.rawfiles.text.clock import to_unix

_ISO = r"(?P<Y>\d{4})-(?P<m>\d{2})-(?P<d>\d{2})[T ]+"
_DOTS = r"(?P<d>\d{1,2})\.(?P<m>\d{1,2})\.(?P<Y>\d{4})[T ,]+"
_CLOCK = r"(?P<H>\d{1,2}):(?P<M>\d{2})(?::(?P<S>\d{2}))?"
_FORMS = tuple(re.compile(date + _CLOCK) for date in (_ISO, _DOTS))
"""Dates that can be read one way only: ISO 8601, and day.month.year with dots. With slashes day and
month can't be told apart, so such a date is left alone."""
_STARTS = re.compile(r"start|began|begin", re.IGNORECASE)


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
    named = _moments([line for line in lines if _STARTS.search(line)])
    found = named or _moments(lines)
    if len(found) != 1:
        return None
    local = (next(iter(found)) - datetime(1970, 1, 1)).total_seconds()
    time_s = float(to_unix(np.array([local]), zone=zone).time_s[0])
    return time_s if np.isfinite(time_s) else None


def _moments(lines: list[str]) -> set[datetime]:
    """Different local times in some lines."""
    found = set()
    for line in lines:
        for form in _FORMS:
            for hit in form.finditer(line):
                parts = {key: int(value or 0) for key, value in hit.groupdict().items()}
                try:
                    moment = datetime(
                        parts["Y"], parts["m"], parts["d"], parts["H"], parts["M"], parts["S"]
                    )
                except ValueError:
                    # Digits that look like a date and are none, such as 99.99.2026.
                    continue
                found.add(moment)
    return found
