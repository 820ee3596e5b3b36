"""What each section of a report costs: its figures, its pages by themselves, their bytes.

`python -m trivet.studies.bench_report RESULTS` takes the folder of results of a campaign that has
been run, draws the figures of each section, and lays it out as a document of its own. Processor
time of one process; what all sections share (imports, fonts, style sheet) is the first line.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from trivet.report.figure_list import MAKERS, Plate, plate_of
from trivet.report.frame.data import ReportData, ReportSettings, gather, read_tables
from trivet.report.frame.section import Section
from trivet.report.frame.style import look
from trivet.report.render import environment, filled_section, framed, own_parts, printed
from trivet.report.section_list import parts_of


@dataclass(frozen=True)
class SectionCost:
    """What a section takes.

    Attributes
    ----------
    name : str
        The section; `nothing` for a document without any.
    figures : int
        Its figures [1].
    figures_s, document_s : float
        Processor time of drawing them, and of the document of this section alone [s].
    pages : int
        Pages of that document [1].
    bytes : int
        Size of it [B].
    """

    name: str
    figures: int
    figures_s: float
    document_s: float
    pages: int
    bytes: int


def report_data(results: Path) -> ReportData:
    """What the stage `report` prints, from a folder of results.

    Parameters
    ----------
    results : Path
        The folder, with its tables and the settings of its jobs.
    """
    job = json.loads((results / "jobs" / "report.json").read_text(encoding="utf-8"))
    settings = ReportSettings.model_validate(job["settings"])
    return gather(settings=settings, tables=read_tables(results / "tables"))


def costs(data: ReportData) -> Iterator[SectionCost]:
    """Cost of a document without sections, then of each section.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    """
    _document(data, None, {})  # fonts and style sheets are read the first time
    yield _document(data, None, {})
    for part in parts_of(data):
        for section in part.sections:
            plates: dict[str, list[Plate]] = {}
            began = time.process_time()
            with look():
                for kind in section.figures:
                    drawings = MAKERS[kind](data)
                    plates[kind] = [plate_of(drawing, data.group_of) for drawing in drawings]
            drawn_s = time.process_time() - began
            yield _document(data, section, plates, drawn_s)


def _document(
    data: ReportData,
    section: Section | None,
    plates: dict[str, list[Plate]],
    drawn_s: float = 0.0,
) -> SectionCost:
    """Lay out a section by itself."""
    began = time.process_time()
    templates = environment()
    bodies = [filled_section(templates, section, data, plates)] if section else []
    part = {"name": "meeting", "title": "A section alone", "sections": bodies}
    pdf, pages = printed(framed(templates, data, [part]), own_parts(plates))
    return SectionCost(
        name=section.name if section else "nothing",
        figures=sum(len(kind) for kind in plates.values()),
        figures_s=drawn_s,
        document_s=time.process_time() - began,
        pages=pages,
        bytes=len(pdf),
    )


def table(found: Sequence[SectionCost]) -> Iterator[str]:
    """Lines of the table, the dearest section first.

    Parameters
    ----------
    found : sequence of SectionCost
        What `costs` gives.
    """
    nothing, *sections = found
    yield "| section | figures | drawing them, s | document, s | pages | kB |"
    yield "|---|---|---|---|---|---|"
    dearest = sorted(sections, key=lambda one: -(one.figures_s + one.document_s))
    for one in (nothing, *dearest):
        yield (
            f"| {one.name} | {one.figures} | {one.figures_s:.2f} | {one.document_s:.2f} "
            f"| {one.pages} | {one.bytes / 1e3:.0f} |"
        )


def main(argv: Sequence[str] | None = None) -> None:
    """Measure the sections of a report and print the table.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("results", type=Path, nargs="?", default=Path("reports/demo"))
    given = parser.parse_args(argv)
    for line in table(list(costs(report_data(given.results)))):
        print(line)


if __name__ == "__main__":
    main()
