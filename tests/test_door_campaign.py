"""A whole campaign of a build sheet and a table of lives, through Snakemake to report and bag."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest
from campaign_runs import planned, run
from lives_door import signed, write

from trivet.campaign.folder import read_campaign
from trivet.cli.main import main
from trivet.errors import InputError
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table

# Freireich et al. 1963, Blood 21, 699; Gehan 1965.
MERCAPTOPURINE = (6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32,
                  -34, -35)  # fmt: skip
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)


def test_a_table_of_lives_runs_to_report_and_archive(tmp_path: Path) -> None:
    """Only a build sheet and lifetimes.csv: chi-squared 16.79, medians 23 and 8, PDF and bag."""
    # Rodriguez, Survival Analysis notes; Venables & Ripley, MASS 4th ed. ch. 13
    lives = signed("drug", MERCAPTOPURINE) + signed("placebo", PLACEBO)
    write(tmp_path / "campaign", lives, control="placebo")
    run(tmp_path)
    results = tmp_path / "reports" / "door"
    with (results / "tables" / "comparisons.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["measure"]: row for row in csv.DictReader(file)}
    assert float(rows["log-rank"]["statistic"]) == pytest.approx(16.79, abs=5e-3)
    assert float(rows["log-rank"]["expected_events"]) == pytest.approx(19.25, abs=5e-3)
    assert float(rows["hazard ratio"]["estimate"]) == pytest.approx(0.2076, abs=5e-5)
    assert float(rows["time ratio"]["estimate"]) == pytest.approx(3.5514, abs=5e-5)
    summary = read_table(TABLES["life_summary"], results / "tables" / "life_summary.parquet")
    medians = {row["group"]: row["median"] for row in summary.to_pylist()}
    assert medians == {"drug": 23, "placebo": 8}
    assert (results / "report.pdf").stat().st_size > 10_000
    bag = results / "archive" / "data" / "config"
    assert (bag / "lifetimes.csv").read_bytes() == (
        tmp_path / "campaign" / "lifetimes.csv"
    ).read_bytes()
    assert main(["verify", str(results / "archive")]) == 0
    assert main(["rerun", str(results / "archive")]) == 0
    assert planned(tmp_path) == []
    path = tmp_path / "campaign" / "lifetimes.csv"
    path.write_text(path.read_text().replace(",35,", ",36,"), encoding="utf-8")
    assert {"lifetime", "survival", "planning", "report"} <= {rule for rule, _ in planned(tmp_path)}


AUTUMN = [
    *signed("placebo", (2, 4, 7, 9, 12), batch="a1"),
    *signed("drug", (5, 11, 15, -21, -24), batch="a1"),
]
"""Invented lives of an earlier campaign."""
EARLIER = """\
  earlier:
    - {name: autumn, archive: earlier/autumn}
    - {name: winter, table: earlier/winter.csv}
"""


@pytest.mark.xdist_group("campaign")
def test_earlier_campaigns_go_into_report_and_archive(tmp_path: Path) -> None:
    """An archive and a table join; the bag keeps what was read of them and can be rerun."""
    autumn = tmp_path / "autumn"
    write(autumn / "campaign", AUTUMN, control="placebo", stratify="batch")
    run(autumn)
    work = tmp_path / "now"
    lives = signed("drug", MERCAPTOPURINE) + signed("placebo", PLACEBO)
    folder = write(work / "campaign", lives, control="placebo", more=EARLIER)
    shutil.copytree(autumn / "reports" / "door" / "archive", folder / "earlier" / "autumn")
    table = "cell,batch,group,endpoint,clock,duration,observed\nw1,w,drug,cell,cycles,8,1\n"
    (folder / "earlier" / "winter.csv").write_text(table, encoding="utf-8")
    run(work)
    results = work / "reports" / "door"
    rows = {
        row["campaign"]: row
        for row in read_table(TABLES["pooled"], results / "tables" / "pooled.parquet").to_pylist()
    }
    # Venables & Ripley, MASS 4th ed. ch. 13: time ratio of this campaign alone
    assert rows["this campaign"]["estimate"] == pytest.approx(3.5514, abs=5e-5)
    assert rows["autumn"]["cells"] == rows["autumn"]["control_cells"] == 5
    assert rows["this campaign"]["weight"] + rows["autumn"]["weight"] == pytest.approx(1)
    assert rows["winter"]["reason"] == "adds nothing: no cell of it has the control 'placebo'"
    page = (results / "report.html").read_text(encoding="utf-8")
    assert "and that decides. With autumn (" in page
    assert "winter: adds nothing: no cell of it has the control" in page.replace("&#39;", "'")
    bag = results / "archive"
    kept = {
        path.relative_to(bag / "data" / "config").as_posix()
        for path in (bag / "data" / "config").rglob("*")
        if path.is_file() and "earlier" in path.parts
    }
    assert kept == {
        "earlier/winter.csv",
        "earlier/autumn/manifest-sha256.txt",
        "earlier/autumn/data/tables/cells.parquet",
        "earlier/autumn/data/tables/lifetimes.parquet",
    }
    assert main(["verify", str(bag)]) == 0
    assert main(["rerun", str(bag)]) == 0
    assert planned(work) == []
    (folder / "earlier" / "winter.csv").write_text(table.replace(",8,", ",9,"), encoding="utf-8")
    jobs = {rule for rule, _ in planned(work)}
    assert {"pooling", "report", "archive"} <= jobs
    assert not {"lifetime", "survival", "planning"} & jobs
    cells = folder / "earlier" / "autumn" / "data" / "tables" / "cells.parquet"
    cells.write_bytes(cells.read_bytes() + b" ")
    with pytest.raises(InputError, match="not what the archive's list of checksums says"):
        read_campaign(folder)
