"""Build sheet and bench log as people keep them: workbooks, delimiters, dates, names of columns."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import openpyxl
import pytest

from trivet.campaign.folder import read_campaign
from trivet.campaign.near_groups import near
from trivet.errors import InputError
from trivet.schema.cell_facts import CellFacts

HEADER = ("cell", "batch", "seal", "crimped_at", "positive_active_mass_mg")
ROWS = (
    ("A1", "A", "PP tube", "2026-03-02T10:00", "9.8"),
    ("A2", "A", "bead", "2026-03-20T10:10", "10.25"),
)


def settle(folder: Path, block: str, more: str) -> None:
    """Add lines to a block of the settings; the control is a value of the sheet."""
    path = folder / "campaign.yaml"
    text = path.read_text(encoding="utf-8").replace("control: plain", "control: PP tube")
    if f"{block}:\n" not in text:
        text += f"{block}:\n"
    path.write_text(text.replace(f"{block}:\n", f"{block}:\n{more}", 1), encoding="utf-8")


def text(*rows: tuple[str, ...], delimiter: str = ",") -> str:
    """Rows as delimited text."""
    return "".join(f"{delimiter.join(row)}\n" for row in rows)


def sheet(folder: Path, content: str, more: str = "") -> None:
    """Write the build sheet and what the settings say of it."""
    (folder / "build-sheet.csv").write_text(content, encoding="utf-8")
    settle(folder, "build_sheet", more)


def cells(folder: Path) -> tuple[CellFacts, ...]:
    """Cells that are read without any problem."""
    return read_campaign(folder).cells


def problems(folder: Path) -> list[str]:
    """Problems, as printed."""
    with pytest.raises(InputError) as caught:
        read_campaign(folder)
    return [str(problem) for problem in caught.value.problems]


def as_right(found: tuple[CellFacts, ...]) -> None:
    """Both cells, their masses and their times on the clock of Berlin, an hour before UTC."""
    assert [cell.values["positive_active_mass_mg"] for cell in found] == ["9.8", "10.25"]
    assert [cell.clock_start_s for cell in found] == [
        datetime(2026, 3, day, 9, minute, tzinfo=UTC).timestamp()
        for day, minute in ((2, 0), (20, 10))
    ]
    assert [cell.values["seal"] for cell in found] == ["PP tube", "bead"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("edge", ["", "{0}{0}"])
def test_any_delimiter_is_read_with_empty_columns_at_the_edge(
    campaign_folder: Path, delimiter: str, edge: str
) -> None:
    """Comma, semicolon and tab; columns without name and value behind the table say nothing."""
    content = text(HEADER, *ROWS, delimiter=delimiter)
    sheet(campaign_folder, content.replace("\n", f"{edge.format(delimiter)}\n"))
    as_right(cells(campaign_folder))


def test_a_decimal_comma_and_dates_of_a_spreadsheet_are_read(campaign_folder: Path) -> None:
    """`9,8` and `20.03.2026 10:10`, whose day proves the order of its column."""
    rows = (
        ("A1", "A", "PP tube", "02.03.2026 10:00", "9,8"),
        ("A2", "A", "bead", "20.03.2026 10:10", "10,25"),
    )
    sheet(campaign_folder, text(HEADER, *rows, delimiter=";"))
    as_right(cells(campaign_folder))


@pytest.mark.parametrize(
    ("first", "second"),
    [("3/2/2026 10:00", "3/20/2026 10:10 AM"), ("03-02-2026 10:00:00", "03-20-2026, 10:10")],
)
def test_the_month_first_is_proved_too(campaign_folder: Path, first: str, second: str) -> None:
    """A second number above 12 is the day."""
    rows = (("A1", "A", "PP tube", first, "9.8"), ("A2", "A", "bead", second, "10.25"))
    sheet(campaign_folder, text(HEADER, *rows, delimiter=";"))
    as_right(cells(campaign_folder))


def test_dates_that_no_day_proves_are_asked_about_and_can_be_declared(
    campaign_folder: Path,
) -> None:
    """File, line, cell and value, both readings, and what to declare; declared, it is read."""
    rows = (
        ("A1", "A", "PP tube", "03.03.2026 10:00", "9.8"),
        ("A2", "A", "bead", "03.02.2026 10:10", "10.25"),
    )
    sheet(campaign_folder, text(HEADER, *rows))
    assert problems(campaign_folder) == [
        "build-sheet.csv, line 3: 'crimped_at' of cell 'A2' is '03.02.2026 10:10': is it "
        "3 February or 2 March? No day above 12 tells. Declare 'build_sheet.dates' as 'day first' "
        "or 'month first'."
    ]
    settle(campaign_folder, "build_sheet", "  dates: day first\n")
    assert (
        cells(campaign_folder)[1].clock_start_s
        == datetime(2026, 2, 3, 9, 10, tzinfo=UTC).timestamp()
    )


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("20.03.26", "a year of two digits"),
        ("31.02.2026", "'31.02.2026', no time"),
        ("3.20.2026", "with the day first, but line 3 has it second"),
    ],
)
def test_dates_that_can_not_be_meant_are_refused(
    campaign_folder: Path, value: str, says: str
) -> None:
    """Short years, days that no calendar has, and two orders in a column: with line and cell."""
    rows = (
        ("A1", "A", "PP tube", "20.03.2026", "9.8"),
        ("A2", "A", "bead", value, "10.25"),
    )
    sheet(campaign_folder, text(HEADER, *rows))
    (found,) = problems(campaign_folder)
    assert found.startswith("build-sheet.csv, line ")
    assert "of cell 'A" in found
    assert says in found


def test_a_comma_that_may_part_thousands_is_asked_about(campaign_folder: Path) -> None:
    """`1,250` alone may be 1.25 or 1250; beside `9,8` in its column it is 1.25."""
    rows = ((*ROWS[0][:4], "8"), (*ROWS[1][:4], "1,250"))
    sheet(campaign_folder, text(HEADER, *rows, delimiter=";"))
    assert problems(campaign_folder) == [
        "build-sheet.csv, line 3: 'positive_active_mass_mg' of cell 'A2' is '1,250': is it 1.250 "
        "or 1250? Declare 'build_sheet.decimal' as ',' or '.', or write it without a comma."
    ]
    rows = ((*ROWS[0][:4], "9,8"), rows[1])
    sheet(campaign_folder, text(HEADER, *rows, delimiter=";"))
    assert cells(campaign_folder)[1].values["positive_active_mass_mg"] == "1.250"


def book(path: Path, sheets: dict[str, list[tuple[object, ...]]]) -> None:
    """Write a workbook with openpyxl."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for title, rows in sheets.items():
        page = made.create_sheet(title)
        for row in rows:
            page.append(row)
    made.save(path)


def test_sheet_and_log_are_read_from_one_workbook(campaign_folder: Path) -> None:
    """Dates as dates, numbers as numbers, a title above the table; each sheet by its columns."""
    built = [
        ("Cells as built",),
        (),
        HEADER,
        ("A1", "A", "PP tube", datetime(2026, 3, 2, 10), 9.8),
        ("A2", "A", "bead", datetime(2026, 3, 20, 10, 10), 10.25),
    ]
    log = [("time", "cell", "event", "charge_mAh"), (datetime(2026, 3, 3, 9), "A1", "plated", 0.03)]
    book(campaign_folder / "lab.xlsx", {"built": built, "log": log, "notes": [("x", 1)]})
    settle(campaign_folder, "build_sheet", "  file: lab.xlsx\n")
    settle(campaign_folder, "bench_log", "  file: lab.xlsx\n")
    found = cells(campaign_folder)
    as_right(found)
    assert [(entry.event, entry.charge_mAh) for entry in found[0].log] == [("plated", 0.03)]


def test_a_defect_of_a_workbook_names_file_sheet_row_cell_and_value(campaign_folder: Path) -> None:
    """The row is that of the spreadsheet, the blank ones above it counted."""
    rows = [("Cells as built",), (), HEADER, (*ROWS[0][:4], 9.8), (*ROWS[1][:4], "10 g")]
    book(campaign_folder / "lab.xlsx", {"built": rows})
    settle(campaign_folder, "build_sheet", "  file: lab.xlsx\n")
    (found,) = problems(campaign_folder)
    assert found.startswith(
        "lab.xlsx (sheet 'built'), line 5: 'positive_active_mass_mg' of cell 'A2' is '10 g'"
    )


def test_two_sheets_that_fit_and_what_is_no_workbook_are_refused(campaign_folder: Path) -> None:
    """Which of two sheets counts is not guessed; text that is named .xlsx says so."""
    rows: list[tuple[object, ...]] = [HEADER, *ROWS]
    book(campaign_folder / "lab.xlsx", {"old": rows, "new": rows})
    settle(campaign_folder, "build_sheet", "  file: lab.xlsx\n")
    (found,) = problems(campaign_folder)
    assert "several sheets" in found
    assert "old, new" in found
    (campaign_folder / "lab.xlsx").write_text(text(HEADER, *ROWS), encoding="utf-8")
    assert "no whole workbook" in problems(campaign_folder)[0]


def test_own_names_of_columns_are_taken(campaign_folder: Path) -> None:
    """`columns` of both blocks names the columns of the laboratory; it may keep more of them."""
    own = ("Cell ID", "Lot", "Sealing", "Crimped", "Mass  (mg)")
    sheet(
        campaign_folder,
        text(own, *ROWS),
        "  columns: {cell: Cell ID, batch: Lot, seal: Sealing, crimped_at: Crimped,\n"
        "    positive_active_mass_mg: Mass (mg)}\n",
    )
    (campaign_folder / "bench-log.csv").write_text(
        "When;Cell;What;Who\n13.03.2026 09:00;A1;plated;EX\n", encoding="utf-8"
    )
    settle(campaign_folder, "bench_log", "  columns: {time: When, cell: Cell, event: What}\n")
    found = cells(campaign_folder)
    as_right(found)
    (entry,) = found[0].log
    assert entry.time_s == datetime(2026, 3, 13, 8, tzinfo=UTC).timestamp()


def test_own_names_that_are_not_there_are_named_with_the_near_one(campaign_folder: Path) -> None:
    """The setting, the column it names, and the one of the file that may be meant."""
    own = ("Cell ID", *HEADER[1:])
    sheet(campaign_folder, text(own, *ROWS), "  columns: {cell: Cel ID}\n")
    assert (
        "build-sheet.csv, line 1: column 'Cel ID', which 'build_sheet.columns' names for 'cell', "
        "is missing; found: Cell ID, batch, seal, crimped_at, positive_active_mass_mg. Did you "
        "mean 'Cell ID'?"
    ) in problems(campaign_folder)


def test_names_for_no_column_and_one_column_for_two_names_are_refused(
    campaign_folder: Path,
) -> None:
    """A key that the log does not know, and a name that is given twice."""
    settle(campaign_folder, "build_sheet", "  columns: {cell: ID, batch: ID}\n")
    settle(campaign_folder, "bench_log", "  columns: {tme: When}\n")
    found = "\n".join(problems(campaign_folder))
    assert "column 'ID' is given for several names" in found
    assert "'tme' is no column of the log. Did you mean 'time'?" in found


def test_names_of_groups_that_are_nearly_equal_are_asked_about(campaign_folder: Path) -> None:
    """'PP tupe' beside 'PP tube': line, cell, value, and how to say that both are meant."""
    rows = (*ROWS, *((f"A{n}", "A", "PP tube", "2026-03-02T10:00", "9.8") for n in (3, 4)))
    rows = (*rows, ("A5", "A", "PP tupe", "2026-03-02T10:00", "9.8"))
    sheet(campaign_folder, text(HEADER, *rows))
    assert problems(campaign_folder) == [
        "build-sheet.csv, line 6: 'seal' of cell 'A5' is 'PP tupe', and 'PP tube' of 3 others: is "
        "it the same? Write it alike, or list 'PP tupe' in 'build_sheet.as_meant'."
    ]
    settle(campaign_folder, "build_sheet", "  as_meant: [PP tupe]\n")
    assert len(cells(campaign_folder)) == 5


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        *(
            ("PP tube", other, True)
            for other in ("PP tupe", "PP tueb", "PP  Tube", "pp-tube", "PP tubes")
        ),
        *(("PP tube", other, False) for other in ("PP tape", "PE tube", "PP tube 2", "PP", "tube")),
        ("1+1", "1-1", False),
        ("25 um", "20 um", False),
        ("lot A", "lot B", False),
        ("wet", "dry", False),
    ],
)
def test_which_names_are_near(one: str, other: str, same: bool) -> None:
    """One slip in a word is near; other numbers, short words and other words are not."""
    assert near(one, other) is near(other, one) is same


def test_names_below_a_title_and_times_in_two_columns(campaign_folder: Path) -> None:
    """A title, a blank line, dates beside times of day, `y` for yes, a unit behind a number."""
    rows = [
        ("Cell book",),
        (),
        ("Cell ID", "Lot", "Seal", "Built on", "Crimped (time)", "Mass +", "OK?"),
        ("A1", "A", "PP tube", datetime(2026, 3, 2), "10:00", "9,8 mg", "y"),
        ("A2", "A", "bead", "20.03.2026", "10:10", "10,25", "Yes"),
    ]
    book(campaign_folder / "lab.xlsx", {"built": rows})
    columns = (
        "  file: lab.xlsx\n  columns: {cell: Cell ID, batch: Lot, seal: Seal, included: 'OK?',\n"
        "    crimped_at: [Built on, Crimped (time)], positive_active_mass_mg: Mass +}\n"
    )
    settle(campaign_folder, "build_sheet", columns)
    found = cells(campaign_folder)
    as_right(found)
    assert [facts.included for facts in found] == [True, True]


def test_a_sheet_without_its_names_is_one_problem_and_not_twenty(campaign_folder: Path) -> None:
    """Below a title stand other names than are wanted: said once a name, with those found."""
    rows = [
        ("Cell book",),
        (),
        ("Cell ID", "Lot", "Seal"),
        ("A1", "A", "tape"),
        ("A2", "A", "tape"),
    ]
    book(campaign_folder / "lab.xlsx", {"built": rows})
    settle(campaign_folder, "build_sheet", "  file: lab.xlsx\n")
    found = problems(campaign_folder)
    assert "line 3: column 'cell' is missing; found: Cell ID, Lot, Seal" in found[0]
    assert not any("has no name" in one for one in found)


def test_a_log_in_own_words_with_numbers_among_remarks(campaign_folder: Path) -> None:
    """Date and time apart, own words for events and causes, a mass in the column of remarks."""
    log = [
        ("Bench log of the study",),
        ("Date", "Time", "Cell", "What", "Why", "Remarks"),
        ("13.03.2026", "09:00", "A1", "On the balance", "", "3412,2 mg"),
        ("13.03.2026", "09:30", "A1", "seen", "", "a bit wet"),
        ("14.03.2026", "09:00", "A2", "dead", "wet at the lead", "bagged"),
        ("14.03.2026", "09:10", "A2", "Wet at the lead", "", ""),
        ("14.03.2026", "09:20", "A2", "channel needed", "", ""),
    ]
    sheet(campaign_folder, text(HEADER, *ROWS))
    book(campaign_folder / "log.xlsx", {"log": log})
    settle(
        campaign_folder,
        "bench_log",
        "  file: log.xlsx\n  columns: {time: [Date, Time], cell: Cell, event: What, cause: Why,\n"
        "    note: Remarks, mass_mg: Remarks}\n"
        "  words: {weighed: [on the balance], note: [seen], failed: [dead],\n"
        "    leak: [wet at the lead]}\n",
    )
    first, second = cells(campaign_folder)
    assert [(one.event, one.mass_mg) for one in first.log] == [("weighed", 3412.2), ("note", None)]
    assert first.log[1].note == "a bit wet"
    assert [(one.event, one.cause or one.reason, one.note) for one in second.log] == [
        ("failed", "leak", "bagged"),
        ("failed", "leak", ""),
        ("stopped", "channel needed", ""),
    ]


def test_words_that_stand_for_nothing_or_for_two_things_are_refused(campaign_folder: Path) -> None:
    """A slip in a word of ours, and a word of theirs given twice."""
    settle(
        campaign_folder, "bench_log", "  words: {wieghed: [scale], plated: [new], failed: [New]}\n"
    )
    found = problems(campaign_folder)
    assert any(
        "'wieghed' is no event, cause or reason. Did you mean 'weighed'?" in p for p in found
    )
    assert any("'new' is given for several words" in one for one in found)


def test_names_may_stand_fifty_rows_below_the_top(campaign_folder: Path) -> None:
    """A sheet with a page of remarks above its table is read as without them."""
    remarks: list[tuple[object, ...]] = [(f"remark {number}",) for number in range(45)]
    book(campaign_folder / "lab.xlsx", {"built": [*remarks, HEADER, *ROWS]})
    settle(campaign_folder, "build_sheet", "  file: lab.xlsx\n")
    as_right(cells(campaign_folder))
