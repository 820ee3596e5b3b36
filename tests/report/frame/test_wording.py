"""Numbers as they are printed. Expected texts follow from the rules in each docstring."""

from __future__ import annotations

import pytest

from trivet.report.frame import wording


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "–"),
        (float("nan"), "–"),
        (0.0, "0"),
        (0.98765, "0.988"),
        (812.4, "812"),
        (-3.14159, "−3.14"),
        (3.0, "3"),
        (12345.6, "12\u202f346"),
        (0.0000123, "1.23e−5"),
    ],
)
def test_a_number_keeps_three_significant_digits(value: float | None, text: str) -> None:
    """Three significant digits, a real minus sign, a dash for no value."""
    assert wording.number(value) == text


def test_a_setting_is_printed_as_it_was_set() -> None:
    """A setting has no digits that nobody wrote."""
    assert [wording.as_set(x) for x in (0.8, 3.425, 200_000, 20.0)] == [
        "0.8",
        "3.425",
        "200\u202f000",
        "20",
    ]


def test_a_median_not_reached_says_so_with_its_lower_limit() -> None:
    """A missing median is never replaced by another number."""
    keys = ("median", "median_beta_lower", "median_beta_upper", "median_lower", "median_upper")
    for values, text in (
        ((None, 640.0, None, 700.0, None), "not reached (lower limit 640)"),
        ((None, None, None, 640.0, None), "not reached (lower limit 640)"),
        ((None, 0.0, None, None, None), "not reached (lower limit not estimable)"),
        ((812.0, 640.0, None, 700.0, 900.0), "812 (640 to not reached)"),
        ((812.0, 0.0, 900.0, 700.0, 900.0), "812 (not estimable to 900)"),
    ):
        assert wording.median(dict(zip(keys, values, strict=True))) == text


@pytest.mark.parametrize(("p", "text"), [(0.1, "0.10"), (0.0312, "0.031"), (1e-6, "<\u00a00.0001")])
def test_a_p_is_never_printed_as_zero(p: float, text: str) -> None:
    """Two significant digits; a tiny p is bounded."""
    assert wording.p_value(p) == text


def test_long_names_are_cut_for_axes_and_lists_are_counted() -> None:
    """A cut name ends with an ellipsis; names beyond the limit are counted."""
    assert wording.short("x" * 40, 10) == "x" * 9 + "…"
    assert wording.listed(["a", "b", "c"]) == "a, b and c"
    assert wording.listed(list("abcdef"), limit=4) == "a, b, c, d and 2 more"


@pytest.mark.parametrize(
    ("ucum", "largest", "printed"),
    [
        ("V/(100.h)", 0.004, (1e3, "mV per 100 h")),
        ("1", 5.32e-5, (1e6, "ppm")),
        ("1", 0.9996, (1.0, "")),
        ("1", 0.0, (1.0, "")),
        ("Ohm", 1e-5, (1.0, "Ω")),
    ],
)
def test_units_are_printed_as_a_bench_says_them(
    ucum: str, largest: float, printed: tuple[float, str]
) -> None:
    """A growth in V is in mV per 100 h; a share below a thousandth is in ppm, never 5e-5."""
    assert wording.scale(ucum, largest) == printed


@pytest.mark.parametrize(
    ("limits", "text"),
    [
        ((0.00620, 0.727), "0.500 (<\u00a00.01 to 0.727)"),
        ((0.334, 579.0), "0.500 (0.334 to >\u00a0100), no information"),
        ((None, None), "0.500 (no limit to no limit), no information"),
        ((0.21, 1.19), "0.500 (0.210 to 1.19)"),
    ],
)
def test_a_ratio_that_could_be_anything_says_so(
    limits: tuple[float | None, float | None], text: str
) -> None:
    """Beyond a hundredfold a ratio of few cells has no size."""
    assert wording.ratio(0.5, *limits) == text
