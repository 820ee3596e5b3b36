"""Units of raw files."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.rawfiles.layout.units import UnitError, known_unit, unit_of


@pytest.mark.parametrize(
    ("quantity", "unit", "number", "ours"),
    [
        # SI brochure, 9th edition: prefixes (table 7) and units used with the SI (table 8).
        ("elapsed time", "min", 1.5, 90.0),
        ("elapsed time", "h", 0.5, 1800.0),
        ("elapsed time", "d", 2.0, 172800.0),
        ("elapsed time", "ms", 1.0, 0.001),
        ("current", "A", 0.001, 1.0),
        ("current", "uA", 1.0, 0.001),
        ("cell voltage", "mV", 3412.0, 3.412),
        ("frequency", "mHz", 10.0, 0.01),
        ("frequency", "kHz", 100.0, 1e5),
        ("real", "mohm", 5.0, 0.005),
        ("phase", "rad", np.pi, 180.0),
    ],
)
def test_numbers_convert(quantity: str, unit: str, number: float, ours: float) -> None:
    """A number in a declared unit becomes the same amount in ours, to the last digit."""
    assert unit_of(quantity, unit).convert(np.array([number]))[0] == ours


@pytest.mark.parametrize(
    ("spelling", "unit"),
    [("µA", "uA"), ("μA", "uA"), ("[mV]", "mV"), ("Ω", "ohm"), ("(°C)", "degC"), ("Ohm", "ohm")],
)
def test_signs_of_one_unit_are_one(spelling: str, unit: str) -> None:
    """Both code points of micro and of ohm, and brackets, mean the plain unit (Unicode NFKC)."""
    assert known_unit(spelling) == known_unit(unit) is not None


def test_letter_case_of_a_prefix_matters() -> None:
    """Milli is never taken for mega."""
    assert known_unit("MHz") is None


def test_unknown_unit_is_refused_with_those_known() -> None:
    """An unknown unit is an error that lists what fits."""
    with pytest.raises(
        UnitError, match="'furlong' of the current is not known; known are A, mA, uA"
    ):
        unit_of("current", "furlong")


def test_unit_of_another_kind_is_refused() -> None:
    """A current in volts is an error."""
    with pytest.raises(UnitError, match="'V' does not fit the current"):
        unit_of("current", "V")
