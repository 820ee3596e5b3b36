"""Reports issued before, late decisions, numbers of the build and orders, as printed."""

from __future__ import annotations

from types import ModuleType

from report_campaign import with_rows

from trivet.report.frame.data import ReportData, gather, where
from trivet.report.section_list import APPENDIX, parts_of
from trivet.report.sections.appendix.contrasts import covariate_tests, covariates, orders
from trivet.report.sections.appendix.register import SECTION, register, since_block
from trivet.report.sections.comparison import comparison
from trivet.report.sections.summary import summary

TABLES = ("reports_issued", "input_changes", "late_decisions")


def first(data: ReportData, invented: ModuleType, **rows: list[dict[str, object]]) -> ReportData:
    """The same campaign without a report before, but for the rows that are given."""
    tables = invented.make()
    for name in TABLES:
        tables[name] = invented.as_table(name, rows.get(name, []))
    return gather(settings=data.settings, tables=tables)


def test_page_one_says_what_was_decided_since_the_last_report(data: ReportData) -> None:
    """Only what changed after the last one, with what had been reported by then."""
    said = since_block(data)
    assert said is not None
    assert said["heading"] == "Since the report of 2026-05-21"
    assert said["sentences"] == [
        "Build sheet: A05 excluded (dropped), after its end was reported.",
        "Bench log: B02 stopped of 2026-05-24 10:00 added.",
    ]


def test_a_late_decision_stands_beside_each_verdict_that_it_touches(data: ReportData) -> None:
    """The end first, then the verdict, each with the date of the report that told it."""
    bead, sleeve = summary(data)["grounds"]
    assert bead["late"] == (
        "Decided after the end was reported (leak, 2026-05-14): A05 excluded (dropped). Decided "
        "after the verdict was reported (not yet shown, 2026-05-14): margin of equivalence 1.25, "
        "now 1.5."
    )
    assert "A05" not in sleeve["late"]
    assert "margin of equivalence 1.25, now 1.5" in sleeve["late"]


def test_a_first_report_has_no_section(data: ReportData, invented: ModuleType) -> None:
    """Nothing of it on page one, no late decisions, no section in the appendix."""
    fresh = first(data, invented)
    told = summary(fresh)
    assert told["since_report"] is None
    assert [row["late"] for row in told["grounds"]] == ["", ""]
    assert SECTION in APPENDIX
    assert SECTION not in parts_of(fresh)[1].sections
    assert SECTION in parts_of(data)[1].sections


def test_a_long_value_is_not_spelt_out_in_a_sentence(data: ReportData) -> None:
    """Columns of a layout are a list of dozens of words: a sentence says that they changed."""
    row = where(data.rows["input_changes"], kept="settings")[0]
    long = row | {"name": "raw.layouts.K09.columns", "before": "[]", "after": "x" * 400}
    last = max(one["report"] for one in data.rows["reports_issued"])
    changed = with_rows(data, input_changes=[long | {"report": last}], late_decisions=[])
    block = since_block(changed)
    assert block is not None
    assert block["sentences"][0] == "Settings: raw.layouts.K09.columns changed."


def test_nothing_changed_is_one_sentence(data: ReportData, invented: ModuleType) -> None:
    """A report on the same settings and sheets, with a later data cut."""
    rows = invented.make()["reports_issued"].to_pylist()
    said = since_block(first(data, invented, reports_issued=rows))
    assert said is not None
    assert said["sentences"] == ["Settings, build sheet and bench log are as they were."]


def test_a_past_cut_prints_what_was_issued_beside_what_is_found(
    data: ReportData, invented: ModuleType
) -> None:
    """A verdict that comes out otherwise is named with both; where none does, that is said."""
    rows = invented.make()["reports_issued"].to_pylist()
    for row in rows[:2]:
        row |= {"verdict_again": "different", "p_again": 0.01, "differs": 1}
    said = since_block(first(data, invented, reports_issued=rows))
    assert said is not None
    assert (
        "seal: bead against tape, cell life: issued on 2026-05-14 as 'not yet shown', found now "
        "at this data cut: 'a difference is shown'."
    ) in said["sentences"]
    for row in rows[:2]:
        row |= {"verdict_again": "inconclusive", "differs": 0}
    said = since_block(first(data, invented, reports_issued=rows))
    assert said is not None
    assert "Verdicts at this data cut are as they were issued on 2026-05-14." in said["sentences"]


def test_damage_is_said_even_where_no_report_can_be_read(
    data: ReportData, invented: ModuleType
) -> None:
    """A register of which nothing is left is named on page one."""
    tables = invented.make()
    row = {"cell": "", "check": "register of reports", "severity": "caution", "action": "none",
           "message": "Line 1 of register.jsonl can't be read.", "file": "register.jsonl",
           "line": 1}  # fmt: skip
    tables["findings"] = invented.as_table("findings", [row])
    tables["reports_issued"] = invented.as_table("reports_issued", [])
    said = since_block(gather(settings=data.settings, tables=tables))
    assert said is not None
    assert said["sentences"] == [
        "1 line of the register of reports can't be read; the findings name it."
    ]


def test_the_section_has_every_report_change_and_late_decision(data: ReportData) -> None:
    """Tables in full, in words."""
    told = register(data)
    assert [len(told[name].rows) for name in ("reports", "changes", "late")] == [4, 3, 3]
    assert [cell.text for cell in told["changes"].rows[0]][:4] == [
        "2026-05-14 09:00", "2026-05-21 09:00", "settings", "margin of equivalence"
    ]  # fmt: skip
    assert told["changes"].rows[1][1].text == "this report"


def test_numbers_of_the_build_and_orders_are_printed(data: ReportData) -> None:
    """Ranges by group, the control first; tests with a p; a sentence on what lies apart."""
    table = covariates(data)
    assert [row[3].text for row in table.rows] == ["tape", "bead", "sleeve"]
    assert [row[-1].text for row in table.rows] == ["control", "apart (by chance 0.10)", "overlaps"]
    (test,) = covariate_tests(data).rows
    assert test[-1].text == "may show separators: its groups lie apart"
    assert len(orders(data).rows) == 2
    notes = comparison(data)["notes"]
    assert notes[0].startswith(
        "Along the order tape, bead, sleeve of seal, cells show no trend (exact p"
    )
    assert "no verdict rests on this" in notes[0]
    assert notes[1].startswith(
        "Groups that were built unlike: bead and tape in out_at to sealed_at"
    )
