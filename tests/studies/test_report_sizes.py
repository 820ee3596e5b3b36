"""The study of reports: its campaigns hold what they say, and its table what was measured."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pyarrow.csv
import pytest
import yaml

from trivet.campaign.folder import read_campaign
from trivet.studies.report_sizes import Measured, of_impedance, of_lives, of_sloping, table


def test_a_campaign_of_impedance_has_no_cycling(tmp_path: Path) -> None:
    """No file and no setting of cycling is left; spectra stay."""
    of_impedance(tmp_path, cells=2)
    settings = yaml.safe_load((tmp_path / "campaign.yaml").read_text(encoding="utf-8"))
    assert set(settings["raw"]) == {"impedance", "layouts"}
    folders = {path.name.partition("-")[0] for path in (tmp_path / "raw").iterdir()}
    assert folders == {"impedance"}


def test_a_campaign_of_lives_has_the_lives_of_another_and_no_raw_file(tmp_path: Path) -> None:
    """Lives of cells alone, on both clocks; those of references are left out."""
    folder, tables = tmp_path / "campaign", tmp_path / "results" / "tables"
    (folder / "raw").mkdir(parents=True)
    tables.mkdir(parents=True)
    (folder / "campaign.yaml").write_text("raw: {cycling: []}\n", encoding="utf-8")
    (tables / "lifetimes.csv").write_text(
        "cell,endpoint,clock,duration,observed,cause,group\n"
        "a,cell,hours,5.0,1,leak,tape\na,reference,hours,4.0,0,,tape\n",
        encoding="utf-8",
    )
    of_lives(folder, results=tmp_path / "results")
    with (folder / "lifetimes.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert (row["cell"], row["endpoint"], row["duration"], row["cause"]) == (
        "a", "cell", "5.0", "leak",
    )  # fmt: skip
    assert not (folder / "raw").exists()
    settings = yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8"))
    assert settings == {"bench_log": {"file": None}, "lifetime": {"table": "lifetimes.csv"}}


def test_the_table_has_a_line_a_campaign() -> None:
    """Pages, seconds and sizes stand in the units of the heading."""
    lines = list(table([Measured("6 cells", 30, 12.34, 1_900_000, 1_100_400)]))
    assert lines[-1] == "| 6 cells | 30 | 12.3 | 1,900 | 1,100 |"
    assert len({line.count("|") for line in lines}) == 1


def test_a_campaign_of_sloping_positives_is_right(tmp_path: Path) -> None:
    """Its settings and sheets pass, and its files hold the current in amperes, as they say."""
    of_sloping(tmp_path)
    campaign = read_campaign(tmp_path)
    assert [cell.values["seal"] for cell in campaign.cells] == ["tape", "epoxy"] * 3
    table = pyarrow.csv.read_csv(tmp_path / "raw" / "s1.csv")
    # half the capacity in an hour: 2 mAh at 0.5 1/h
    assert np.quantile(np.abs(table["Current / A"]), 0.9) == pytest.approx(0.001)
