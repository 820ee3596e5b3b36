"""One number as text."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trivet.rawfiles.text.numbers import NumberReader

MISSING = ["", "NaN", "OL", "-9999", "9.9E37"]


def test_decimal_comma_and_thousands_point() -> None:
    """P1-26: with decimal comma `1.234,5` is 1234.5 and `0,001` is 0.001 (check value by hand)."""
    reader = NumberReader(decimal=",", missing=MISSING)
    assert reader.read("1.234,5") == 1234.5
    assert reader.read("0,001") == 0.001


@pytest.mark.parametrize("text", ["1.234", "1.5", "1,2,3", "12.34,5"])
def test_ambiguous_or_foreign_signs_are_unreadable(text: str) -> None:
    """With decimal comma a lone point could be either sign, so the number is not guessed."""
    assert NumberReader(decimal=",", missing=MISSING).read(text) is None


@pytest.mark.parametrize("text", ["1'234.5", "1 234.5", "1\u202f234.5", "1,234.5"])
def test_thousands_signs(text: str) -> None:
    """Groups of three with a decimal sign behind them are one number (ISO 80000-1, 7.3: blanks)."""
    assert NumberReader(decimal=".", missing=MISSING).read(text) == 1234.5


@pytest.mark.parametrize(
    "text", ["", " ", "nan", "ol", "-9999", "-9999.0", "9.9E37", "9.90000E+37"]
)
def test_words_for_no_value_are_missing(text: str) -> None:
    """Over-range and absent words, in any case and any spelling of their number, are missing."""
    value = NumberReader(decimal=".", missing=MISSING).read(text)
    assert value is not None
    assert math.isnan(value)


@pytest.mark.parametrize(
    "text", ["=1+1", "0x10", "1_000", "inf", "1e999", "3.4.1", "1-2", "12:30", "٣"]
)
def test_other_text_is_unreadable(text: str) -> None:
    """Nothing but decimal digits is a number, whatever Python itself would take."""
    assert NumberReader(decimal=".", missing=MISSING).read(text) is None


@settings(deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_float_survives(number: float) -> None:
    """The shortest spelling of any float is read back exactly, with either decimal sign."""
    text = repr(number)
    assert NumberReader(decimal=".", missing=[]).read(text) == number
    assert NumberReader(decimal=",", missing=[]).read(text.replace(".", ",")) == number
