"""From sections to HTML, from HTML to PDF/A-3a; nothing outside the report is ever fetched."""

from __future__ import annotations

import io
import warnings
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import jinja2
import pydyf
from markupsafe import Markup

from trivet.report.attachments import attachments
from trivet.report.figure_list import Plate
from trivet.report.frame import wording
from trivet.report.frame.data import ReportData
from trivet.report.frame.paper_svg import paper_svg
from trivet.report.frame.section import Section
from trivet.report.frame.style import font_files
from trivet.report.page_library import (
    HTML,
    Attachment,
    Document,
    FontConfiguration,
    URLFetcher,
    URLFetcherResponse,
)
from trivet.report.section_list import left_out, parts_of
from trivet.report.sections.comparison import verdict_title

LEVEL = 6
"""How hard streams of the PDF are compressed: the library's 9 takes twice as long for 1.5 %."""
SCHEME = "trivet:"
"""Scheme of the report's own parts; every other address is refused."""


class OwnParts(URLFetcher):  # type: ignore[misc]  # the library has no types
    """Gives the report's own parts from memory and refuses every other address.

    Parameters
    ----------
    parts : dict of str to tuple of bytes and str
        Content and media type by address.
    """

    def __init__(self, parts: dict[str, tuple[bytes, str]]) -> None:
        super().__init__(allowed_protocols=[])
        self._parts = parts
        self.refused: list[str] = []

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        """Give a part of the report.

        Raises
        ------
        ValueError
            The address is not a part of the report.
        """
        if url not in self._parts:
            self.refused.append(url)
            raise ValueError(f"refused: '{url}' is no part of the report")
        content, kind = self._parts[url]
        return URLFetcherResponse(url, content, {"Content-Type": kind})


def environment(*frames: str) -> jinja2.Environment:
    """Give the environment of the templates: strict, escaping, with filters of `wording`.

    Parameters
    ----------
    *frames : str
        Folders below `templates` whose frame and macros stand in for those of the PDF.
    """
    made = jinja2.Environment(
        loader=jinja2.ChoiceLoader(
            [
                *(jinja2.PackageLoader("trivet.report", f"templates/{name}") for name in frames),
                jinja2.PackageLoader("trivet.report", "templates"),
                jinja2.PackageLoader("trivet.report", "sections"),
                jinja2.PackageLoader("trivet.report.sections", "appendix"),
            ]
        ),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(
        number=wording.number,
        count=wording.count,
        p_value=wording.p_value,
        listed=wording.listed,
        shown=wording.shown,
        verdict_title=verdict_title,
    )
    return made


def render_html(data: ReportData, plates: dict[str, list[Plate]]) -> str:
    """Put all sections into one HTML document.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    plates : dict of str to list of Plate
        Figures by kind.
    """
    templates = environment()
    return framed(templates, data, filled(templates, data, plates))


def filled(
    templates: jinja2.Environment, data: ReportData, plates: dict[str, list[Plate]]
) -> list[dict[str, Any]]:
    """Fill the templates of all sections; give the parts of the report as their frame takes them.

    Parameters
    ----------
    templates : jinja2.Environment
        What `environment` gives.
    data : ReportData
        Tables and settings.
    plates : dict of str to list of Plate
        Figures by kind.
    """
    return [
        {
            "name": part.name,
            "title": part.title,
            "sections": [
                filled_section(templates, section, data, plates) for section in part.sections
            ],
        }
        for part in parts_of(data)
    ]


def filled_section(
    templates: jinja2.Environment,
    section: Section,
    data: ReportData,
    plates: dict[str, list[Plate]],
) -> dict[str, Any]:
    """Fill the template of a section; give it as the frame of the report takes it.

    Parameters
    ----------
    templates : jinja2.Environment
        What `environment` gives.
    section : Section
        The section.
    data : ReportData
        Tables and settings.
    plates : dict of str to list of Plate
        Figures by kind, those of the section among them.
    """
    figures = [plate for kind in section.figures for plate in plates[kind]]
    template = templates.get_template(f"{section.name}.html.j2")
    body = template.render(plates=figures, **section.contents(data))
    # Markup: the section's template has escaped its contents already
    return {"name": section.name, "title": section.title, "body": Markup(body)}


def framed(
    templates: jinja2.Environment,
    data: ReportData,
    parts: list[dict[str, Any]],
    **more: Any,  # noqa: ANN401  # whatever the frame asks for
) -> str:
    """Put the frame around the parts of the report.

    Parameters
    ----------
    templates : jinja2.Environment
        The environment that the parts were filled with.
    data : ReportData
        Tables and settings.
    parts : list of dict
        What `filled` gives.
    **more
        Further variables of the frame.
    """
    return templates.get_template("report.html.j2").render(
        campaign=data.settings.campaign,
        cut=data.cut,
        date=data.cut.moment.strftime("%Y-%m-%dT%H:%M:%SZ"),
        interim=data.interim,
        parts=parts,
        left_out=left_out(data),
        **more,
    )


def own_parts(plates: dict[str, list[Plate]]) -> dict[str, tuple[bytes, str]]:
    """Addresses and contents of style sheet, fonts and figures."""
    css = jinja2.PackageLoader("trivet.report", "templates").get_source(
        jinja2.Environment(autoescape=True), "style.css"
    )[0]
    parts = {f"{SCHEME}style.css": (css.encode(), "text/css")}
    for name, content in font_files().items():
        parts[f"{SCHEME}font/{name}"] = (content, "font/ttf")
    for plate in (plate for kind in plates.values() for plate in kind if not plate.absent):
        parts[f"{SCHEME}figure/{plate.name}.svg"] = (paper_svg(plate.svg), "image/svg+xml")
    return parts


@dataclass(frozen=True)
class Manuscript:
    """All that the PDF is made of; the tables are needed no more.

    Attributes
    ----------
    html : str
        The document.
    parts : dict of str to tuple of bytes and str
        Style sheet, fonts and figures by address.
    attached : list of weasyprint.Attachment
        Tables that go with it.
    """

    html: str
    parts: dict[str, tuple[bytes, str]]
    attached: list[Attachment]


def manuscript(data: ReportData, plates: dict[str, list[Plate]]) -> Manuscript:
    """Fill the templates and take from the tables what is attached.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    plates : dict of str to list of Plate
        Figures by kind.
    """
    return Manuscript(render_html(data, plates), own_parts(plates), attachments(data))


def print_pdf(given: Manuscript) -> bytes:
    """Make the PDF: PDF/A-3a, tagged, tables attached, dates from the data cut.

    Parameters
    ----------
    given : Manuscript
        What `manuscript` gives.

    Raises
    ------
    RuntimeError
        The document asked for something outside the report: a fault of the program.
    """
    pdf, _ = printed(given.html, given.parts, given.attached)
    return pdf


class _Written(pydyf.Stream):  # type: ignore[misc]  # the library has no types
    """A stream as the library writes it, made once.

    Parameters
    ----------
    stream : pydyf.Stream
        The stream, complete.
    """

    def __init__(self, stream: pydyf.Stream) -> None:
        super().__init__()
        self.number, self.generation = stream.number, stream.generation
        self.offset, self.free = stream.offset, stream.free
        self._data: bytes = _compressed(stream) if stream.compress else stream.data

    @property
    def data(self) -> bytes:
        """Its bytes."""
        return self._data


def _compressed(stream: pydyf.Stream) -> bytes:
    """The stream as it stands in the file; 1.5 % larger, in half of the time."""
    stream.compress = False
    content = stream.data.partition(b"\nstream\n")[2].removesuffix(b"\nendstream")
    extra = {**stream.extra, "Filter": "/FlateDecode"}
    packed: bytes = pydyf.Stream([zlib.compress(content, LEVEL)], extra).data
    return packed


def _written_once(_document: Document, pdf: pydyf.PDF) -> None:
    """Compress every stream once: the library does so for the file, and again for its digest."""
    pdf.objects = [
        _Written(found) if isinstance(found, pydyf.Stream) else found for found in pdf.objects
    ]


def printed(
    html: str, parts: dict[str, tuple[bytes, str]], attached: Sequence[Attachment] = ()
) -> tuple[bytes, int]:
    """Turn HTML into PDF/A-3a and count its pages.

    Parameters
    ----------
    html : str
        The document.
    parts : dict of str to tuple of bytes and str
        Style sheet, fonts and figures by address, see `own_parts`.
    attached : sequence of Attachment
        Files that go with it.

    Raises
    ------
    RuntimeError
        The document asked for something outside the report: a fault of the program.
    """
    fetcher = OwnParts(parts)
    document = HTML(string=html, base_url=f"{SCHEME}report", url_fetcher=fetcher)
    target = io.BytesIO()
    options = {
        "pdf_variant": "pdf/a-3a",
        "pdf_tags": True,
        "attachments": list(attached),
    }
    with warnings.catch_warnings():
        # the library leaves the file of its own colour profile to the garbage collector
        warnings.filterwarnings("ignore", "unclosed file .*sRGB2014", ResourceWarning)
        pages = document.render(font_config=FontConfiguration(), **options)
        pages.write_pdf(target, finisher=_written_once, **options)
    if fetcher.refused:
        raise RuntimeError(f"the report asked for addresses outside itself: {fetcher.refused}")
    return target.getvalue(), len(pages.pages)
