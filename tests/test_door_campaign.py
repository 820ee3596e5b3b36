"""A whole campaign of a build sheet and a table of lives, from its job files to report and bag.

Then reports issued one after the other: what the next one says. Jobs are done in this process;
that Snakemake would run nothing after them, and what it would after a change, is asked of it.
"""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest
from campaign_runs import MEETING, copied, planned, run_here
from lives_door import signed, write

from trivet.campaign.folder import read_campaign
from trivet.cli.main import main
from trivet.errors import InputError
from trivet.report.frame.data import ReportSettings, gather, read_tables
from trivet.report.section_list import parts_of
from trivet.report.sections.summary import summary
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.job import open_job
from trivet.store.register_file import read_register
from trivet.store.tables import read_table

# Freireich et al. 1963, Blood 21, 699; Gehan 1965.
MERCAPTOPURINE = (6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32,
                  -34, -35)  # fmt: skip
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)

LIVES = signed("drug", MERCAPTOPURINE) + signed("placebo", PLACEBO)


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The published trial as a campaign of a build sheet and a table of lives, run once."""
    work = tmp_path_factory.mktemp("trial")
    write(work / "campaign", LIVES, control="placebo", more=MEETING)
    run_again(work)
    return work


@pytest.fixture
def work(trial: Path, tmp_path: Path) -> Path:
    """A copy of the campaign and its results, to be changed by one test."""
    return copied(trial, tmp_path / "work")


def test_a_table_of_lives_runs_to_report_and_archive(work: Path) -> None:
    """Only a build sheet and lifetimes.csv: chi-squared 16.79, medians 23 and 8, PDF and bag."""
    # Rodriguez, Survival Analysis notes; Venables & Ripley, MASS 4th ed. ch. 13
    results = work / "reports" / "door"
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
    path = work / "campaign" / "lifetimes.csv"
    assert (bag / "lifetimes.csv").read_bytes() == path.read_bytes()
    assert main(["verify", str(results / "archive")]) == 0
    assert planned(work) == []
    path.write_text(path.read_text().replace(",35,", ",36,"), encoding="utf-8")
    assert {"lifetime", "survival", "planning", "report"} <= {rule for rule, _ in planned(work)}


EARLIER = """\
  earlier:
    - {name: autumn, archive: earlier/autumn}
    - {name: winter, table: earlier/winter.csv}
"""


def test_earlier_campaigns_go_into_report_and_archive(trial: Path, tmp_path: Path) -> None:
    """An archive and a table join; the bag keeps what was read of them and can be rerun.

    The earlier archive is that of the same trial under another batch, so that both weigh the same.
    """
    work = tmp_path / "now"
    lives = [{**life, "batch": "again"} for life in LIVES]
    folder = write(work / "campaign", lives, control="placebo", more=EARLIER + MEETING)
    shutil.copytree(trial / "reports" / "door" / "archive", folder / "earlier" / "autumn")
    table = "cell,batch,group,endpoint,clock,duration,observed\nw1,w,drug,cell,cycles,8,1\n"
    (folder / "earlier" / "winter.csv").write_text(table, encoding="utf-8")
    run_again(work)
    results = work / "reports" / "door"
    rows = {
        row["campaign"]: row
        for row in read_table(TABLES["pooled"], results / "tables" / "pooled.parquet").to_pylist()
    }
    # Venables & Ripley, MASS 4th ed. ch. 13: time ratio of this campaign alone
    assert rows["this campaign"]["estimate"] == pytest.approx(3.5514, abs=5e-5)
    assert rows["autumn"]["cells"] == rows["autumn"]["control_cells"] == 21
    assert rows["this campaign"]["weight"] == pytest.approx(0.5)
    assert rows["autumn"]["weight"] == pytest.approx(0.5)
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


def run_again(work: Path) -> None:
    """Do every job of the campaign, in this process."""
    for job in run_here(work / "campaign", work / "reports"):
        assert job.results == work / "reports" / "door"


def page_one(work: Path) -> dict[str, object]:
    """What page one says, from the tables of the results."""
    results = work / "reports" / "door"
    job = open_job(results / "jobs" / "report.json", work / "campaign")
    settings = ReportSettings.model_validate(
        {**job.settings, "report": {**job.settings["report"], "part": "whole"}}
    )
    data = gather(settings=settings, tables=read_tables(results / "tables"))
    names = {section.name for part in parts_of(data) for section in part.sections}
    return summary(data) | {"sections": names}


def test_reports_one_after_the_other(work: Path) -> None:
    """First, again, a margin moved, a cell taken out, a damaged line: each is told, none runs."""
    results = work / "reports" / "door"
    register = results / "register.jsonl"
    told = page_one(work)
    assert told["since_report"] is None
    assert "register" not in told["sections"]  # type: ignore[operator]
    assert len(read_register(register).entries) == 1

    settings = work / "campaign" / "campaign.yaml"
    written = settings.read_text(encoding="utf-8")
    settings.write_text(
        written.replace("comparison:\n", "comparison:\n  equivalence_margin: 1.5\n")
    )
    sheet = work / "campaign" / "build-sheet.csv"
    rows = sheet.read_text(encoding="utf-8").splitlines()
    rows = [f"{rows[0]},included,exclusion_reason", *(f"{row},yes," for row in rows[1:])]
    rows[1] = rows[1].removesuffix("yes,") + "no,leak"
    sheet.write_text("\n".join(rows) + "\n", encoding="utf-8")
    run_again(work)
    told = page_one(work)
    assert "register" in told["sections"]  # type: ignore[operator]
    assert told["since_report"]["sentences"] == [  # type: ignore[index]
        "Settings: margin of equivalence 1.25, now 1.5, after a verdict was reported.",
        "Build sheet: c00000 excluded (leak), after its end was reported.",
    ]
    late = told["grounds"][0]["late"]  # type: ignore[index]
    assert "c00000 excluded (leak)" in late
    assert "margin of equivalence 1.25, now 1.5" in late
    assert len(read_register(register).entries) == 2
    assert planned(work) == []

    before, lines = (results / "report.pdf").read_bytes(), register.read_bytes()
    run_again(work)
    assert (results / "report.pdf").read_bytes() == before
    assert register.read_bytes() == lines
    assert (results / "archive" / "data" / "register.jsonl").read_bytes() == lines
    assert main(["verify", str(results / "archive")]) == 0

    register.write_bytes(b"{half an entry\n" + lines)
    settings.write_text(settings.read_text().replace("1.5\n", "1.4\n"))
    run_again(work)
    said = page_one(work)["since_report"]["sentences"]  # type: ignore[index]
    assert "1 line of the register of reports can't be read; the findings name it." in said
    known = read_register(register)
    assert (len(known.entries), [line for line, _ in known.damaged]) == (3, [1])
    assert planned(work) == []
