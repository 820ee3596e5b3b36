"""`trivet overview`: campaigns side by side, as text, as tables and on one page."""

from __future__ import annotations

import csv
import hashlib
import io
from pathlib import Path
from typing import Any

import pikepdf
import pyarrow as pa
import pytest
from report_campaign import make
from results_folders import write_archive, write_results

from trivet.cli.main import main
from trivet.report.frame.style import Absent
from trivet.report.overview import trend
from trivet.results.overview import put_together
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import make_table, read_table

DAY_S = 86_400
FIRST_CUT_S = 1_770_000_000.0


def again(name: str, rows: list[dict[str, Any]]) -> pa.Table:
    """Rows as the table that they came from."""
    columns = {column: [row[column] for row in rows] for column in TABLES[name].names}
    return make_table(TABLES[name], columns)


def campaign(folder: Path, *, cut_s: float | None, scale: float = 1.0, **settings: Any) -> Path:
    """Results with another data cut, and medians so many times as long."""
    made = make()
    cuts = [row | {"time_s": cut_s} for row in made["data_cuts"].to_pylist()]
    lives = made["life_summary"].to_pylist()
    for row in lives:
        for name in ("median", "median_beta_lower", "median_beta_upper"):
            row[name] = None if row[name] is None else scale * row[name]
    tables = {"data_cuts": again("data_cuts", cuts), "life_summary": again("life_summary", lives)}
    return write_results(folder, campaign=settings, tables=tables)


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Three campaigns, the latest first, two of one id, and an archive."""
    work = tmp_path_factory.mktemp("several")
    third = campaign(work / "third", cut_s=FIRST_CUT_S + 60 * DAY_S, scale=1.5, id="b",
                     question="Does it last longer?", invented=False)  # fmt: skip
    first = campaign(work / "first", cut_s=FIRST_CUT_S, id="b")
    second = campaign(work / "second", cut_s=FIRST_CUT_S + 30 * DAY_S, scale=1.2, id="a")
    return [third, first, write_archive(second, work / "archive")]


def digests(folder: Path) -> dict[str, str]:
    """Checksums of all files below a folder."""
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.rglob("*")) if path.is_file()}  # fmt: skip


def rows(path: Path) -> list[dict[str, str]]:
    """Rows of a table as text."""
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def test_campaigns_stand_by_data_cut_with_what_their_tables_say(
    folders: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each campaign once, the earliest cut first; its lives are those of its own table."""
    assert main(["overview", *map(str, folders), str(folders[0]), "--to", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    campaigns = rows(tmp_path / "campaigns.csv")
    third, first, bag = map(str, folders)
    assert [row["folder"] for row in campaigns] == [first, bag, third]
    assert [row["name"] for row in campaigns] == [f"b ({first})", "a", f"b ({third})"]
    assert campaigns[2]["question"] == "Does it last longer?"
    for name in (f"({first})", f"({third})", "Does it last longer?", "tape, bead, sleeve"):
        assert name in " ".join(said.split())
    lives = rows(tmp_path / "lives.csv")
    place = Path(bag) / "data" / "tables" / "life_summary.parquet"
    expected = {
        (row["factor"], row["group"]): row["median"]
        for row in read_table(TABLES["life_summary"], place).to_pylist()
        if (row["endpoint"], row["clock"]) == ("cell", "hours")
    }
    found = {(row["factor"], row["group"]): row["median"] for row in lives if row["folder"] == bag}
    assert found.keys() == expected.keys()
    for group, median in expected.items():
        assert found[group] == ("" if median is None else str(median))
    tape = [row for row in lives if row["group"] == "tape" and row["factor"] == "seal"]
    assert [row["folder"] for row in tape] == [first, bag, third]
    assert float(tape[2]["median"]) == pytest.approx(1.5 * float(tape[0]["median"]))


def test_verdicts_are_those_of_each_summary(folders: list[Path]) -> None:
    """Every contrast with a verdict stands once for each campaign."""
    found = put_together(folders)
    assert {(row["folder"], row["group"]) for row in found.verdicts} == {
        (str(folder), group) for folder in folders for group in ("bead", "sleeve")
    }
    assert {row["verdict"] for row in found.verdicts} == {"inconclusive"}


def test_ended_and_running_are_counted_in_the_tables(folders: list[Path]) -> None:
    """As many have ended and still run as the tables of lives and of cells say."""
    (one,) = put_together(folders[:1]).campaigns
    lives = read_table(TABLES["lifetimes"], folders[0] / "tables" / "lifetimes.parquet").to_pylist()
    ended = {row["cell"] for row in lives if row["endpoint"] == "cell" and row["observed"]}
    cells = read_table(TABLES["cells"], folders[0] / "tables" / "cells.parquet").to_pylist()
    assert one["ended"] == len(ended)
    assert one["running"] == sum(row["status"] == "running" for row in cells)
    assert one["built"] == len(cells)


def test_the_folders_are_only_read(folders: list[Path], tmp_path: Path) -> None:
    """Not a byte of results or archive changes, and the same folders give the same bytes."""
    before = [digests(folder) for folder in folders]
    for name in ("one", "two"):
        assert main(["overview", *map(str, folders), "--to", str(tmp_path / name)]) == 0
    assert [digests(folder) for folder in folders] == before
    one, two = (list(digests(tmp_path / name).values()) for name in ("one", "two"))
    assert one == two
    assert main(["overview", str(folders[2]), "--to", str(folders[2] / "data")]) == 2
    assert digests(folders[2]) == before[2]


def test_it_is_one_page_however_many_there_are(folders: list[Path], tmp_path: Path) -> None:
    """Fourteen campaigns are one page too, which counts what is left out; the tables have all."""
    many = [
        campaign(tmp_path / f"c{n}", cut_s=FIRST_CUT_S + n * DAY_S, id=f"c-{n}") for n in range(11)
    ]
    for name, given in (("few", folders), ("many", [*folders, *many])):
        assert main(["overview", *map(str, given), "--to", str(tmp_path / name)]) == 0
        with pikepdf.open(tmp_path / name / "overview.pdf") as pdf:
            assert len(pdf.pages) == 1
        assert len(rows(tmp_path / name / "campaigns.csv")) == len(given)


def test_a_trend_needs_two_data_cuts(folders: list[Path], tmp_path: Path) -> None:
    """One cut draws none and says so; a campaign without calendar stands in the tables only."""
    assert isinstance(trend(put_together(folders[:1])), Absent)
    timeless = campaign(tmp_path / "timeless", cut_s=None, id="timeless")
    found = put_together([*folders, timeless])
    drawn = trend(found)
    assert not isinstance(drawn, Absent)
    assert {row["name"] for row in found.lives} - {row["name"] for row in drawn.numbers} == {
        "timeless"
    }
    assert main(["overview", str(timeless), "--to", str(tmp_path / "out")]) == 0


def test_every_wrong_folder_is_named_at_once(
    folders: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two wrong folders beside a right one: both are said, and nothing is written."""
    wrong = [tmp_path / "none", tmp_path]
    given = [str(folders[0]), *map(str, wrong), "--to", str(tmp_path / "out")]
    assert main(["overview", *given]) == 2
    said = capsys.readouterr().err
    assert f"{wrong[0]}: does not exist" in said
    assert f"{wrong[1]}: holds no table" in said
    assert not (tmp_path / "out").exists()
