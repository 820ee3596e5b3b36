"""The tutorial runs as it stands there, from a messy folder to the report."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
from documents import blocks, run_python, run_shell

import trivet
from trivet.demo.messy import CELLS, CURRENT_MA, rows_of


def test_the_tutorial_goes_from_the_messy_folder_to_the_report(tmp_path: Path) -> None:
    """Every block runs in order; the capacities are those that were put in, none is lost."""
    for language, code in blocks("config/TUTORIAL.md"):
        if language == "sh":
            run_shell(code, tmp_path)
        else:
            printed = run_python(code, tmp_path)
            assert all(cell.cell in printed for cell in CELLS)
    results = trivet.open(tmp_path / "reports" / "tutorial")
    assert (results.folder / "report.pdf").stat().st_size > 10_000
    cycles = results.cycles.set_index(["cell", "cycle"])["discharge_capacity_mAh"]
    for cell in CELLS:
        rows = rows_of(cell)
        for cycle in (1, 8):
            # one constant current: charge is current times time, whatever the reader does
            hours = rows["hours"][(rows["cycle"] == cycle) & (rows["current_mA"] < 0)]
            expected = CURRENT_MA * (hours[-1] - hours[0])
            assert cycles[cell.cell, cycle] == pytest.approx(expected, rel=2e-3)
    cells = results.cells.set_index("cell")
    assert set(cells.index) == {cell.cell for cell in CELLS}
    assert cells["positive_active_mass_mg"].sum() == pytest.approx(12.4 + 12.6 + 12.5 + 12.3)
    found = json.loads((results.folder / "summary.json").read_bytes())
    assert found["invented"] is True
    assert [row["verdict"] for row in found["verdicts"] if row["verdict"]] == ["inconclusive"]
    # two against two: 2 of the 6 ways to deal four cells are as far apart as these
    assert found["verdicts"][0]["smallest_attainable_p"] == pytest.approx(1 / 3)
    assert openpyxl.load_workbook(tmp_path / "slides" / "tutorial.xlsx")["cells"].max_row == 6
    assert (tmp_path / "overview" / "overview.pdf").is_file()
