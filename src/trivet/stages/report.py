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
from trivet.report.render import render_pdf
from trivet.report.summary import summary
from trivet.report.web.page import render_page
from trivet.stages.job import Job
from trivet.store.register_file import ENTRY_FILE, REGISTER_FILE, append_entry, read_entry


@dataclass(frozen=True)
class ReportOutput:
    """What the stage writes.

    Attributes
    ----------
    pdf, page : bytes
        The report, for paper and as a web page.
    plates : dict of str to list of Plate
        Its figures by kind.
    summary : dict
        Counts and verdicts.
    """

    pdf: bytes
    page: bytes
    plates: dict[str, list[Plate]]
    summary: dict[str, Any]


def run(*, tables: dict[str, pa.Table], settings: ReportSettings) -> ReportOutput:
    """Make the report from tables and settings; no result is computed here.

    Parameters
    ----------
    tables : dict of str to pyarrow.Table
        Every archived table by name.
    settings : ReportSettings
        The blocks that the report prints.
    """
    data = gather(settings=settings, tables=tables)
    plates = make_plates(data)
    page = render_page(data, plates)  # first: what the layout of the PDF takes stays to the end
    return ReportOutput(
        pdf=render_pdf(data, plates),
        page=page,
        plates=plates,
        summary=summary(data),
    )


def write_report(output: ReportOutput, folder: Path) -> None:
    """Write PDF, web page, figures and summary below a folder, once all of them are made."""
    folder.mkdir(parents=True, exist_ok=True)
    write_plates(output.plates, folder / "figures")
    text = json.dumps(output.summary, indent=2, ensure_ascii=False, sort_keys=True)
    files = {
        "summary.json": text.encode() + b"\n",
        "report.html": output.page,
        "report.pdf": output.pdf,
    }
    for name, content in files.items():
        beside = folder / f".{name}.new"
        beside.write_bytes(content)
        beside.replace(folder / name)


def work(job: Job) -> dict[str, pa.Table]:
    """Make the report, write it beside the tables, and enter it in the register."""
    settings = ReportSettings.model_validate(job.settings)
    # what the page layout makes lives to the end: looking for rubbish in it costs a fifth of all
    gc.set_threshold(200_000)
    # memory that is given back: tables of a thousand cells take as much again while they are read
    pa.set_memory_pool(pa.system_memory_pool())
    tables = read_tables(job.results / "tables")
    write_report(run(tables=tables, settings=settings), job.results)
    append_entry(job.results / REGISTER_FILE, read_entry(job.results / ENTRY_FILE))
    return {}
