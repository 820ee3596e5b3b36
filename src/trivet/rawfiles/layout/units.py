"""Units of raw files: what they measure and how they convert to ours."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

import numpy as np

CLOCK = "h:m:s"
"""Unit of elapsed time written as days, hours, minutes and seconds with colons."""


@dataclass(frozen=True)
class Unit:
    """One unit.

    Attributes
    ----------
    kind : str
        What it measures.
    multiply, divide : float
        A number in this unit times `multiply` over `divide` is in ours. One of the two is 1: a
        division by 1000 is exact to the last digit where a product with 0.001 is not.
    """

    kind: str
    multiply: float = 1.0
    divide: float = 1.0

    def convert(self, numbers: np.ndarray) -> np.ndarray:
        """Numbers in our unit, shape as given: s, mA, V, Cel, mA.h, Hz, Ohm, deg."""
        if self.divide == self.multiply:
            return numbers
        if self.divide != 1.0:
            return np.asarray(numbers / self.divide)
        return np.asarray(numbers * self.multiply)


_UNITS = {
    "s": Unit("time"),
    "ms": Unit("time", divide=1000.0),
    "min": Unit("time", multiply=60.0),
    "h": Unit("time", multiply=3600.0),
    "d": Unit("time", multiply=86400.0),
    CLOCK: Unit("time"),
    "A": Unit("current", multiply=1000.0),
    "mA": Unit("current"),
    "uA": Unit("current", divide=1000.0),
    "V": Unit("voltage"),
    "mV": Unit("voltage", divide=1000.0),
    "degC": Unit("temperature"),
    "Ah": Unit("charge", multiply=1000.0),
    "mAh": Unit("charge"),
    "uAh": Unit("charge", divide=1000.0),
    "Hz": Unit("frequency"),
    "kHz": Unit("frequency", multiply=1000.0),
    "mHz": Unit("frequency", divide=1000.0),
    "ohm": Unit("resistance"),
    "mohm": Unit("resistance", divide=1000.0),
    "kohm": Unit("resistance", multiply=1000.0),
    "deg": Unit("angle"),
    "rad": Unit("angle", multiply=180.0 / np.pi),
}
_KINDS = {
    "elapsed time": "time",
    "unix time": "time",
    "current": "current",
    "charge current": "current",
    "discharge current": "current",
    "cell voltage": "voltage",
    "positive potential": "voltage",
    "negative potential": "voltage",
    "temperature": "temperature",
    "charge counter": "charge",
    "discharge counter": "charge",
    "capacity": "charge",
    "frequency": "frequency",
    "real": "resistance",
    "imaginary": "resistance",
    "modulus": "resistance",
    "phase": "angle",
}
"""Kind of unit that each quantity needs; a quantity that is not here has none."""


class UnitError(Exception):
    """A unit is not known or does not fit its quantity: a fault of the layout."""


_SPELLINGS = (
    (re.compile(r"([mu]?A)[ .\u00b7\u22c5*]h"), r"\1h"),
    (re.compile(r"([mu]?V)[\s_]+(?:vs\.?|gegen|against|contre|contra)[\s_].*"), r"\1"),
    (re.compile(r"(?:d+[ .:-]?)?h{1,3}:m{1,2}:s{1,2}(?:[.,][0sf]+)?", re.IGNORECASE), CLOCK),
)
"""Units as people write them: a product, a voltage with what it is against, a clock."""


def unmangled(text: str) -> str:
    """Text whose degree, micro and ohm signs are whole again.

    UTF-8 read as Windows-1252 leaves a letter before each of these signs.
    """
    for sign, whole in (("Â°", "°"), ("Âµ", "µ"), ("Î¼", "μ"), ("Î©", "Ω"), ("â„¦", "Ω")):
        text = text.replace(sign, whole)
    return text


def normal_unit(text: str) -> str:
    """Spelling used here: brackets off; micro, ohm and degree signs in letters."""
    plain = unicodedata.normalize("NFKC", unmangled(text).strip().strip("()[]").strip())
    for sign, letters in (("μ", "u"), ("Ω", "ohm"), ("Ohm", "ohm"), ("°C", "degC"), ("°", "deg")):
        plain = plain.replace(sign, letters)
    for spelling, unit in _SPELLINGS:
        if match := spelling.fullmatch(plain):
            return match.expand(unit)
    return plain


def known_unit(text: str) -> Unit | None:
    """Unit by its spelling; None where it is not known."""
    return _UNITS.get(normal_unit(text))


def kind_of(quantity: str) -> str:
    """Kind of unit that a quantity needs, with or without its pair; empty for none."""
    return _KINDS.get(quantity.partition(":")[0], "")


def unit_of(quantity: str, unit: str) -> Unit:
    """Unit of a quantity.

    Parameters
    ----------
    quantity : str
        Quantity of the layout.
    unit : str
        Unit as declared.

    Raises
    ------
    UnitError
        It is not known, or measures something else.
    """
    kind = kind_of(quantity)
    if not kind:
        return Unit("none")
    found = known_unit(unit)
    if found is None:
        fitting = ", ".join(name for name, known in _UNITS.items() if known.kind == kind)
        raise UnitError(f"unit '{unit}' of the {quantity} is not known; known are {fitting}")
    if found.kind != kind:
        raise UnitError(f"unit '{unit}' does not fit the {quantity}: it measures {found.kind}")
    return found
