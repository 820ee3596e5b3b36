"""What `trivet check` says beforehand of results that a campaign would leave out."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.cli.main import main


def said(folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What the check of a right campaign prints."""
    assert main(["check", str(folder)]) == 0
    return capsys.readouterr().out


def changed(folder: Path, old: str, new: str) -> None:
    """Replace a line of the settings."""
    path = folder / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_campaign_that_leaves_nothing_out_has_no_caution(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every pattern has files, every file a pattern, and the anchor fits: not a word."""
    assert "caution: " not in said(campaign_folder, capsys)


def test_patterns_without_files_and_files_without_pattern_are_told(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Spectra named otherwise match nothing: the pattern and the files left over are said."""
    changed(
        campaign_folder,
        "raw:\n",
        "raw:\n  impedance: [{files: 'raw/{cell}_eis_{pair}.csv', layout: bdf}]\n",
    )
    (campaign_folder / "raw" / "notes.txt").write_text("x\n", encoding="utf-8")
    assert main(["check", str(campaign_folder)]) == 2
    printed = capsys.readouterr()
    assert "caution: no file matches raw.impedance: 'raw/{cell}_eis_{pair}.csv'" in printed.out
    assert "1 file in 'raw' matched by no pattern and no cell, such as 'notes.txt'" in printed.out
    assert "there are 'raw/notes.txt' that no pattern takes" in printed.err


def test_without_a_known_potential_those_that_materials_allow_are_told(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A sloping positive has no plateau; check says beforehand what may stand in for it."""
    changed(campaign_folder, "material: LFP", "material: NMC")
    printed = said(campaign_folder, capsys)
    assert "no known potential is chosen" in printed
    assert "Anchors for NMC and graphite: 'graphite plateau', 'none'." in printed


def test_files_without_a_pattern_are_counted_by_folder_with_the_piece_that_fails(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that no pattern starts from is looked into too; the nearest pattern says why not."""
    changed(
        campaign_folder,
        "raw:\n",
        "raw:\n  impedance: [{files: 'raw/eis/{cell} cyc{cycle}.csv', layout: bdf, pair: cell}]\n",
    )
    for name in ("eis/A1 cyc.csv", "eis/A1 cycle2.csv", "other/A1.txt"):
        path = campaign_folder / "raw" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x\n", encoding="utf-8")
    main(["check", str(campaign_folder)])
    printed = capsys.readouterr().out
    assert "2 files in 'raw/eis' matched by no pattern and no cell, such as 'A1 cyc.csv'" in printed
    assert "fits up to 'raw/eis/A1 cyc' and wants '{cycle}' before '.csv'" in printed
    assert "1 file in 'raw/other' matched by no pattern and no cell, such as 'A1.txt'" in printed


def test_comments_that_wait_for_a_decision_are_listed(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line that is marked and not decided has a value, so only the mark shows it."""
    changed(campaign_folder, "raw:\n", "raw:  # decide: which files\n")
    assert "has comments with 'decide' on line" in said(campaign_folder, capsys)


def test_what_was_heard_of_the_bench_log_is_told(
    campaign_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Events with their causes and reasons are counted; a stop without a reason is named."""
    (campaign_folder / "bench-log.csv").write_text(
        "time,cell,event,cause,reason,note\n"
        "2026-03-02T12:00,A1,plated,,,\n2026-03-02T12:10,A2,plated,,,\n"
        "2026-03-20T12:00,A1,failed,leak,,\n"
        "2026-03-21T12:00,A2,stopped,,,channel needed for the next batch\n",
        encoding="utf-8",
    )
    printed = said(campaign_folder, capsys)
    assert "  bench log: plated 2, failed 1 (leak 1), stopped 1\n" in printed
    assert "caution: the bench log gives no reason for the stop of A2 (line 5)" in printed
    assert "Reasons: planned, channel needed, equipment, looked bad." in printed
    with (campaign_folder / "bench-log.csv").open("a", encoding="utf-8") as log:
        log.write("2026-03-22T12:00,A2,resumed,,,\n")
    assert "gives no reason" not in said(campaign_folder, capsys)
