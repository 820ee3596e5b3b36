"""The recipes of the README run as they stand there, and give what the tables hold."""

from __future__ import annotations

import csv
import statistics
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from documents import blocks, run_shell
from results_folders import write_results

from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table


@pytest.fixture(scope="module")
def work(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the reader stands, with the results that the recipes name."""
    place = tmp_path_factory.mktemp("reader")
    write_results(place / "reports" / "my-campaign", campaign={"id": "my-campaign"})
    write_results(place / "reports" / "old-campaign", campaign={"id": "old-campaign"})
    return place


def stored(work: Path, name: str) -> list[dict[str, Any]]:
    """Rows of a table as it is stored."""
    path = work / "reports" / "my-campaign" / "tables" / f"{name}.parquet"
    return read_table(TABLES[name], path).to_pylist()


def test_recipes_give_what_the_tables_hold(work: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Medians, selections and lives of the recipes are those counted by hand from the tables."""
    monkeypatch.chdir(work)
    names: dict[str, Any] = {}
    code = [text for language, text in blocks("README.md", "Recipes") if language == "python"]
    assert len(code) == 4
    for block in code:
        exec(block, names)
    group_of = {row["cell"]: row["group"] for row in stored(work, "cells")}
    ageing = [row for row in stored(work, "cycles") if row["kind"] == "ageing" and row["complete"]]
    cycle = ageing[0]["cycle"]
    for group in ("tape", "bead", "sleeve"):
        values = [row["retention"] for row in ageing
                  if row["cycle"] == cycle and group_of[row["cell"]] == group
                  and row["retention"] is not None]  # fmt: skip
        assert values
        found = names["retention"].loc[cycle, group]
        assert found == pytest.approx(statistics.median(values))
    assert list(names["retention"].columns) == ["tape", "bead", "sleeve"]
    electrodes = stored(work, "electrode_cycles")
    wanted = [row for row in electrodes if row["electrode"] == "positive"
              and (row["absolute_fitness"] or "") not in ("not fit", "")]  # fmt: skip
    shown = names["shown"]
    assert len(shown[shown["absolute_fitness"].notna()]) == len(wanted)
    lives = [row for row in stored(work, "lifetimes")
             if (row["endpoint"], row["clock"]) == ("cell", "hours")]  # fmt: skip
    with (work / "lives.csv").open(encoding="utf-8", newline="") as file:
        written = {row["cell"]: row for row in csv.DictReader(file)}
    assert {cell: row["observed"] == "True" for cell, row in written.items()} == {
        row["cell"]: row["observed"] == 1 for row in lives
    }
    assert isinstance(names["last_rows"].dtype, pd.DatetimeTZDtype)


def test_commands_of_the_recipes_write_what_they_say(work: Path) -> None:
    """The workbook, the figures and the page are there afterwards."""
    for language, text in blocks("README.md", "Recipes"):
        if language == "sh":
            run_shell(text, work)
    assert (work / "slides" / "my-campaign.xlsx").is_file()
    assert (work / "slides" / "capacity.png").is_file()
    assert (work / "overview" / "overview.pdf").is_file()
