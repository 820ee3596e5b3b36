"""The PDF: archival, tagged, with its tables, the same bytes, nothing fetched, all escaped."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path
from types import ModuleType

import jinja2
import numpy as np
import pikepdf
import pyarrow as pa
import pyarrow.compute as pc
import pytest
from pyarrow import csv as pacsv

from trivet.report.attachments import MOST_VALUES, going_along
from trivet.report.figure_list import MAKERS, Plate, plate_of
from trivet.report.frame.data import ReportData, ReportSettings, gather
from trivet.report.frame.style import look
from trivet.report.render import OwnParts, environment, manuscript, print_pdf, render_html
from trivet.report.section_list import parts_of
from trivet.schema.tables.dictionary import TABLES

Plates = dict[str, list[Plate]]
HOSTILE = '<script>alert(1)</script> =1+1 & "quoted" $x^2$ {{ 7*7 }} ' + "long" * 40


def open_pdf(pdf: bytes) -> pikepdf.Pdf:
    """The report as a document."""
    return pikepdf.open(io.BytesIO(pdf))


def test_it_is_tagged_and_says_what_it_is(pdf: bytes) -> None:
    """PDF/A-3a asks for tags, language and a declaration (ISO 19005-3, level A; from memory)."""
    document = open_pdf(pdf)
    assert document.Root.MarkInfo.Marked
    assert str(document.Root.Lang) == "en"
    assert str(document.docinfo.Title) == "Sealing the reference lead"
    assert str(document.docinfo.Author) == "A. Example"
    with document.open_metadata() as metadata:
        assert metadata.get("pdfaid:part") == "3"
        assert metadata.get("pdfaid:conformance") == "A"


def tags(node: pikepdf.Object, found: list[pikepdf.Object]) -> list[pikepdf.Object]:
    """All elements of the structure below a node."""
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            found.append(kid)
            tags(kid, found)
    return found


def test_figures_have_alternative_texts_and_tables_header_cells(pdf: bytes, plates: Plates) -> None:
    """Who can't see a figure hears what it shows; each table has header cells."""
    document = open_pdf(pdf)
    elements = tags(document.Root.StructTreeRoot, [])
    texts = {str(e.Alt) for e in elements if e.S == "/Figure" and "/Alt" in e}
    assert texts >= {plate.alternative for kind in plates.values() for plate in kind}
    assert sum(e.S == "/TH" for e in elements) > 50


def test_every_font_is_embedded_and_is_one_of_the_packages(pdf: bytes) -> None:
    """No font of the machine: all are Source Serif or Source Sans, and embedded."""
    document = open_pdf(pdf)
    descriptor = pikepdf.Name("/FontDescriptor")
    dictionaries = [o for o in document.objects if isinstance(o, pikepdf.Dictionary)]
    fonts = [o for o in dictionaries if o.get("/Type") == descriptor]
    assert fonts
    for font in fonts:
        assert "Source-S" in str(font.FontName)
        assert {"/FontFile2", "/FontFile3"} & set(font.keys())


def test_every_table_but_points_of_curves_is_attached(pdf: bytes, data: ReportData) -> None:
    """They stand in the file as CSV, with their numbers to twelve digits."""
    document = open_pdf(pdf)
    listed = {name for name, table in TABLES.items() if table.archived and not table.points}
    assert set(document.attachments) == {f"{name}.csv" for name in listed}
    for name in listed:
        kept = pacsv.read_csv(
            io.BytesIO(document.attachments[f"{name}.csv"].get_file().read_bytes())
        )
        assert kept.num_rows == data.tables[name].num_rows
        for column, values in zip(kept.column_names, data.tables[name].columns, strict=True):
            if pa.types.is_floating(values.type) and len(values):
                own = pc.cast(kept[column], pa.float64())
                np.testing.assert_allclose(own.to_numpy(), values.to_numpy(), rtol=5.1e-12)
                assert own.null_count == values.null_count


def test_long_tables_stay_beside_the_report(data: ReportData) -> None:
    """A table of a thousand cells would make a file that nobody can send."""
    assert "cycles" in going_along(data.tables)
    cycles = data.tables["cycles"]
    often = MOST_VALUES // (cycles.num_rows * cycles.num_columns) + 1
    many = going_along(data.tables | {"cycles": pa.concat_tables([cycles] * often)})
    assert "cycles" not in many
    assert "lifetimes" in many


def test_the_file_says_when_it_was_made_by_the_data_cut(pdf: bytes) -> None:
    """Attachments are marked as data and dated with the data cut."""
    document = open_pdf(pdf)
    assert {str(spec.AFRelationship) for spec in document.Root.AF} == {"/Data"}
    attached = document.attachments["cycles.csv"].get_file()
    assert attached.read_bytes().startswith(b'"cell","cycle"')
    assert attached.creation_date is not None
    assert attached.creation_date.year == 2026


def test_the_file_is_sound(pdf: bytes, tmp_path: Path) -> None:
    """An outside checker of the file structure finds nothing."""
    checker = shutil.which("qpdf")
    if checker is None:
        pytest.skip("qpdf is not installed")
    path = tmp_path / "report.pdf"
    path.write_bytes(pdf)
    done = subprocess.run([checker, "--check", str(path)], capture_output=True, check=False)
    assert done.returncode == 0, done.stdout.decode()


def test_a_reader_finds_verdict_numbers_at_risk_and_cautions(
    pdf: bytes, data: ReportData, plates: Plates, tmp_path: Path
) -> None:
    """The words that a meeting looks for stand in the text of the file."""
    extract = shutil.which("pdftotext")
    if extract is None:
        text = render_html(data, plates)
    else:
        path = tmp_path / "report.pdf"
        path.write_bytes(pdf)
        command = [extract, str(path), "-"]
        text = subprocess.run(command, capture_output=True, check=True).stdout.decode()
    text = " ".join(text.split())
    for words in (
        "Does the way of sealing the lead passage change how long cells live?",
        "inconclusive",
        "With 3 against 3 cells no p below 0.1 can occur",
        "smallest p that these cells could have given 0.10",
        "Numbers at risk",
        "not reached (lower limit 640)",
        "Invented data",
        "hydrogen fluoride",
        "gives no safety assessment",
        "common practice, no source",
        "dropped on the floor",
        "further findings are not listed",
        *data.groups,
    ):
        assert words in text


def test_page_one_is_one_page_and_the_contents_lead_to_every_section(
    pdf: bytes, data: ReportData
) -> None:
    """What follows page one starts on page two; each section has a bookmark of its title."""
    document = open_pdf(pdf)
    pages = [page.obj.objgen for page in document.pages]
    found: dict[str, int] = {}
    with document.open_outline() as outline:
        waiting = list(outline.root)
        while waiting:
            item = waiting.pop(0)
            destination = item.destination
            assert destination is not None
            found.setdefault(str(item.title), pages.index(destination[0].objgen) + 1)
            waiting += item.children
    for part in parts_of(data):
        for section in part.sections[1 if part.name == "meeting" else 0 :]:
            assert section.title in found
    assert found["Life lines"] == 2
    assert found["Appendix"] > found["Findings that need a hand"] > 2


def life_lines_only(data: ReportData) -> list[Plate]:
    """The one figure that prints most of what users typed."""
    with look():
        return [plate_of(drawing, data.group_of) for drawing in MAKERS["life_lines"](data)]


def test_hostile_text_is_printed_not_obeyed(invented: ModuleType) -> None:
    """What users typed is text: no tag, no template, no formula; and long words break."""
    settings = ReportSettings.model_validate(
        invented.SETTINGS | {"campaign": invented.SETTINGS["campaign"] | {"title": HOSTILE}}
    )
    data = gather(settings=settings, tables=invented.make(hostile=HOSTILE))
    plates = {kind: [] for kind in MAKERS} | {"life_lines": life_lines_only(data)}
    html = render_html(data, plates)
    assert "<script>" not in html
    assert "&lt;script&gt;alert(1)" in html
    assert "{{ 7*7 }}" in html
    document = open_pdf(print_pdf(manuscript(data, plates)))
    attached = document.attachments["cells.csv"].get_file().read_bytes()
    assert b"\"'=1+1 <script>" in attached
    assert b'"=1+1' not in attached


@pytest.mark.parametrize(
    "url", ["http://example.org/x.css", "https://example.org/", "file:///etc/hostname", "data:,x"]
)
def test_nothing_outside_the_report_is_fetched(url: str) -> None:
    """Every address but the report's own parts is refused and noted."""
    fetcher = OwnParts({"trivet:style.css": (b"", "text/css")})
    with pytest.raises(ValueError, match="no part of the report"):
        fetcher.fetch(url)
    assert fetcher.refused == [url]


def test_a_missing_variable_stops_the_report() -> None:
    """A template never prints nothing in place of a value."""
    with pytest.raises(jinja2.UndefinedError, match="verdict"):
        environment().from_string("{{ verdict }}").render()


def test_templates_neither_compute_nor_format() -> None:
    """No arithmetic and no rounding in templates: numbers come from the tables, formatted once."""
    loader = environment().loader
    assert loader is not None
    for name in (n for n in loader.list_templates() if n.endswith(".j2")):
        source, _, _ = loader.get_source(environment(), name)
        tree = environment().parse(source)
        for kind in (jinja2.nodes.Add, jinja2.nodes.Sub, jinja2.nodes.Mul, jinja2.nodes.Div):
            assert not list(tree.find_all(kind)), name
        used = {node.name for node in tree.find_all(jinja2.nodes.Filter)}
        assert not used & {"round", "format", "int", "float", "sum"}, name
