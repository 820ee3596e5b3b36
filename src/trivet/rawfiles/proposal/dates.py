"""How the dates of an unknown file are written, and what shows it."""

from __future__ import annotations

import re
from datetime import datetime

DATE = re.compile(
    r"([0-9]{1,4})([./-])([0-9]{1,2})\2([0-9]{2,4})"
    r"(?:([ T])([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})([.,][0-9]+)?)?( ?[AaPp][Mm])?"
    r"( ?(?:Z|[+-][0-9]{2}:?[0-9]{2}))?)?"
)


def date_format(values: list[str]) -> tuple[str, str, str]:
    """Format of dates in the codes of C's strptime, the evidence, and a question.

    Day and month are told apart by a number above 12; dates with points have the day first.
    """
    matches = [match for match in map(DATE.fullmatch, values) if match]
    sample = matches[0]
    sign = sample.group(2)
    years_first = len(sample.group(1)) == 4
    rest = _clock_format(sample)
    if years_first:
        form = f"%Y{sign}%m{sign}%d{rest}"
        return ("" if _is_iso(form) else form), f"year first, as in '{values[0]}'", ""
    first = max(int(match.group(1)) for match in matches)
    second = max(int(match.group(3)) for match in matches)
    year = "%Y" if len(sample.group(4)) == 4 else "%y"
    day_first, month_first = f"%d{sign}%m{sign}{year}{rest}", f"%m{sign}%d{sign}{year}{rest}"
    if first > 12 >= second:
        return day_first, f"the first number goes up to {first}, so it is the day", ""
    if second > 12 >= first:
        return month_first, f"the second number goes up to {second}, so it is the day", ""
    if sign == ".":
        return day_first, "dates with points have the day first; common practice, no source", ""
    unlike = (match.group() for match in matches if int(match.group(1)) != int(match.group(3)))
    shown = next(unlike, values[0])
    question = (
        f"date: is '{shown}' {_named(shown, day_first)} or "
        f"{_named(shown, month_first)}? No number above 12 tells. Declare the format as "
        f"'{day_first}' or '{month_first}'."
    )
    return day_first, "not known", question


def _named(value: str, form: str) -> str:
    """A date with the month as a word."""
    try:
        moment = datetime.strptime(value, form)
    except ValueError:
        return "no date"
    return f"{moment.day} {moment:%B %Y}"


def _clock_format(sample: re.Match[str]) -> str:
    """Codes of the time of day behind a date."""
    gap, hour, minute, second, fraction, half, offset = sample.group(5, 6, 7, 8, 9, 10, 11)
    if not hour:
        return ""
    out = gap + ("%I" if half else "%H") + ":%M" * bool(minute) + ":%S" * bool(second)
    out += f"{fraction[0]}%f" if fraction else ""
    out += (" %p" if half.startswith(" ") else "%p") if half else ""
    return out + ((" %z" if offset.startswith(" ") else "%z") if offset else "")


def _is_iso(form: str) -> bool:
    """Whether a format is the one that a layout leaves empty."""
    if "%z" in form:
        return False
    return form in ("%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S") or form.startswith(
        ("%Y-%m-%d %H:%M:%S.", "%Y-%m-%dT%H:%M:%S.")
    )
