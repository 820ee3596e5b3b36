"""Times as text: parts of a date, time zones with the hour that occurs twice, elapsed clocks."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from trivet.store.arrow_arrays import numbers, text_scalar, truth_array, truths

SPREADSHEET_DAYS = {"days from 1900": date(1899, 12, 30), "days from 1904": date(1904, 1, 1)}
"""Day 0 of the day numbers of spreadsheets, right from 1 March 1900 on: the first system counts a
29 February 1900 that did not exist."""

_PARTS = {
    "Y": r"(?P<Y>[0-9]{4})",
    "m": r"(?P<m>[0-9]{1,2})",
    "d": r"(?P<d>[0-9]{1,2})",
    "H": r"(?P<H>[0-9]{1,2})",
    "M": r"(?P<M>[0-9]{1,2})",
    "S": r"(?P<S>[0-9]{1,2})",
    "f": r"(?P<f>[0-9]{1,9})",
    "z": r"(?:Z|(?P<sign>[+-])(?P<ahead>[0-9]{2}):?(?P<minutes>[0-9]{2}))",
}
_ELAPSED = (
    r"^(?:(?P<d>[0-9]+)(?:d| |-|\.))? *"
    r"(?P<H>[0-9]+):(?P<M>[0-9]{1,2}):(?P<S>[0-9]{1,2}(?:[.,][0-9]+)?)$"
)
_AT_A_TIME = 131_072
"""Rows taken apart at a time, since the parts of a date take far more memory than its seconds."""
_QUARTER_S = 900.0
"""Zones change their offset on quarters of an hour only."""


@dataclass(frozen=True)
class Placed:
    """Local times placed on the calendar.

    Attributes
    ----------
    time_s : numpy.ndarray, shape (n_rows,)
        Unix time [s]; NaN where unreadable.
    twice : numpy.ndarray of bool, shape (n_rows,)
        Rows whose local time occurs twice, because clocks were set back.
    never : numpy.ndarray of bool, shape (n_rows,)
        Rows whose local time does not occur, because clocks were set forward.
    """

    time_s: np.ndarray
    twice: np.ndarray
    never: np.ndarray


def local_seconds(texts: pa.Array, *, form: str) -> np.ndarray:
    """Local dates and times as seconds, as if they were UTC.

    Parameters
    ----------
    texts : pyarrow.Array of string, shape (n_rows,)
        As written.
    form : str
        Codes of C's strptime, or a key of `SPREADSHEET_DAYS`; empty for ISO 8601.

    Returns
    -------
    numpy.ndarray, shape (n_rows,)
        Seconds since 1970-01-01 00:00 on the local clock [s]; NaN where unreadable. An offset in
        the text (`%z`) is taken off, so the result is UTC then.
    """
    if form in SPREADSHEET_DAYS:
        start = datetime.combine(SPREADSHEET_DAYS[form], time(), UTC).timestamp()
        return start + 86400.0 * _floats(texts)
    pattern = _pattern(form)
    seconds = np.empty(len(texts))
    for at in range(0, len(texts), _AT_A_TIME):
        some = texts.slice(at, _AT_A_TIME)
        seconds[at : at + _AT_A_TIME] = (
            [_one_time(text, form) for text in some.to_pylist()]
            if pattern is None
            else _from_parts(pc.extract_regex(some, pattern))
        )
    return seconds


def _pattern(form: str) -> str | None:
    """Regular expression of a format made of numbers only; None for any other.

    No format is the extended one of ISO 8601, with T or a blank between date and time.
    """
    if not form:
        return "^{Y}-{m}-{d}[T ]{H}:{M}:{S}(?:[.,]{f})?$".format(**_PARTS)
    out = ["^"]
    for piece in re.split(r"(%.)", form.replace("%T", "%H:%M:%S").replace("%F", "%Y-%m-%d")):
        if piece.startswith("%"):
            part = _PARTS.get(piece[1:])
            if part is None or part in out:
                return None
            out.append(part)
        else:
            out.append(re.sub(r"(?:\\ )+", r"\\s+", re.escape(piece)))
    named = "".join(out)
    return f"{named}$" if all(f"?P<{part}>" in named for part in "Ymd") else None


def _from_parts(parts: pa.Array) -> np.ndarray:
    """Seconds from the numbers of a date; NaN for a day or an hour that no calendar has."""

    def part(name: str, otherwise: float) -> np.ndarray:
        fields = [field.name for field in parts.type]
        if name not in fields:
            return np.full(len(parts), otherwise)
        return _floats(pc.struct_field(parts, name))

    year, month, day = part("Y", 1970.0), part("m", 1.0), part("d", 1.0)
    hour, minute, second = part("H", 0.0), part("M", 0.0), part("S", 0.0)
    valid = np.isfinite(year) & (year >= 1) & (month >= 1) & (month <= 12) & (day >= 1)
    valid &= (hour <= 23) & (minute <= 59) & (second <= 59)
    months = np.where(valid, (year - 1970) * 12 + month - 1, 0).astype("int64")
    first = months.astype("datetime64[M]").astype("datetime64[D]")
    length = ((months + 1).astype("datetime64[M]").astype("datetime64[D]") - first).astype(int)
    valid &= day <= length
    seconds = first.astype("datetime64[s]").astype("int64") + (np.where(valid, day, 1) - 1) * 86400
    total = seconds + hour * 3600 + minute * 60 + second + _fraction(parts) - _ahead_s(parts)
    return np.where(valid, total, np.nan)


def _ahead_s(parts: pa.Array) -> np.ndarray | float:
    """How far the local clock is ahead of UTC by the offset in the text [s]; Z is 0."""
    if "sign" not in [field.name for field in parts.type]:
        return 0.0
    hours, minutes = (_floats(pc.struct_field(parts, name)) for name in ("ahead", "minutes"))
    east = np.nan_to_num(hours) * 3600 + np.nan_to_num(minutes) * 60
    west = truths(pc.match_substring(pc.struct_field(parts, "sign"), "-"))
    return np.asarray(np.where(west, -east, east))


def _fraction(parts: pa.Array) -> np.ndarray | float:
    """Fraction of a second."""
    if "f" not in [field.name for field in parts.type]:
        return 0.0
    return _floats(
        pc.binary_join_element_wise(text_scalar("0"), pc.struct_field(parts, "f"), text_scalar("."))
    )


def _floats(texts: pa.Array) -> np.ndarray:
    """Texts of digits as numbers, NaN for missing and for anything else."""
    plain = truths(pc.match_substring_regex(texts, r"^[0-9]+(\.[0-9]*)?$"))
    values = np.full(len(texts), np.nan)
    values[plain] = numbers(pc.cast(texts.filter(truth_array(plain)), pa.float64()))
    return values


def _one_time(text: str, form: str) -> float:
    """One time by any format; NaN where it does not fit."""
    try:
        moment = datetime.strptime(text, form)
    except ValueError:
        return float("nan")
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def elapsed_seconds(texts: pa.Array) -> np.ndarray:
    """Elapsed times such as `26:15:30.250` or `2-03:00:00` (days first).

    Returns
    -------
    numpy.ndarray, shape (n_rows,)
        Seconds [s]; NaN where unreadable.
    """
    seconds = np.empty(len(texts))
    for at in range(0, len(texts), _AT_A_TIME):
        seconds[at : at + _AT_A_TIME] = _clock_seconds(texts.slice(at, _AT_A_TIME))
    return seconds


def _clock_seconds(texts: pa.Array) -> np.ndarray:
    """Elapsed times of some rows [s]."""
    parts = pc.extract_regex(texts, _ELAPSED)
    days = _floats(pc.struct_field(parts, "d"))
    hours, minutes = (_floats(pc.struct_field(parts, name)) for name in "HM")
    seconds = _floats(pc.replace_substring(pc.struct_field(parts, "S"), ",", "."))
    total = np.nan_to_num(days) * 86400 + hours * 3600 + minutes * 60 + seconds
    return np.where((minutes < 60) & (seconds < 60), total, np.nan)


def to_unix(local_s: np.ndarray, *, zone: str, elapsed_s: np.ndarray | None = None) -> Placed:
    """Place local times on the calendar.

    Parameters
    ----------
    local_s : numpy.ndarray, shape (n_rows,)
        Seconds on the local clock in the order of the file, from `local_seconds` [s].
    zone : str
        IANA name of the zone.
    elapsed_s : numpy.ndarray or None, shape (n_rows,)
        Elapsed time of the same rows [s].

    Returns
    -------
    Placed
        In the hour that occurs twice the elapsed time decides; without it the clock is taken to
        run forward, and the first of the two hours where that leaves a choice (PEP 495).
    """
    time_s, second = np.empty(len(local_s)), np.empty(len(local_s))
    for at in range(0, len(local_s), _AT_A_TIME):
        rows = slice(at, at + _AT_A_TIME)
        offsets = _offsets_s(local_s[rows], zone)
        time_s[rows], second[rows] = local_s[rows] - offsets[:, 0], local_s[rows] - offsets[:, 1]
    twice, never = time_s < second, time_s > second
    if np.any(twice):
        _choose_hour(time_s, second, twice, elapsed_s)
    return Placed(time_s, twice, never)


def _offsets_s(local_s: np.ndarray, zone: str) -> np.ndarray:
    """Offsets of a zone from UTC for the first and the second of two like times, NaN without time.

    A zone is asked once a quarter of an hour, and row by row within a quarter in which it changes:
    some zones changed at one minute past the hour.
    """
    offsets = np.full((len(local_s), 2), np.nan)
    known = np.flatnonzero(np.isfinite(local_s))
    quarters, where = np.unique(np.floor(local_s[known] / _QUARTER_S), return_inverse=True)
    at_start = _asked(quarters * _QUARTER_S, zone)
    at_end = _asked((quarters + 1) * _QUARTER_S, zone)
    offsets[known] = at_start[where]
    changing = known[np.any(at_start != at_end, axis=1)[where]] if len(known) else known
    offsets[changing] = _asked(local_s[changing], zone)
    return offsets


def _asked(local_s: np.ndarray, zone: str) -> np.ndarray:
    """Offsets at single local times for both folds [s]."""
    pairs = [[_offset_s(float(value), zone, fold) for fold in (0, 1)] for value in local_s]
    return np.array(pairs, dtype=float).reshape(-1, 2)


def _offset_s(local_s: float, zone: str, fold: int) -> float:
    """Offset of a zone from UTC at a local time [s]."""
    moment = datetime(1970, 1, 1, tzinfo=ZoneInfo(zone)) + timedelta(seconds=local_s)
    offset = moment.replace(fold=fold).utcoffset()
    return offset.total_seconds() if offset is not None else 0.0


def _choose_hour(
    time_s: np.ndarray, second: np.ndarray, twice: np.ndarray, elapsed_s: np.ndarray | None
) -> None:
    """Put rows of the hour that occurs twice into the second one where they belong there."""
    anchors = np.flatnonzero(~twice & np.isfinite(time_s))
    for row in np.flatnonzero(twice):
        before = anchors[: np.searchsorted(anchors, row)]
        anchor = before[-1] if len(before) else (anchors[0] if len(anchors) else None)
        expected = np.nan
        if elapsed_s is not None and anchor is not None:
            expected = time_s[anchor] + elapsed_s[row] - elapsed_s[anchor]
        if np.isfinite(expected):
            if abs(second[row] - expected) < abs(time_s[row] - expected):
                time_s[row] = second[row]
        elif row and time_s[row] < time_s[row - 1]:
            time_s[row] = second[row]


def cut_time_s(text: str | None, *, time_zone: str) -> float | None:
    """Unix time of a data cut [s].

    Parameters
    ----------
    text : str or None
        Date or time in ISO 8601; None where there is no cut. A date counts to its end.
    time_zone : str
        IANA zone of a time without offset.

    Returns
    -------
    float or None
        Rows with a later time do not count.

    Raises
    ------
    ValueError
        The text is neither; the check of the settings refuses that beforehand.
    """
    if text is None:
        return None
    moment = datetime.fromisoformat(text)
    if len(text) <= len("2026-05-15"):
        moment += timedelta(days=1)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=ZoneInfo(time_zone))
    return moment.timestamp()
