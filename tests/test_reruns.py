"""Four cells of the demonstration: what reruns when something changes, and what never does."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest
from campaign_runs import FOUR, copied, planned, rows, run, run_here, snakemake

from trivet.demo.make import keep_cells
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import read_table

CAMPAIGN_STAGES = {
    "collect", "lifetime", "survival", "planning", "trends", "measures", "record", "export_csv",
    "report", "archive", "as_of", "fading", "forecast", "balance", "pooling",
}  # fmt: skip
Jobs = list[tuple[str, str]]


@pytest.fixture(scope="module")
def small(four_cells: Path) -> Path:
    """Four cells of the demonstration, run with one core."""
    return four_cells


@pytest.fixture
def trial(small: Path, tmp_path: Path) -> Path:
    """A copy of the four cells and their results, to be changed by one test."""
    return copied(small, tmp_path / "work")


ODD = {"cycling-*/c01.*": "pipe", "impedance-*/c01_*": "loop", "impedance-*/c02_*": "dangling"}
"""The first files of these names that are something else."""


def test_jobs_of_a_run_on_one_machine_are_forks(four_cells: Path) -> None:
    """Each wrote its own account, which Snakemake's would have other columns than."""
    accounts = sorted((four_cells / "reports" / "demo" / "logs").glob("*.tsv"))
    assert {"read-c01", "survival", "report", "archive"} <= {path.stem for path in accounts}
    assert {path.read_text("utf-8").splitlines()[0] for path in accounts} == {
        "s\tmax_rss\tcpu_time"
    }


def test_what_changed_is_what_a_run_with_that_cut_gives(small: Path, tmp_path: Path) -> None:
    """Lives, verdicts, trust and findings as of a week before are those of a run with that cut."""
    cut = next(row["data_cut"] for row in rows(small, "data_cuts") if row["cut"] == "before")
    work = tmp_path / "then"
    campaign = Path(shutil.copytree(small / "campaign", work / "campaign"))
    jobs = list(run_here(campaign, work / "reports", without=("archive",), data_cut=cut))
    assert {job.stage.name for job in jobs} >= CAMPAIGN_STAGES - {"archive"}
    now, then = small / "reports" / "demo", work / "reports" / "demo"
    for name in ("cells", "lifetimes", "comparisons", "timeline"):
        again = read_table(TABLES[name], now / "earlier" / f"{name}.parquet")
        real = read_table(TABLES[name], then / "tables" / f"{name}.parquet")
        order = [(column, "ascending") for column in real.column_names]
        assert again.sort_by(order).equals(real.sort_by(order)), name
    kinds = [
        {(row["cell"], row["check"], row["severity"]) for row in read_table(
            TABLES["findings"], path / "findings.parquet").to_pylist()}
        for path in (now / "earlier", then / "tables")
    ]  # fmt: skip
    assert kinds[0] == kinds[1]
    assert rows(small, "changes")
    summary = json.loads((then / "summary.json").read_text(encoding="utf-8"))
    assert summary["data_cut"] == f"{cut} (as set)"


# --- what reruns ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Changed:
    """The four cells, run again after everything that may happen to them."""

    work: Path
    grown: Path
    """A file of c02 that grew by a row."""
    due: Jobs
    """Jobs that were due for that row alone."""
    odd: tuple[Path, ...]
    """Files of c01 and c02 that are something else now."""


@pytest.fixture(scope="module")
def changed(small: Path, tmp_path_factory: pytest.TempPathFactory) -> Changed:
    """A file grew; then one cell lost its files, two can't be read, one left the sheet; a run."""
    work = copied(small, tmp_path_factory.mktemp("changed") / "work")
    raw = work / "campaign" / "raw"
    grown = next(raw.glob("cycling-*/c02.*"))
    with grown.open("ab") as file:
        file.write(grown.read_bytes().splitlines(keepends=True)[-1])
    due = planned(work)
    for path in raw.rglob("c10*"):
        path.unlink()
    odd = tuple(sorted(raw.glob(pattern))[0] for pattern in ODD)
    for path, kind in zip(odd, ODD.values(), strict=True):
        path.unlink()
        if kind == "pipe":
            os.mkfifo(path)
        else:
            path.symlink_to(path.name if kind == "loop" else "nowhere")
    keep_cells(work / "campaign", cells=FOUR[:-1])
    run(work)
    return Changed(work, grown, due, odd)


def test_one_new_row_reruns_that_cell_and_the_campaign(changed: Changed) -> None:
    """A whole row appended to one raw file: that cell and the campaign stages, no other cell."""
    assert {cell for _, cell in changed.due if cell} == {"c02"}
    assert {rule for rule, cell in changed.due if not cell} == CAMPAIGN_STAGES
    assert planned(changed.work) == []
    seen = {row["file"]: row for row in rows(changed.work, "ledger")}
    name = str(changed.grown.relative_to(changed.work / "campaign"))
    # all but the rows of names and of units
    assert seen[name]["rows_seen"] == len(changed.grown.read_bytes().splitlines()) - 2


def test_a_cell_taken_from_the_sheet_leaves_nothing_behind(changed: Changed) -> None:
    """Results, jobs and what was printed of a cell go with its row of the build sheet."""
    assert not [path for path in (changed.work / "reports" / "demo").rglob("*c11*")
                if "figures" not in path.parts and "archive" not in path.parts]  # fmt: skip


def test_a_touched_file_reruns_nothing(trial: Path) -> None:
    """Dates of raw files do not count, their contents do."""
    for path in (trial / "campaign" / "raw").rglob("c0*"):
        os.utime(path)
    assert planned(trial) == []


def test_new_content_under_an_old_date_reruns_its_cell(trial: Path) -> None:
    """A byte changed with the date kept is seen."""
    path = next((trial / "campaign" / "raw").glob("cycling-*/c01.*"))
    before = path.stat()
    content = path.read_bytes()
    path.write_bytes(content[:-3] + b"9" + content[-2:])
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert {cell for _, cell in planned(trial) if cell} == {"c01"}


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("  title: Sealing", "  title: On sealing", {"report", "archive"}),
        ("    - {factor: seal, control: tape}", "    - {factor: seal, control: epoxy}",
         CAMPAIGN_STAGES - {"collect"}),
        ("comparison:", "lifetime: {capacity: {retention_below: 0.7}}\ncomparison:",
         CAMPAIGN_STAGES - {"collect"}),
        ("comparison:", "impedance: {starts: 4}\ncomparison:",
         {"impedance", *CAMPAIGN_STAGES}),
        ("ageing_rate: 0.5", "ageing_rate: 0.51", {"cycling", "impedance", *CAMPAIGN_STAGES}),
    ],
)  # fmt: skip
def test_a_changed_setting_reruns_what_depends_on_it(
    trial: Path, old: str, new: str, expected: set[str]
) -> None:
    """Each setting leads to the stages that name it and those that follow, no others."""
    path = trial / "campaign" / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    assert {rule for rule, _ in planned(trial)} == expected


def test_results_know_by_themselves_whether_they_are_current(
    trial: Path, small: Path, tmp_path: Path
) -> None:
    """Without Snakemake's memory nothing reruns; then a changed setting, cut or row does."""
    shutil.rmtree(trial / ".snakemake")
    assert planned(trial) == []
    path = trial / "campaign" / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("ageing_rate: 0.5", "ageing_rate: 0.51"), encoding="utf-8")
    assert ("cycling", "c01") in planned(trial)
    again = copied(small, tmp_path / "again")
    shutil.rmtree(again / ".snakemake")
    raw = next((again / "campaign" / "raw").glob("cycling-*/c02.*"))
    raw.write_bytes(b"".join(raw.read_bytes().splitlines(keepends=True)[:-40]))
    assert {cell for _, cell in planned(again) if cell} == {"c02"}


def test_a_data_cut_and_a_linked_results_folder_are_seen(trial: Path) -> None:
    """A cut set anew reruns what is read, also where the results are reached by a link."""
    (trial / "reports").rename(trial / "elsewhere")
    (trial / "reports").symlink_to(trial / "elsewhere", target_is_directory=True)
    assert planned(trial) == []
    path = trial / "campaign" / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    assert "  title: Sealing" in text
    changed = text.replace("  title: Sealing", "  data_cut: 2026-02-20\n  title: Sealing")
    path.write_text(changed, encoding="utf-8")
    assert {("read", cell) for cell in FOUR} <= set(planned(trial))


def test_results_of_another_campaign_of_the_same_id_are_not_overwritten(trial: Path) -> None:
    """Two folders, one id: the second is told both folders and what to do, before any job."""
    shutil.copytree(trial / "campaign", trial / "second")
    done = snakemake(trial, config=("campaign=second",))
    assert done.returncode != 0
    assert "holds the results of another campaign of the same id" in done.stderr
    assert str(trial / "campaign") in done.stderr
    assert str(trial / "second") in done.stderr


def test_a_cell_without_files_is_counted_and_explained(changed: Changed) -> None:
    """All raw files of one cell deleted: the campaign ends, and the cell stays in every count."""
    cells = {row["cell"]: row["status"] for row in rows(changed.work, "cells")}
    assert set(cells) == set(FOUR[:-1])
    assert cells["c10"] == "no data"
    findings = [row for row in rows(changed.work, "findings") if row["cell"] == "c10"]
    assert any(row["check"] == "no data" and row["severity"] == "fault" for row in findings)
    lives = [row for row in rows(changed.work, "lifetimes") if row["cell"] == "c10"]
    assert lives
    assert all(row["observed"] == 0 and row["duration"] == 0 for row in lives)


def test_odd_things_among_the_raw_files_become_findings(changed: Changed) -> None:
    """A pipe, a dangling link and a loop in place of files of two cells: the campaign ends."""
    found = rows(changed.work, "findings")
    for path in changed.odd:
        named = [row for row in found if path.name in row["file"]]
        assert {row["cell"] for row in named} == {path.name[:3]}, path
        assert any(row["check"] == "unreadable file" for row in named), path
    assert {row["cell"] for row in rows(changed.work, "cells")} == set(FOUR[:-1])


def test_a_report_that_fails_leaves_the_last_good_one(
    trial: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """New settings, and a page layout that breaks down: PDF, figures, summary and archive stay."""
    results = trial / "reports" / "demo"
    kept = [results / name for name in ("report.pdf", "report.html", "summary.json")]
    kept += [path for path in sorted((results / "figures").iterdir()) if path.is_file()]
    before = {path: path.read_bytes() for path in kept}
    path = trial / "campaign" / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("  title: Sealing", "  title: On sealing"), encoding="utf-8")
    broken = trial / "broken" / "weasyprint"
    broken.mkdir(parents=True)
    (broken / "__init__.py").write_text("raise ImportError('not today')\n", encoding="utf-8")
    with monkeypatch.context() as surroundings:
        surroundings.setenv("PYTHONPATH", str(broken.parent), prepend=os.pathsep)
        done = snakemake(trial)
    assert done.returncode != 0
    assert {path: path.read_bytes() for path in kept} == before
    assert {rule for rule, _ in planned(trial)} == {"report", "archive"}


def test_a_linked_folder_of_raw_files_is_read(trial: Path) -> None:
    """Raw files that lie elsewhere and are linked count like those in place."""
    raw = trial / "campaign" / "raw"
    raw.rename(trial / "elsewhere")
    raw.symlink_to(trial / "elsewhere", target_is_directory=True)
    assert planned(trial) == []


def test_wrong_settings_stop_before_any_job(trial: Path) -> None:
    """Three mistakes in one file: all three in one message, with lines and near names; status 2."""
    path = trial / "campaign" / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    for old, new in (("  title:", "  titel:"), ("ageing_rate: 0.5", "ageing_rate: fast"),
                     ("layout: semicolon}", "layout: semicolin}")):  # fmt: skip
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    done = snakemake(trial)
    assert done.returncode == 2
    assert "3 problems in the input; nothing was run" in done.stderr
    for words in ("line 4: unknown setting 'titel' in 'campaign'. Did you mean 'title'?",
                  "'cycling.ageing_rate' is 'fast'; it must be a number",
                  "layout 'semicolin' is not defined. Did you mean 'semicolon'?"):  # fmt: skip
        assert words in done.stderr


def test_a_printed_command_can_be_pasted(trial: Path) -> None:
    """What Snakemake prints runs in a shell as it stands, and gives the same table."""
    output = trial / "reports" / "demo" / "cells" / "c02" / "cycling" / "cycles.parquet"
    before = output.read_bytes()
    text = run(trial, "--dry-run", "--printshellcmds", "--forcerun", "cycling")
    command = next(
        line.partition("Shell command: ")[2]
        for line in text.splitlines()
        if "trivet.stages" in line and "cycling-c02.json" in line
    )
    output.unlink()
    subprocess.run(["bash", "-c", command], cwd=trial, check=True)
    assert output.read_bytes() == before


def test_lint_is_clean(trial: Path) -> None:
    """Snakemake's own linter has nothing to say."""
    assert "good condition" in run(trial, "--lint")
