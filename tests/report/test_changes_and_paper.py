"""What changed, what a paper asks for, and the pages of cells, as printed from the tables."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import pytest

from trivet.report.figure_list import plate_of
from trivet.report.frame.data import ReportData, ReportSettings, gather
from trivet.report.frame.style import look
from trivet.report.section_list import APPENDIX, MEETING, in_order, parts_of
from trivet.report.sections.appendix.cell_pages import cell_pages, pages
from trivet.report.sections.appendix.changes import block, changes
from trivet.report.sections.appendix.paper import paper


def test_page_one_says_what_changed(data: ReportData) -> None:
    """Ends, trust, verdicts and findings that are new stand on page one, under the earlier cut."""
    said = block(data)
    assert said["heading"] == "Since 2026-05-21 20:26 UTC"
    text = " ".join(said["sentences"])
    for words in ("A01, internal short", "A04 suspect, now lost",
                  "before a difference is shown, now not yet shown",
                  "New findings: offset (caution) in A04."):  # fmt: skip
        assert words in text
    assert len(changes(data)["table"].rows) == len(data.rows["changes"])
    assert changes(data)["setting"] == "2026-05-21T20:26:40+00:00"


def test_no_earlier_cut_says_why(data: ReportData, invented: ModuleType) -> None:
    """Without an earlier cut the block prints the reason and nothing else."""
    tables = invented.make()
    row = {"cut": "before", "reason": "no file has times of the calendar"}
    tables["data_cuts"] = invented.as_table("data_cuts", [row])
    bare = gather(settings=data.settings, tables=tables)
    assert "no file has times of the calendar" in block(bare)["sentences"][0]
    assert "no file has times" in changes(bare)["reason"]


def test_the_table_of_results_has_what_journals_ask(data: ReportData) -> None:
    """Each group has cells, events, censored, median, effect with interval, p and verdict."""
    table = paper(data)["results"]
    headings = [cell.text for cell in table.headings]
    assert headings == ["group", "cells", "events", "censored", "median life [h]", "time ratio",
                        "exact p", "adjusted p", "verdict"]  # fmt: skip
    summary = [row for row in data.rows["life_summary"]
               if row["endpoint"] == "cell" and row["clock"] == "hours"]  # fmt: skip
    assert len(table.rows) == len(summary)
    in_order = sorted(summary, key=lambda row: data.place_of(row["group"]))
    for printed, row in zip(table.rows, in_order, strict=True):
        assert printed[3].text == str(row["cells"] - row["events"])
    texts = {row[0].text: [cell.text for cell in row] for row in table.rows}
    assert texts["seal: tape"][5] == "control"
    assert texts["seal: bead"][5:] == ["1.62 (1.30 to 2.11)", "0.10", "0.20", "inconclusive"]


def test_the_score_counts_points(data: ReportData) -> None:
    """The score is the sum over the items of the checklist."""
    said = paper(data)
    assert (said["known"], said["points"], said["complete"]) == ("2", "3", "1")


def test_the_meeting_part_is_printed_alone_on_request(
    data: ReportData, invented: ModuleType
) -> None:
    """By default both parts are printed, the meeting's first; the setting leaves the appendix."""
    assert [part.sections for part in parts_of(data)] == [MEETING, APPENDIX[:-1]]
    alone = ReportSettings.model_validate({**invented.SETTINGS, "report": {"part": "meeting"}})
    (part,) = parts_of(gather(settings=alone, tables=data.tables))
    assert part.sections == MEETING


def test_pages_of_cells_stand_in_the_report_on_request(
    data: ReportData, invented: ModuleType
) -> None:
    """Off by default; switched on, every cell of the sheet has a figure or a reason."""
    assert cell_pages(data) == []
    assert parts_of(data)[1].sections == APPENDIX[:-1]
    asked = ReportSettings.model_validate({**invented.SETTINGS, "report": {"cell_pages": True}})
    wanted = gather(settings=asked, tables=invented.make(1))
    assert parts_of(wanted)[1].sections == APPENDIX
    with look():
        plates = [plate_of(drawing, wanted.group_of) for drawing in cell_pages(wanted)]
    cells = {row["cell"] for row in wanted.rows["cells"]}
    assert {plate.name for plate in plates} == {f"cell-{cell}" for cell in cells}
    assert len(pages(wanted)["cells"]) == len(plates)
    assert all("withheld" in plate.caption for plate in plates)


def test_two_sections_at_one_place_are_refused() -> None:
    """The order of the report would be that of the names of files; both are named."""
    first, second = MEETING[:2]
    assert in_order((second, first)) == (first, second)
    with pytest.raises(ValueError, match="'summary' and 'life_lines' have one place, 10"):
        in_order((first, replace(second, place=10)))
