"""Reports issued one after the other: what the next one says, and that nothing runs for it."""

from __future__ import annotations

from pathlib import Path

from campaign_runs import planned, run
from lives_door import signed, write

from trivet.cli.main import main
from trivet.report.frame.data import ReportSettings, gather, read_tables
from trivet.report.section_list import parts_of
from trivet.report.sections.summary import summary
from trivet.stages.job import open_job
from trivet.store.register_file import read_register


def page_one(work: Path) -> dict[str, object]:
    """What page one says, from the tables of the results."""
    results = work / "reports" / "door"
    job = open_job(results / "jobs" / "report.json", work / "campaign")
    settings = ReportSettings.model_validate(job.settings)
    data = gather(settings=settings, tables=read_tables(results / "tables"))
    names = {section.name for part in parts_of(data) for section in part.sections}
    return summary(data) | {"sections": names}


def test_reports_one_after_the_other(tmp_path: Path) -> None:
    """First, again, a margin moved, a cell taken out, a damaged line: each is told, none runs."""
    lives = signed("new", (9.0, 12.0, -15.0, 16.0)) + signed("old", (3.0, 4.0, 5.0, 8.0))
    write(tmp_path / "campaign", lives, control="old")
    results = tmp_path / "reports" / "door"
    register = results / "register.jsonl"
    run(tmp_path)
    told = page_one(tmp_path)
    assert told["first_report"]
    assert told["since_report"] is None
    assert "register" not in told["sections"]  # type: ignore[operator]
    assert len(read_register(register).entries) == 1
    assert planned(tmp_path) == []

    settings = tmp_path / "campaign" / "campaign.yaml"
    written = settings.read_text(encoding="utf-8")
    settings.write_text(
        written.replace("comparison:\n", "comparison:\n  equivalence_margin: 1.5\n")
    )
    sheet = tmp_path / "campaign" / "build-sheet.csv"
    rows = sheet.read_text(encoding="utf-8").splitlines()
    rows = [f"{rows[0]},included,exclusion_reason", *(f"{row},yes," for row in rows[1:])]
    rows[1] = rows[1].removesuffix("yes,") + "no,leak"
    sheet.write_text("\n".join(rows) + "\n", encoding="utf-8")
    run(tmp_path)
    told = page_one(tmp_path)
    assert "register" in told["sections"]  # type: ignore[operator]
    assert told["since_report"]["sentences"] == [  # type: ignore[index]
        "Settings: margin of equivalence 1.25, now 1.5, after a verdict was reported.",
        "Build sheet: c00000 excluded (leak), after its end was reported.",
    ]
    late = told["grounds"][0]["late"]  # type: ignore[index]
    assert "c00000 excluded (leak)" in late
    assert "margin of equivalence 1.25, now 1.5" in late
    assert len(read_register(register).entries) == 2
    assert planned(tmp_path) == []

    before, lines = (results / "report.pdf").read_bytes(), register.read_bytes()
    run(tmp_path, "--forcerun", "record")
    assert (results / "report.pdf").read_bytes() == before
    assert register.read_bytes() == lines
    assert (results / "archive" / "data" / "register.jsonl").read_bytes() == lines
    assert main(["verify", str(results / "archive")]) == 0
    assert main(["rerun", str(results / "archive")]) == 0

    register.write_bytes(b"{half an entry\n" + lines)
    settings.write_text(settings.read_text().replace("1.5\n", "1.4\n"))
    run(tmp_path)
    said = page_one(tmp_path)["since_report"]["sentences"]  # type: ignore[index]
    assert "1 line of the register of reports can't be read; the findings name it." in said
    known = read_register(register)
    assert (len(known.entries), [line for line, _ in known.damaged]) == (3, [1])
    assert planned(tmp_path) == []
