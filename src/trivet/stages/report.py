"""Print the report of a campaign: PDF, web page, figures with their numbers, summary."""

from __future__ import annotations

import gc
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa

from trivet.report.figure_list import Plate, make_plates, write_plates
from trivet.report.frame.data import ReportSettings, gather, read_tables
from trivet.report.render import Manuscript, manuscript, print_pdf
from trivet.report.summary import summary
from trivet.report.web.page import render_page
from trivet.stages.job import Job
from trivet.store.register_file import ENTRY_FILE, REGISTER_FILE, append_entry, read_entry
from trivet.store.whole_file import write_whole


@dataclass(frozen=True)
class Prepared:
    """The report but for its PDF, which needs the tables no more.

    Attributes
    ----------
    manuscript : Manuscript
        What the PDF is made of.
    page : bytes
        The web page.
    plates : dict of str to list of Plate
        Figures by kind.
    summary : dict
        Counts and verdicts.
    """

    manuscript: Manuscript
    page: bytes
    plates: dict[str, list[Plate]]
    summary: dict[str, Any]


def prepare(*, tables: dict[str, pa.Table], settings: ReportSettings) -> Prepared:
    """Draw and word the report from tables and settings; no result is computed here.

    Parameters
    ----------
    tables : dict of str to pyarrow.Table
        Every archived table by name.
    settings : ReportSettings
        The blocks that the report prints.
    """
    data = gather(settings=settings, tables=tables)
    plates = make_plates(data)
    return Prepared(
        manuscript=manuscript(data, plates),
        page=render_page(data, plates),
        plates=plates,
        summary=summary(data),
    )


def write_report(given: Prepared, pdf: bytes, folder: Path) -> None:
    """Write PDF, web page, figures and summary below a folder, once all of them are made."""
    write_plates(given.plates, folder / "figures")
    text = json.dumps(given.summary, indent=2, ensure_ascii=False, sort_keys=True)
    files = {
        "summary.json": text.encode() + b"\n",
        "report.html": given.page,
        "report.pdf": pdf,
    }
    for name, content in files.items():
        write_whole(folder / name, content)


def work(job: Job) -> dict[str, pa.Table]:
    """Make the report, write it beside the tables, and enter it in the register."""
    settings = ReportSettings.model_validate(job.settings)
    # what the page layout makes lives to the end: looking for rubbish in it costs a fifth of all
    gc.set_threshold(200_000)
    # memory that is given back: tables of a thousand cells take as much again while they are read
    pa.set_memory_pool(pa.system_memory_pool())
    # the tables of a thousand cells go before the layout comes, which takes as much again
    given = prepare(tables=read_tables(job.results / "tables"), settings=settings)
    gc.collect()
    write_report(given, print_pdf(given.manuscript), job.results)
    append_entry(job.results / REGISTER_FILE, read_entry(job.results / ENTRY_FILE))
    return {}
