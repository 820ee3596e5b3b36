"""The web page: one file that asks for nothing, the PDF's sections, harmless text, same bytes."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from collections import Counter
from html.parser import HTMLParser
from types import ModuleType

import pytest
from fontTools.ttLib import TTFont

from trivet.report.figure_list import MAKERS, Plate, plate_of
from trivet.report.frame.data import ReportData, ReportSettings, gather
from trivet.report.frame.style import look
from trivet.report.section_list import parts_of
from trivet.report.web.inline_svg import inline_svg
from trivet.report.web.page import render_page
from trivet.schema.tables.dictionary import TABLES

Plates = dict[str, list[Plate]]
HOSTILE = "<script>alert(1)</script> \"><img src=//example.org onerror=x> & {{ 7*7 }} ' $x^2$"


class Elements(HTMLParser):
    """Every element of a page with its attributes, and the text of style and script."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[str, dict[str, str]]] = []
        self.raw: dict[str, list[str]] = {"style": [], "script": []}
        self._within = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element."""
        self.found.append((tag, {name: value or "" for name, value in attrs}))
        self._within = tag

    def handle_data(self, data: str) -> None:
        """Note what a browser runs."""
        if self._within in self.raw:
            self.raw[self._within].append(data)

    def handle_endtag(self, tag: str) -> None:
        """Leave an element."""
        self._within = ""

    def values(self, name: str) -> list[str]:
        """Every value of an attribute."""
        return [attributes[name] for _, attributes in self.found if name in attributes]


@pytest.fixture(scope="module")
def page(data: ReportData, plates: Plates) -> str:
    """The page of the invented campaign."""
    return render_page(data, plates).decode()


@pytest.fixture(scope="module")
def elements(page: str) -> Elements:
    """Its elements."""
    return Elements(page)


def with_report(invented: ModuleType, **report: object) -> ReportData:
    """The same campaign with other settings of the report."""
    settings = ReportSettings.model_validate(invented.SETTINGS | {"report": report})
    return gather(settings=settings, tables=invented.make())


def test_the_same_tables_give_the_same_bytes(data: ReportData, plates: Plates, page: str) -> None:
    """No clock and no chance in the page, nor in its fonts."""
    assert render_page(data, plates).decode() == page


def test_sections_are_those_of_the_pdf_in_its_order(data: ReportData, elements: Elements) -> None:
    """One list of sections serves both."""
    found = [attributes["id"] for tag, attributes in elements.found if tag == "section"]
    assert found == [section.name for part in parts_of(data) for section in part.sections]


def test_the_policy_names_the_one_style_and_script_by_their_hash(elements: Elements) -> None:
    """Content Security Policy Level 3, section 2.3.1: base 64 of SHA-256 of the element's text."""
    policy = next(
        attributes["content"]
        for tag, attributes in elements.found
        if attributes.get("http-equiv") == "Content-Security-Policy"
    )
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    for kind in ("style", "script"):
        texts = elements.raw[kind]
        assert len(texts) == 1
        digest = base64.b64encode(hashlib.sha256(texts[0].encode()).digest()).decode()
        assert rules[f"{kind}-src"] == f"'sha256-{digest}'"
    assert rules["img-src"] == rules["font-src"] == "data:"
    assert "unsafe" not in policy


def test_nothing_in_the_page_asks_for_anything_or_has_a_style_of_its_own(
    elements: Elements,
) -> None:
    """No source, no style and no handler in any element; links lead to the results only."""
    for tag, attributes in elements.found:
        assert tag not in {"link", "iframe", "object", "embed", "img", "image", "base"}, tag
        assert not {"src", "style", "srcset", "action", "xlink:href"} & set(attributes), tag
        assert not [name for name in attributes if name.lower()[:2] == "on"], tag
    assert set(re.findall(r"url\((?!data:)([^)]{3})", elements.raw["style"][0])) == set()
    for address in elements.values("href"):
        assert re.fullmatch(r"#[\w-]+|(tables|figures)/[\w.%-]+\.csv", address), address


def test_no_id_stands_twice_and_every_link_inside_leads_somewhere(elements: Elements) -> None:
    """Figures drawn alike share ids in their own files; in one page they must not."""
    counted = Counter(elements.values("id"))
    assert [name for name, times in counted.items() if times > 1] == []
    inside = [address[1:] for address in elements.values("href") if address[:1] == "#"]
    inside += [
        name
        for _, attributes in elements.found
        for value in attributes.values()
        for name in re.findall(r"url\(#([^)]+)\)", value)
    ]
    assert set(inside) <= set(counted)


def test_every_figure_says_what_it_shows(elements: Elements, plates: Plates, page: str) -> None:
    """SVG 2, section 5.7: the first title of a figure is its name; WAI-ARIA role img."""
    drawn = [plate for kind in plates.values() for plate in kind if not plate.absent]
    figures = [attributes for tag, attributes in elements.found if tag == "svg"]
    assert len(figures) == len(drawn)
    for attributes in figures:
        assert attributes["role"] == "img"
        assert f'<title id="{attributes["aria-labelledby"]}">' in page


def test_tables_lead_to_their_names_in_the_archive(elements: Elements) -> None:
    """Tables that are linked are archived ones; findings, lives and contrasts are among them."""
    linked = {address for address in elements.values("href") if address[:7] == "tables/"}
    assert linked <= {f"tables/{name}.csv" for name, table in TABLES.items() if table.archived}
    assert {"tables/findings.csv", "tables/lifetimes.csv", "tables/comparisons.csv"} <= linked


@pytest.mark.parametrize(
    ("settings", "home"),
    [({}, "tr"), ({"cell_pages": True}, "div"), ({"part": "meeting"}, None)],
)
def test_a_finding_leads_to_its_cell(
    invented: ModuleType, plates: Plates, settings: dict[str, object], home: str | None
) -> None:
    """To its page, else to its row among the cells as built; nowhere where neither is printed."""
    data = with_report(invented, **settings)
    with look():  # of the figures, only those of the cells' pages hang on these settings
        pages = [plate_of(drawing, data.group_of) for drawing in MAKERS["cell_pages"](data)]
    text = render_page(data, plates | {"cell_pages": pages}).decode()
    found = Elements(text)
    homes = {
        attributes["id"]: tag
        for tag, attributes in found.found
        if re.fullmatch(r"cell-\d+", attributes.get("id", ""))
    }
    assert set(homes.values()) == ({home} if home else set())
    assert len(homes) == (len(data.rows["cells"]) if home else 0)
    if home is None:
        assert "#cell-" not in text
        return
    findings = text[text.index('<section id="all_findings"') :]
    findings = findings[: findings.index("</section>")]
    links = re.findall(r'<a href="#(cell-\d+)">B05</a>', findings)
    assert links
    assert set(links) <= set(homes)
    assert ">A04</a>" not in findings  # no cell of the build sheet
    if home == "div":
        own = text[text.index(f'<div class="page" id="{links[0]}"') :]
        assert "<h3>B05: " in own[:300]


def test_hostile_text_is_shown_not_obeyed(invented: ModuleType) -> None:
    """What users typed is text in the page as in the PDF: no tag, no template, no attribute."""
    settings = ReportSettings.model_validate(
        invented.SETTINGS
        | {"campaign": invented.SETTINGS["campaign"] | {"title": HOSTILE, "people": [HOSTILE]}}
    )
    data = gather(settings=settings, tables=invented.make(hostile=HOSTILE))
    with look():
        drawn = [plate_of(drawing, data.group_of) for drawing in MAKERS["life_lines"](data)]
    text = render_page(data, {kind: [] for kind in MAKERS} | {"life_lines": drawn}).decode()
    found = Elements(text)
    tags = Counter(tag for tag, _ in found.found)
    assert tags["script"] == 1
    assert tags["img"] == 0
    assert "alert(1)" not in found.raw["script"][0]
    assert "{{ 7*7 }}" in text
    assert "&lt;script&gt;alert(1)" in text
    assert not found.values("onerror")


def test_hostile_names_of_cells_and_groups_stay_text(invented: ModuleType) -> None:
    """Names come into choices, links and marks: the marks are numbers, the rest is escaped."""
    tables = invented.make()
    cells = tables["cells"].to_pylist()
    renamed = [row | {"cell": f"{row['cell']}{HOSTILE}"} for row in cells]
    tables["cells"] = invented.as_table("cells", renamed, ("seal", "separators", "assembly_fault"))
    findings = [row | {"cell": f"{row['cell']}{HOSTILE}"} for row in tables["findings"].to_pylist()]
    tables["findings"] = invented.as_table("findings", findings)
    data = gather(settings=ReportSettings.model_validate(invented.SETTINGS), tables=tables)
    text = render_page(data, {kind: [] for kind in MAKERS}).decode()
    found = Elements(text)
    tags = Counter(tag for tag, _ in found.found)
    assert (tags["script"], tags["img"]) == (1, 0)
    assert len(found.values("data-cell")) == len(cells)
    for name in ("data-cell", "data-cells", "data-group", "data-groups"):
        assert all(re.fullmatch(r"\d+( \d+)*", value) for value in found.values(name))


def test_fonts_are_parts_under_a_name_of_their_own(elements: Elements, page: str) -> None:
    """SIL Open Font License 1.1: copyright and licence stay, the reserved name 'Source' goes."""
    faces = re.findall(r"base64,([^)]+)\)", elements.raw["style"][0])
    assert len(faces) == 6
    for face in faces:
        with TTFont(io.BytesIO(base64.b64decode(face))) as font:
            names = {record.nameID: record.toUnicode() for record in font["name"].names}
            assert "Source" in names[0]  # the notice that reserves the name
            assert names[13]
            assert not [names[i] for i in (1, 3, 4, 6) if "Source" in names[i]]
            letters = set(font.getBestCmap())
    visible = {ord(letter) for letter in re.sub(r"<[^>]*>", "", page) if letter.isalnum()}
    assert {ord(letter) for letter in "aZ09"} <= letters & visible


@pytest.mark.parametrize(
    "part",
    [
        '<path style="fill: red" />',
        '<use xlink:href="http://example.org/a.svg#b" />',
        '<path fill="url(http://example.org/a.svg#b)" />',
        '<use xlink:href="#nowhere" />',
    ],
)
def test_a_figure_that_asks_for_something_is_refused(part: str) -> None:
    """A figure with an address outside itself, or a style that the policy forbids, is a fault."""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">'
        f"{part}</svg>"
    )
    with pytest.raises(ValueError, match=r"outside itself|styles of its own"):
        inline_svg(svg.encode(), prefix="f1", title="A figure.")
