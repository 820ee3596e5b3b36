"""Wrong settings, build sheets and bench logs: all problems at once, with file and line."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.campaign.folder import read_campaign
from trivet.errors import InputError


def spoil(path: Path, old: str, new: str) -> None:
    """Replace a piece of a file that must be there."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def problems_of(folder: Path) -> list[str]:
    """Problems of a folder, as printed."""
    with pytest.raises(InputError, match="nothing was run") as caught:
        read_campaign(folder)
    return [str(problem) for problem in caught.value.problems]


def test_a_right_campaign_is_read(campaign_folder: Path) -> None:
    """Cells come in the order of the sheet, with times in Unix seconds and their log entries."""
    campaign = read_campaign(campaign_folder)
    first, second = campaign.cells
    assert (first.cell, second.cell) == ("A1", "A2")
    # 2026-03-02 10:00 in Berlin is 09:00 UTC (standard time)
    assert first.clock_start_s == 1772442000.0
    assert [entry.event for entry in first.log] == ["plated"]
    assert second.log == ()


def test_three_mistakes_come_in_one_message(campaign_folder: Path) -> None:
    """A misspelt key, a wrong type and a wrong choice: all at once, with lines and near names."""
    settings = campaign_folder / "campaign.yaml"
    spoil(settings, "  title: A trial", "  titel: A trial")
    spoil(settings, "capacity_basis_mAh: 2.0", "capacity_basis_mAh: two")
    spoil(settings, "material: graphite", "material: grafite")
    found = problems_of(campaign_folder)
    assert found == [
        "campaign.yaml, line 3: unknown setting 'titel' in 'campaign'. Did you mean 'title'?",
        "campaign.yaml, line 13: 'electrodes.negative.material' is 'grafite'; it must be 'LFP', "
        "'NMC', 'NCA', 'LCO', 'LMO', 'LTO', 'graphite', 'lithium' or 'other'. Did you mean "
        "'graphite'?",
        "campaign.yaml, line 15: 'cycling.capacity_basis_mAh' is 'two'; it must be a number.",
    ]


def test_mistakes_in_all_three_files_come_together(campaign_folder: Path) -> None:
    """A wrong setting does not hide what is wrong with the sheet and the log."""
    spoil(campaign_folder / "campaign.yaml", "material: LFP", "material: LPF")
    spoil(campaign_folder / "build-sheet.csv", "A2,A,bead", "A1,,bead")
    spoil(campaign_folder / "bench-log.csv", "A1,plated", "A9,platet")
    found = "\n".join(problems_of(campaign_folder))
    assert "campaign.yaml, line 12" in found
    assert "build-sheet.csv, line 3: cell 'A1' has no batch." in found
    assert "build-sheet.csv, line 3: cell 'A1' is listed twice; first on line 2." in found
    assert "bench-log.csv, line 2: cell 'A9' is not in the build sheet." in found
    assert "bench-log.csv, line 2: 'platet' is no event. Did you mean 'plated'?" in found


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("time_zone: Europe/Berlin", "time_zone: Europe/Berlinn", "is no time zone"),
        ("title: A trial", "title: A trial\n  data_cut: 15.5.2026", "is no date"),
        ("title: A trial", "title: A trial\n  id: other", "'id' is given twice; first on line 2"),
        ("raw/{cell}.csv", "raw/{sell}.csv", "'{sell}' is no placeholder. Did you mean 'cell'"),
        ("raw/{cell}.csv", "raw/all.csv", "must have {cell}."),
        ("control: plain", "control: decide", "'comparison.factors[0].control' is still 'decide'"),
        ("raw/{cell}.csv", "../raw/{cell}.csv", "must be a path below the campaign folder"),
        (
            "- files: raw/{cell}.csv",
            "- {files: 'raw/{cell}.csv', layout: bench}",
            "layout 'bench' is not defined",
        ),
        ("lower_voltage_V: 2.5", "lower_voltage_V: 4.5", "it must be below 'upper_voltage_V'"),
        ("ageing_rate: 0.5", "ageing_rate: 0.05", "it must be below 'ageing_rate'"),
        ("ageing_rate: 0.5", "ageing_rate: -0.5", "it must be greater than 0"),
        ("factor: seal,", "factor: sael,", "Did you mean 'seal'?"),
        ("control: plain", "control: plan", "no cell has 'plan' as its seal. Did you mean 'plain'"),
        ("  id: trial\n", "", "'campaign.id' is missing (short name"),
        ("  id: trial\n", "  id: My Trial\n", "it must match pattern"),
        ("capacity_basis_mAh: 2.0", "capacity_basis_mAh: true", "it must be a number"),
        ("factors: [seal]", "factors: seal", "it must be a list"),
        ("  factors:\n    - {factor: seal, control: plain}", "  factors: []", "at least 1 item"),
        ("raw:\n  cycling:\n    - files: raw/{cell}.csv", "raw: {}", "no raw files are declared"),
        (
            "comparison:",
            "trust: {offset_suspect_mV: 30.0}\ncomparison:",
            "'trust.offset_suspect_mV' is 30; it must be below 'offset_lost_mV' (20)",
        ),
        ("campaign:", "campaign: [", "is not YAML"),
    ],
)
def test_wrong_settings_are_named(campaign_folder: Path, old: str, new: str, message: str) -> None:
    """Each kind of wrong setting gives a message with what, value and what to do."""
    spoil(campaign_folder / "campaign.yaml", old, new)
    assert any(message in problem for problem in problems_of(campaign_folder))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("cell,batch", "cell,batsch", "column 'batch' is missing"),
        ("A1,A,plain", ",A,plain", "the row has no cell id"),
        ("A1,A,plain", "A/1,A,plain", "can't name a folder"),
        ("A1,A,plain", "../A1,A,plain", "can't name a folder"),
        ("A1,A,plain", "..,A,plain", "can't name a folder"),
        ("A1,A,plain", "<b>,A,plain", "can't name a folder"),
        ("A1,A,plain", "-rf,A,plain", "can't name a folder"),
        ("A1,A,plain", "A\x1b[2J,A,plain", "can't name a folder"),
        ("A1,A,plain", f"{'long' * 50},A,plain", "has 200 bytes, over 120"),
        ("A2,A,bead", "a1,A,bead", "differs from 'A1' in case only"),
        ("A1,A,plain,2026-03-02T10:00", "A1,A,plain", "has 3 values where the header has 4"),
        (
            "2026-03-02T10:10",
            "2.3.2026",
            "'crimped_at' of cell 'A2' is '2.3.2026': is it 2 March or 3 February?",
        ),
        (
            "crimped_at\nA1,A,plain,2026-03-02T10:00",
            "crimped_at,included\nA1,A,plain,2026-03-02T10:00,maybe",
            "it must be yes or no",
        ),
        (
            "crimped_at\nA1,A,plain,2026-03-02T10:00",
            "crimped_at,included\nA1,A,plain,2026-03-02T10:00,no",
            "is excluded without a reason",
        ),
        (
            "crimped_at\nA1,A,plain,2026-03-02T10:00",
            'crimped_at,positive_mass_mg\nA1,A,plain,2026-03-02T10:00,"9,8,1"',
            "no number",
        ),
        ("A2,A,bead", "A2,A,", "has no seal"),
    ],
)
def test_wrong_build_sheets_are_named(
    campaign_folder: Path, old: str, new: str, message: str
) -> None:
    """Each kind of wrong row gives a message with its line."""
    spoil(campaign_folder / "build-sheet.csv", old, new)
    assert any(message in problem for problem in problems_of(campaign_folder))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("2026-03-03T09:00", "yesterday", "'yesterday', no time"),
        ("plated,,0.03", "failed,,0.03", "'' is not a cause of a failure"),
        ("plated,,0.03", "failed,shot,0.03", "is not a cause of a failure"),
        ("plated,,0.03", "plated,,lots", "'charge_mAh' is 'lots', no number"),
        ("plated,,0.03", "plated,,-1", "it can't be negative"),
        (
            "plated,,0.03",
            "plated,,1e308",
            "'charge_mAh' is 1e308, beyond what a coin cell can have",
        ),
        ("mass_mg", "mas_mg", "unknown column 'mas_mg'. Did you mean 'mass_mg'?"),
    ],
)
def test_wrong_bench_logs_are_named(
    campaign_folder: Path, old: str, new: str, message: str
) -> None:
    """Each kind of wrong entry gives a message with its line."""
    spoil(campaign_folder / "bench-log.csv", old, new)
    assert any(message in problem for problem in problems_of(campaign_folder))


def test_missing_files_are_named(campaign_folder: Path) -> None:
    """A missing build sheet, log, settings file or folder is said, never a traceback."""
    (campaign_folder / "bench-log.csv").unlink()
    assert any("bench-log.csv: can't be read" in p for p in problems_of(campaign_folder))
    (campaign_folder / "build-sheet.csv").unlink()
    assert any("build-sheet.csv: can't be read" in p for p in problems_of(campaign_folder))
    (campaign_folder / "campaign.yaml").unlink()
    assert any("campaign.yaml: can't be read" in p for p in problems_of(campaign_folder))
    assert any("is no folder" in p for p in problems_of(campaign_folder / "none"))


def test_ids_stay_text(campaign_folder: Path) -> None:
    """A cell id with leading zeros is text, never a number."""
    spoil(campaign_folder / "build-sheet.csv", "A2,", "007,")
    assert read_campaign(campaign_folder).cells[1].cell == "007"


def test_semicolons_and_comments_are_understood(campaign_folder: Path) -> None:
    """A sheet saved with semicolons reads the same; lines with # are comments."""
    sheet = campaign_folder / "build-sheet.csv"
    before = read_campaign(campaign_folder).cells
    text = sheet.read_text(encoding="utf-8").replace(",", ";")
    sheet.write_text("\ufeff# as built; in March\n" + text, encoding="utf-8")
    assert read_campaign(campaign_folder).cells == before


def test_what_is_to_be_decided_is_said_once(campaign_folder: Path) -> None:
    """A control that waits for a decision is no misspelt group as well."""
    spoil(campaign_folder / "campaign.yaml", "control: plain", "control: decide")
    (problem,) = problems_of(campaign_folder)
    assert "is still 'decide'" in problem
