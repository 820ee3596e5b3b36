"""The results of a run as a whole: all files of the contract, and what its report says."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pikepdf
import pytest

from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table


def test_all_results_of_the_contract_are_there(four_cells: Path) -> None:
    """Every table as Parquet and text with exactly its columns, figures, summary, archive."""
    results = four_cells / "reports" / "demo"
    for name, entry in TABLES.items():
        if entry.archived:
            data = read_table(entry, results / "tables" / f"{name}.parquet")
            header = (results / "tables" / f"{name}.csv").read_text(encoding="utf-8").split("\n")[0]
            assert header == ",".join(f'"{column}"' for column in data.schema.names)
    assert json.loads((results / "summary.json").read_text(encoding="utf-8"))
    assert list((results / "figures").glob("*.svg"))
    bag = results / "archive" / "data"
    for name in ("report.pdf", "report.html", "config/campaign.yaml", "config/settings-used.json",
                 "raw-checksums.csv", "versions.json", "columns.csv"):  # fmt: skip
        assert (bag / name).is_file()


def test_the_report_says_what_a_reader_looks_for(four_cells: Path) -> None:
    """Group names, numbers at risk, the verdict stand in the text of the PDF."""
    pdf = four_cells / "reports" / "demo" / "report.pdf"
    with pikepdf.open(pdf) as document:
        assert 4 <= len(document.pages) <= 10
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed (Debian: poppler-utils)")
    text = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    for words in ("tape", "epoxy", "at risk", "inconclusive", "smallest", "Invented"):
        assert words in text, words
