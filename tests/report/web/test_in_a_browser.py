"""The web page in a real browser: silent, sorting, filtering, readable at two widths.

Needs a browser (Debian: chromium); where there is none, these tests say so and are skipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser import Browser, command

from trivet.report.figure_list import Plate
from trivet.report.frame.data import ReportData
from trivet.report.web.page import render_page

WIDTHS = (390, 1280)
COLUMN = (
    "[...document.querySelector('{table}').tBodies[0].rows].map(r => r.cells[{place}].innerText)"
)
HEAD = "document.querySelector('{table}').tHead.rows[0].cells[{place}]"


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A browser, or why there is none."""
    if command() is None:
        pytest.skip("no browser is installed (Debian: chromium)")
    opened = Browser(tmp_path_factory.mktemp("profile"))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def path(
    data: ReportData, plates: dict[str, list[Plate]], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """The page as a file."""
    target = tmp_path_factory.mktemp("page") / "report.html"
    target.write_bytes(render_page(data, plates))
    return target


def click(browser: Any, table: str, place: int) -> str | None:
    """Click a heading; give the direction that it then tells."""
    head = HEAD.format(table=table, place=place)
    browser.value(f"{head}.querySelector('button').click()")
    direction: str | None = browser.value(f"{head}.getAttribute('aria-sort')")
    return direction


def column(browser: Any, table: str, place: int) -> list[str]:
    """Texts of a column as they stand."""
    texts: list[str] = browser.value(COLUMN.format(table=table, place=place))
    return texts


@pytest.mark.parametrize("width", WIDTHS)
def test_it_asks_for_nothing_and_the_console_is_empty(
    browser: Any,
    path: Path,
    width: int,
) -> None:
    """One request, of the page itself; no error, no refusal by the policy; no sideways scroll."""
    browser.open(path, width=width)
    assert browser.requested() == [path.as_uri()]
    assert browser.complaints() == []
    assert browser.value("document.documentElement.scrollWidth") <= width
    assert browser.value("document.fonts.check('16px \"Trivet Sans\"')")


def test_a_click_on_a_heading_sorts_numbers_as_numbers(browser: Any, path: Path) -> None:
    """Up, down and back; what has no number stands last both ways."""
    browser.open(path, width=1280)
    table, place = "#lifetime table", 3
    before = column(browser, table, place)

    def value(text: str) -> float:
        return float(text.rstrip("+").replace("\u202f", ""))

    known = sorted(value(text) for text in before if text != "–")
    assert len(known) > 3
    assert known != [value(text) for text in before if text != "–"]
    missing = ["–"] * (len(before) - len(known))
    for expected, direction in ((known, "ascending"), (known[::-1], "descending")):
        assert click(browser, table, place) == direction
        after = column(browser, table, place)
        assert [value(text) for text in after[: len(known)]] == expected
        assert after[len(known) :] == missing
    assert click(browser, table, place) is None
    assert column(browser, table, place) == before


@pytest.mark.parametrize(
    ("lesser", "greater"),
    [
        ("−3.2 (−4 to −2)", "−0.5 (−1 to 0)"),
        ("9.5", "10.1"),
        ("9999", "12\u202f500"),
        ("<\u00a00.0001", "0.0001"),
        ("1.2e−5", "0.3"),
        ("640", "640+"),
        ("2 v 3", "10 v 3"),
    ],
)
def test_printed_numbers_are_read_as_numbers(
    browser: Any,
    path: Path,
    lesser: str,
    greater: str,
) -> None:
    """Minus signs, narrow spaces, exponents and bounds as `wording` prints them."""
    browser.open(path, width=1280)
    assert browser.value(f"numberOf({lesser!r}) < numberOf({greater!r})")


def choose(browser: Any, label: str) -> None:
    """Choose a cell or group by what is read there."""
    browser.value(
        "{ const all = document.getElementById('subject');"
        f"all.value = [...all.options].find(one => one.text === {label!r}).value;"
        "all.dispatchEvent(new Event('change')); }"
    )


def bright(browser: Any, table: str) -> list[str]:
    """First words of the rows that are not dimmed."""
    texts: list[str] = browser.value(
        f"[...document.querySelectorAll('{table} tbody tr:not(.aside)')]"
        ".map(row => row.cells[0].innerText)"
    )
    return texts


def test_the_filter_dims_other_cells_and_other_groups(
    browser: Any,
    path: Path,
    data: ReportData,
) -> None:
    """Rows about others are dimmed, none is hidden; the first choice brings all back."""
    browser.open(path, width=1280)
    table = "#lifetime table"
    everything = bright(browser, table)
    cell = everything[0]
    group = data.group_of[cell]
    choose(browser, cell)
    assert set(bright(browser, table)) == {cell}
    assert browser.value("document.getElementById('kept').value.length > 0")
    choose(browser, f"all of {group}")
    assert set(bright(browser, table)) == set(data.cells_of(group)) & set(everything)
    assert browser.value(f"document.querySelectorAll('{table} tbody tr').length") == len(everything)
    choose(browser, "all groups and cells")
    assert bright(browser, table) == everything


def test_the_filter_dims_the_marks_of_others_in_figures(
    browser: Any,
    path: Path,
    data: ReportData,
) -> None:
    """Of lines and points in the figures those of the chosen cell stay, all others are faint."""
    browser.open(path, width=1280)
    cell = bright(browser, "#lifetime table")[0]
    marks = "[...document.querySelectorAll('svg [data-cells]')]"
    opaque = f"{marks}.filter(one => getComputedStyle(one).opacity === '1')"
    every = browser.value(f"{marks}.length")
    assert every > 100
    assert browser.value(f"{opaque}.length") == every
    choose(browser, cell)
    left = browser.value(f"[...new Set({opaque}.map(one => one.dataset.cells))]")
    assert len(left) == 1
    assert 0 < browser.value(f"{opaque}.length") < every
    choose(browser, "all groups and cells")
    assert browser.value(f"{opaque}.length") == every


def test_without_scripts_it_is_a_plain_page(browser: Any, path: Path) -> None:
    """All is there to read, and nothing that needs a script is shown."""
    browser.open(path, width=1280, scripts=False)
    assert browser.requested() == [path.as_uri()]
    assert browser.value("getComputedStyle(document.getElementById('sieve')).display") == "none"
    assert browser.value("document.querySelectorAll('th button').length") == 0
    assert browser.value("document.querySelectorAll('section').length") > 20
    assert browser.value("document.querySelector('#cautions').innerText.length") > 500
