"""The stage `report`: from a folder of tables to PDF, web page, figures and summary."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import report_campaign
from jobs import run_job

from trivet.schema.tables.dictionary import TABLES
from trivet.store.register_file import ENTRY_FILE, REGISTER_FILE, write_entry
from trivet.store.tables import write_table


def test_the_command_writes_pdf_figures_and_summary(tmp_path: Path) -> None:
    """The printed command is all that is needed; the summary has the counts of the tables."""
    for name, table in report_campaign.make(1).items():
        write_table(TABLES[name], table, tmp_path / "tables" / f"{name}.parquet")
    write_entry(tmp_path / ENTRY_FILE, {"data_cut": "2026-05-28"})
    run_job(tmp_path, "report", settings=report_campaign.SETTINGS)
    out = tmp_path
    assert '"data_cut": "2026-05-28"' in (out / REGISTER_FILE).read_text(encoding="utf-8")
    assert (out / "report.pdf").read_bytes().startswith(b"%PDF")
    assert (out / "report.html").read_bytes().startswith(b"<!DOCTYPE html>")
    assert not list(out.glob(".*.new"))
    assert (out / "figures" / "life-lines.svg").is_file()
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert summary["cells"]["built"] == 3
    assert [row["verdict"] for row in summary["verdicts"]] == ["inconclusive"] * 2
    assert summary["tables"]["cells"] == 3


def test_a_missing_table_is_a_fault_of_the_program(tmp_path: Path) -> None:
    """The report is never made from half of the tables."""
    with pytest.raises(FileNotFoundError, match="parquet"):
        run_job(tmp_path, "report", settings=report_campaign.SETTINGS)
