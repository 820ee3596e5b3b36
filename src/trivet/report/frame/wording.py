"""Numbers, units and short sentences as they are printed; the only place that rounds."""

from __future__ import annotations

import math
from typing import Any

from trivet.schema.findings.verdicts import tells_nothing

MISSING = "–"
MINUS = "−"
_NARROW = "\u202f"
_UNITS = {
    "mA.h": "mAh",
    "mW.h": "mWh",
    "Ohm": "Ω",
    "ohm": "Ω",
    "h-1": "1/h",
    "mV/d": "mV per day",
    "Cel": "°C",
    "um": "µm",
    "Ohm/(100.h)": "Ω per 100 h",
    "%/(100.h)": "% per 100 h",
    "mA.h/(100.h)": "mAh per 100 h",
    "Ohm.cm2": "Ω cm²",
    "1": "",
}
_SCALED = {"V/(100.h)": (1e3, "mV per 100 h")}
_SMALLEST_SHARE = 1e-3
_LARGEST_PLAIN = 10_000
_SMALLEST_RATIO = 0.01
"""Beyond this, and beyond its inverse, the size of a ratio of few cells means nothing."""
_ROUNDING = 1e-12
"""Smaller numbers are what rounding leaves of zero; no quantity of a report is that small."""


def is_missing(value: Any) -> bool:  # noqa: ANN401
    """Whether there is no value: null, NaN or no text."""
    return value is None or value == "" or (isinstance(value, float) and math.isnan(value))


def number(value: float | None, digits: int = 3) -> str:
    """Print a number to significant digits, without exponents where the eye can do without.

    Parameters
    ----------
    value : float or None
        The number; None prints a dash.
    digits : int
        Significant digits.
    """
    if is_missing(value) or value is None:
        return MISSING
    size = abs(value)
    if size < _ROUNDING:
        return "0"
    if isinstance(value, int) or float(value).is_integer():
        return count(int(value))
    if size >= 10 ** (digits + 3) or size < 1e-4:
        mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa}e{int(exponent)}".replace("-", MINUS)
    decimals = max(0, digits - 1 - math.floor(math.log10(size)))
    text = f"{value:.{decimals}f}"
    return _grouped(text) if size >= _LARGEST_PLAIN else text.replace("-", MINUS)


def count(value: int | None) -> str:
    """Print a whole number, in groups of three from 10 000 on."""
    if value is None:
        return MISSING
    return _grouped(str(value)) if abs(value) >= _LARGEST_PLAIN else str(value).replace("-", MINUS)


def _grouped(text: str) -> str:
    """Set narrow spaces between groups of three digits before the decimal point."""
    whole, point, rest = text.partition(".")
    return f"{int(whole):,}".replace(",", _NARROW).replace("-", MINUS) + point + rest


def as_set(value: float) -> str:
    """Print a setting as it was set, without digits that nobody wrote."""
    if abs(value) >= _LARGEST_PLAIN and float(value).is_integer():
        return count(int(value))
    return f"{value:.12g}".replace("-", MINUS)


def interval(lower: float | None, upper: float | None, digits: int = 3) -> str:
    """Print the limits of an interval; an open side is named."""
    if is_missing(lower) and is_missing(upper):
        return MISSING
    left = "not reached" if is_missing(lower) else number(lower, digits)
    right = "not reached" if is_missing(upper) else number(upper, digits)
    return f"{left} to {right}"


def ratio(estimate: float, lower: float | None, upper: float | None) -> str:
    """Print a ratio with its limits; one that could be anything says so.

    Parameters
    ----------
    estimate : float
        The ratio [1].
    lower, upper : float or None
        Its limits; missing where there is none [1].
    """
    said = f"{_bounded(estimate)} ({_limit(lower)} to {_limit(upper)})"
    return f"{said}, no information" if tells_nothing(lower, upper) else said


def _limit(value: float | None) -> str:
    """A limit of a ratio."""
    return "no limit" if is_missing(value) or value is None else _bounded(value)


def _bounded(value: float) -> str:
    """A ratio as far as its size means anything."""
    if value < _SMALLEST_RATIO:
        return f"<\u00a0{_SMALLEST_RATIO:g}"
    if value > 1 / _SMALLEST_RATIO:
        return f">\u00a0{1 / _SMALLEST_RATIO:g}"
    return number(value)


def median(row: dict[str, Any]) -> str:
    """Print a median with its limits; one that was not reached says so with its lower limit.

    The limits for few cells stand first; where cells entered late there are only the others. A
    lower limit of 0 is none.
    """
    late = is_missing(row["median_beta_lower"]) and is_missing(row["median_beta_upper"])
    limits = "median" if late else "median_beta"
    lower, upper = row[f"{limits}_lower"], row[f"{limits}_upper"]
    known = "not estimable" if is_missing(lower) or not lower else number(lower)
    if is_missing(row["median"]):
        return f"not reached (lower limit {known})"
    highest = "not reached" if is_missing(upper) else number(upper)
    return f"{number(row['median'])} ({known} to {highest})"


def p_value(value: float | None) -> str:
    """Print a p, never as 0."""
    if is_missing(value) or value is None:
        return MISSING
    return "<\u00a00.0001" if value < 1e-4 else number(value, 2)


def percent(share: float) -> str:
    """Print a share such as a confidence in percent."""
    return f"{share * 100:.12g}\u00a0%"


def whole_percent(share: float) -> str:
    """A share in whole percent, without a sign before 0."""
    return f"{round(100 * share):d} %".replace("-", "−")


def unit(ucum: str | None) -> str:
    """Print a unit that stands in UCUM spelling."""
    return "" if ucum is None else _UNITS.get(ucum, ucum)


def scale(ucum: str | None, largest: float) -> tuple[float, str]:
    """Factor and unit in which a quantity of this unit is printed.

    Parameters
    ----------
    ucum : str or None
        Unit in UCUM spelling; `1` or None for a mere number.
    largest : float
        Largest size among the numbers printed together: a share below a thousandth is in ppm.
    """
    if ucum in _SCALED:
        return _SCALED[ucum]
    if ucum == "1" and 0 < largest < _SMALLEST_SHARE:
        return 1e6, "ppm"
    return 1.0, unit(ucum)


def clock_unit(clock: str) -> str:
    """Unit of a clock as printed."""
    return "h" if clock == "hours" else "cycles"


def plural(value: int, noun: str) -> str:
    """Print a count with its noun; a regular English plural."""
    ending = "" if value == 1 else "s"
    if value != 1 and noun.endswith("y"):
        noun, ending = noun[:-1], "ies"
    return f"{count(value)} {noun}{ending}"


def listed(names: list[str], limit: int = 8) -> str:
    """Print names in a sentence; beyond the limit the rest is counted."""
    shown = names[:limit]
    rest = len(names) - len(shown)
    if rest:
        return f"{', '.join(shown)} and {rest} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else "".join(shown)


def short(text: str, length: int = 22) -> str:
    """Cut a long name for an axis; the tables have it in full."""
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


def shown(value: Any) -> str:  # noqa: ANN401
    """Print any value of a table or a setting."""
    if is_missing(value) or value in ([], {}):
        return MISSING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return as_set(value)
    if isinstance(value, list):
        return ", ".join(shown(item) for item in value)
    return str(value)


def quantity(column: str) -> str:
    """Turn the name of a measure or column into words: underscores become spaces."""
    return column.replace("_", " ")
