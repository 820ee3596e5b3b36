"""What people type in sheets: slips are told before any work, with file, line and value."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.campaign.folder import read_campaign
from trivet.campaign.typed_values import number_of, number_problem
from trivet.errors import InputError


def problems(folder: Path) -> str:
    """Everything that is wrong with a campaign folder."""
    with pytest.raises(InputError) as wrong:
        read_campaign(folder)
    return str(wrong.value)


def change(folder: Path, file: str, old: str, new: str) -> None:
    """Replace a text in a sheet."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_an_open_quote_in_the_bench_log_is_named_with_its_line(campaign_folder: Path) -> None:
    """A logged failure does not become part of the note above it."""
    path = campaign_folder / "bench-log.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    head = lines[0].split(",")
    note = ",".join(["2026-03-03T10:00", "A1", "note", *[""] * (len(head) - 4), '"left open'])
    failed = ",".join(["2026-03-04T10:00", "A1", "failed", "leak", *[""] * (len(head) - 4)])
    path.write_text("\n".join([*lines, note, failed, failed]) + "\n", encoding="utf-8")
    said = problems(campaign_folder)
    assert f"bench-log.csv, line {len(lines) + 1}" in said
    assert "quote" in said


def test_an_open_quote_in_the_build_sheet_hides_no_cell(campaign_folder: Path) -> None:
    """Three cells do not become one."""
    path = campaign_folder / "build-sheet.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("A1,"))
    lines[first] = lines[first].replace("A1,", 'A1,"', 1)
    path.write_text("\n".join(lines) + '\nZ9,"1,x\n', encoding="utf-8")
    said = problems(campaign_folder)
    assert f"build-sheet.csv, line {first + 1}" in said


@pytest.mark.parametrize("file", ["build-sheet.csv", "bench-log.csv"])
def test_an_open_quote_above_the_header_swallows_nothing(campaign_folder: Path, file: str) -> None:
    """A title with a quote that is left open stands above the same header and rows."""
    before = read_campaign(campaign_folder).cells
    path = campaign_folder / file
    path.write_text('my "sheet\n' + path.read_text(encoding="utf-8"), encoding="utf-8")
    after = read_campaign(campaign_folder).cells
    assert [facts.values for facts in after] == [facts.values for facts in before]
    assert [len(facts.log) for facts in after] == [len(facts.log) for facts in before]


@pytest.mark.parametrize("year", ["0001", "9999", "1899"])
def test_a_year_that_cannot_be_is_asked_about(campaign_folder: Path, year: str) -> None:
    """Crimped in the year 1 is a slip, and would hang the ticks of an axis."""
    change(campaign_folder, "build-sheet.csv", "2026-", f"{year}-")
    assert f"the year {int(year)} can't be of this campaign" in problems(campaign_folder)


def test_a_time_ten_years_before_the_others_is_asked_about(campaign_folder: Path) -> None:
    """2016 for 2026 in one time of a row, where the row's other times say 2026."""
    text = (campaign_folder / "build-sheet.csv").read_text(encoding="utf-8")
    head, *rows = [line for line in text.splitlines() if not line.startswith("#")]
    rows = [row + ("," + "2026-03-02T12:00") for row in rows]
    rows[0] = rows[0].replace("2026-", "2016-", 1)
    (campaign_folder / "build-sheet.csv").write_text(
        "\n".join([head + ",sealed_at", *rows]) + "\n", encoding="utf-8"
    )
    said = problems(campaign_folder)
    assert "2016" in said
    assert "Is the year right?" in said


@pytest.mark.parametrize("value", ["nan", "inf", "0", "-3", "1e308"])
def test_a_mass_that_cannot_be_is_refused(campaign_folder: Path, value: str) -> None:
    """Nothing is divided by 0, and nothing without end enters a table."""
    text = (campaign_folder / "build-sheet.csv").read_text(encoding="utf-8")
    head, *rows = [line for line in text.splitlines() if not line.startswith("#")]
    rows = [f"{row},{value if place == 0 else '12.1'}" for place, row in enumerate(rows)]
    (campaign_folder / "build-sheet.csv").write_text(
        "\n".join([head + ",positive_active_mass_mg", *rows]) + "\n", encoding="utf-8"
    )
    assert "'positive_active_mass_mg' of cell" in problems(campaign_folder)


@pytest.mark.parametrize("sign", ["\x1b[31m", "\x00", "\u2028", "\x07"])
def test_signs_that_steer_a_terminal_are_refused_and_not_printed(
    campaign_folder: Path, sign: str
) -> None:
    """Escapes, bells and odd separators are named by their code."""
    change(campaign_folder, "build-sheet.csv", "plain", f"pl{sign}ain")
    said = problems(campaign_folder)
    assert "signs that can't be printed" in said or "can't be read" in said
    assert sign not in said


def test_a_field_without_end_is_refused(campaign_folder: Path) -> None:
    """Beyond what a csv field may have there is a message, and no traceback."""
    change(campaign_folder, "build-sheet.csv", "plain", "p" * 140_000)
    assert "build-sheet.csv, line" in problems(campaign_folder)


@pytest.mark.parametrize("block", ["build_sheet", "bench_log"])
def test_sheets_do_not_lie_outside_the_campaign(campaign_folder: Path, block: str) -> None:
    """A path that leads out would be written outside the results by the archive."""
    text = (campaign_folder / "campaign.yaml").read_text(encoding="utf-8")
    name = "build-sheet.csv" if block == "build_sheet" else "bench-log.csv"
    if f"{block}:" in text:
        head, _, rest = text.partition(f"{block}:")
        text = f"{head}{block}:\n  file: ../{name}{rest}" if rest.startswith("\n") else text
    else:
        text += f"\n{block}: {{file: ../{name}}}\n"
    (campaign_folder / "campaign.yaml").write_text(text, encoding="utf-8")
    assert "must be a file below the campaign folder" in problems(campaign_folder)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("13.05", 13.05), (" 4 ", 4.0), ("-1e-3", -0.001), ("", None), ("12,5", None),
        ("12 mm", None), ("1_200", None), ("nan", None), ("inf", None),
    ],
)  # fmt: skip
def test_what_is_a_number_is_decided_in_one_place(text: str, number: float | None) -> None:
    """A text that is no number to one reader is none to any, and is refused with its line."""
    assert number_of(text) == number
    wrong = number_problem("sheet.csv", 2, "'mass'", text, sign="any")
    assert (wrong is None) == (number is not None)


def test_measured_columns_are_numbers_from_the_sheet_on(campaign_folder: Path) -> None:
    """A column that ends with a unit is typed as the sheet is read; others stay as written."""
    change(campaign_folder, "build-sheet.csv", "crimped_at", "crimped_at,mesh_diameter_mm,note")
    change(campaign_folder, "build-sheet.csv", "10:00", "10:00,4.0,4.0")
    change(campaign_folder, "build-sheet.csv", "10:10", "10:10,,")
    first, second = read_campaign(campaign_folder).cells
    assert first.numbers == {"mesh_diameter_mm": 4.0}
    assert (first.values["mesh_diameter_mm"], first.values["note"]) == ("4.0", "4.0")
    assert second.numbers == {}
