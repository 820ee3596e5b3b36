"""No word of a table breaks in its middle where the page has room, by the layout's own lines."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from weasyprint import HTML
from weasyprint.document import Document
from weasyprint.formatting_structure import boxes
from weasyprint.text.fonts import FontConfiguration

from trivet.report.figure_list import Plate
from trivet.report.frame.column_widths import ColumnTexts, column_widths
from trivet.report.frame.data import ReportData
from trivet.report.frame.printed import PrintedTable, made, print_table, words
from trivet.report.render import OwnParts, environment, own_parts, render_html

ENDS_OF_LINES = " -\u2013/"
"""Behind these a line may end (Unicode Standard Annex 14, classes SP, HY, BA and SY)."""


def laid_out(html: str, plates: dict[str, list[Plate]]) -> Document:
    """The pages of a document, laid out by the library that prints them."""
    fetcher = OwnParts(own_parts(plates))
    source = HTML(string=html, base_url="trivet:report", url_fetcher=fetcher)
    return source.render(font_config=FontConfiguration())


def broken_words(document: Document) -> list[tuple[str, str]]:
    """Ends of lines within a word, in all cells of all tables, with what stands on the next."""
    found = []
    for page in document.pages:
        for box in page._page_box.descendants():
            if isinstance(box, boxes.TableCellBox):
                found += broken_in(box)
    return found


def broken_in(cell: Any) -> list[tuple[str, str]]:  # the library has no types
    """The same in one cell."""
    text = "".join(cell.element.itertext())
    lines = [
        "".join(part.text for part in line.descendants() if isinstance(part, boxes.TextBox)).strip()
        for line in cell.descendants()
        if isinstance(line, boxes.LineBox)
    ]
    found, place = [], 0
    for line, following in pairwise(lines):
        place = text.index(line, place) + len(line)
        if text[place] != " " and text[place - 1] not in ENDS_OF_LINES:
            found.append((line, following))
    return found


def page_of(table: PrintedTable) -> str:
    """A page with one table and the report's own style."""
    head = '<link rel="stylesheet" href="trivet:style.css">{% from "macros.html.j2" import print %}'
    return environment().from_string(head + "{{ print(table) }}").render(table=table)


def table_of(columns: int) -> PrintedTable:
    """References with as many checks: names of states beside numbers with limits and intervals."""
    row = {"cell": "c01", "group": "sleeve", "state": "unknown"}
    checks = [made(f"check {place} [mV]", lambda _: "\u22122.4 [\u22123.1 to 1.8] (24)",
                   numeric=True) for place in range(columns)]  # fmt: skip
    named = [words("cell", "cell"), words("group", "group"), words("last state", "state")]
    return print_table([row] * 3, [*named, *checks], caption="", reason="", small=True)


def test_no_word_of_any_table_of_the_report_breaks(
    data: ReportData, plates: dict[str, list[Plate]]
) -> None:
    """Every line of every cell ends where a line may end."""
    assert broken_words(laid_out(render_html(data, plates), plates)) == []


@pytest.mark.parametrize("columns", [2, 6, 10, 14])
def test_numbers_take_no_room_from_words(columns: int) -> None:
    """`unknown` stays whole beside ten checks with limits; numbers break at their spaces."""
    assert broken_words(laid_out(page_of(table_of(columns)), {})) == []


def test_a_break_within_a_word_is_seen() -> None:
    """Beside fifty columns nothing has room: the test above can fail."""
    assert broken_words(laid_out(page_of(table_of(50)), {}))


def test_widths_fill_the_line_and_only_the_widest_give_way() -> None:
    """Shares add up to all; where words have no room the narrow columns keep theirs."""
    short = ColumnTexts("state", ["unknown"], False)
    paths = [ColumnTexts("file", ["raw/" + "x" * 80], False)] * 3
    widths = [float(text.rstrip("%")) for text in column_widths([short, *paths], style="small")]
    alone = column_widths([short, paths[0]], style="small")
    assert sum(widths) == pytest.approx(100, abs=0.05)
    assert widths[0] == pytest.approx(8.1, abs=1.0)  # 'unknown' in 7.1 pt, and its gap, of 170 mm
    assert widths[1] == widths[2] == widths[3]
    assert float(alone[0].rstrip("%")) > widths[0]
