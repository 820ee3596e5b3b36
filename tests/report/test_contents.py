"""What the sections say: counts of rows, reasons for what is missing, methods with sources."""

from __future__ import annotations

import ast
import re
from collections import Counter
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from report_campaign import with_rows

import trivet
from trivet.campaign.interim import interim_mark
from trivet.reasons import Hand, Judged
from trivet.report.figure_list import make_plates
from trivet.report.frame.answer import answer
from trivet.report.frame.data import NO_DATE, ReportData, ReportSettings, gather, where
from trivet.report.frame.literature import WORKS, Citations
from trivet.report.frame.printed import print_table, words
from trivet.report.frame.style import Drawing
from trivet.report.frame.wording import number
from trivet.report.render import render_html
from trivet.report.sections.appendix.all_findings import all_findings
from trivet.report.sections.appendix.build import build
from trivet.report.sections.appendix.measure_table import measure_table
from trivet.report.sections.appendix.methods import methods
from trivet.report.sections.appendix.provenance import provenance
from trivet.report.sections.comparison import doubts, without_p
from trivet.report.sections.findings import HEADS, findings, tasks
from trivet.report.sections.life_lines import life_lines
from trivet.report.sections.summary import summary
from trivet.schema.findings.hands import OF_A_CAUTION, OF_A_FAULT, hand_of
from trivet.schema.planned_end import before_planned_end
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import empty


def test_page_one_counts_every_cell(data: ReportData) -> None:
    """Built = included + excluded, and the states of the included add up, group by group."""
    told = summary(data)
    counts = dict(told["counts"])
    assert counts["built"] == "9"
    states = [int(number) for number in re.findall(r" (\d+)(?:,|;|$)", told["by_group"])]
    assert sum(states) == int(counts["included"])
    assert int(counts["included"]) + int(counts["excluded"]) == int(counts["built"])


def test_page_one_says_what_not_to_trust_by_purpose(data: ReportData) -> None:
    """Cells whose reference does not serve a purpose are named, purposes of like cells together."""
    said = summary(data)["cautions"]
    (held,) = [line for line in said if "withheld for" in line]
    assert "Potentials against lithium" in held
    assert "spectra of the electrodes" in held
    spans = [row for row in data.rows["fitness"] if row["fitness"] == "not fit"]
    for cell, start in {(row["cell"], row["from_h"]) for row in spans}:
        assert f"{cell} (from {number(start)} h)" in held
    none = with_rows(data, fitness=[], spectra=[])
    assert "Nothing is known of any reference." in summary(none)["cautions"]


def verdict(
    group: str, said: str, seen: float = 1.0, expected: float = 2.0, on: str | None = None
) -> dict[str, Any]:
    """A row of the exact test as the answer reads it."""
    return {"group": group, "control": "tape", "endpoint": "cell", "verdict": said,
            "observed_events": seen, "expected_events": expected, "shown_on": on,
            "smallest_attainable_p": 0.01}  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([verdict("epoxy", "different")], "Epoxy lasts longer than tape."),
        (
            [verdict("epoxy", "different", on="2026-02-20"), verdict("cap", "inconclusive")],
            "Epoxy lasts longer than tape (shown on 2026-02-20); not yet shown: whether cap "
            "differs from tape.",
        ),
        ([verdict("epoxy", "different", 2.0, 1.0)], "Epoxy does not last as long as tape."),
        (
            [verdict("epoxy", "different"), verdict("bead", "different")],
            "Epoxy and bead last longer than tape.",
        ),
        (
            [verdict("epoxy", "different"), verdict("cap", "inconclusive")],
            "Epoxy lasts longer than tape; not yet shown: whether cap differs from tape.",
        ),
        (
            [verdict("epoxy", "equivalent")],
            "Epoxy lasts as long as tape, within a factor of 1.25.",
        ),
        ([verdict("epoxy", "not estimable")], "Nothing can be said of epoxy against tape."),
        ([], ""),
    ],
)
def test_the_answer_is_one_sentence_without_a_p(rows: list, sentence: str) -> None:
    """The verdicts of all contrasts make one sentence; its direction is that of the ends."""
    assert answer(rows, margin=1.25, alpha=0.05, final=False) == sentence


def test_too_few_cells_and_a_planned_end_that_is_past_are_said() -> None:
    """What can never be shown is not 'not yet shown': of 2 cells against 2 p is 1/3 at least."""
    few = verdict("epoxy", "inconclusive") | {"smallest_attainable_p": 1 / 3}
    said = answer([few], margin=1.25, alpha=0.05, final=False)
    assert said == "Too few cells and ends to show whether epoxy differs from tape."
    late = answer([verdict("epoxy", "inconclusive")], margin=1.25, alpha=0.05, final=True)
    assert late == "Not shown: whether epoxy differs from tape."


def test_tasks_follow_from_checks_and_spare_cells_that_ended(data: ReportData) -> None:
    """A lost reference is plated anew while its cell runs; an excluded cell asks for nothing."""
    lives = [row for row in data.rows["lifetimes"] if row["endpoint"] == "cell"]
    running = {row["cell"] for row in lives if row["censored_because"] == "running"}
    excluded = {row["cell"] for row in data.rows["cells"] if not row["included"]}
    (one, *_) = data.rows["findings"]
    cells = sorted(data.group_of)
    rows = [{**one, "cell": cell, "check": "offset of the reference", "severity": "fault"}
            for cell in cells]  # fmt: skip
    rows.append({**one, "cell": sorted(excluded)[0], "check": "no data", "severity": "fault"})
    asked = tasks(with_rows(data, findings=rows))
    assert [(task.hand, task.cells) for task in asked] == [
        (Hand.REPLATE, sorted(running - excluded))
    ]


def test_every_fault_asks_for_a_hand_and_no_note_does() -> None:
    """Fault: a hand is needed, whatever the check; note: done for you."""
    assert hand_of("a check that nobody knows", "fault") is Hand.LOOK
    assert hand_of("a check of files", "fault", file="raw/a.csv") is Hand.READ
    assert hand_of("swapped leads", "note") is None
    assert hand_of("trust of a spectrum", "caution") is None


def test_checks_that_ask_for_a_hand_exist() -> None:
    """Each name of a check stands in the source, so that none is asked for in vain."""
    package = Path(trivet.__file__).parent
    known = {
        node.value
        for path in package.rglob("*.py")
        if path.name != "hands.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant)
    }
    assert {*OF_A_FAULT, *OF_A_CAUTION} <= known


def test_an_interim_cut_is_marked(data: ReportData, invented: ModuleType) -> None:
    """Before the planned end the verdicts are interim, after it they are not."""
    assert data.interim
    early = invented.SETTINGS["campaign"] | {"planned_end": "2026-01-01"}
    settings = ReportSettings.model_validate(invented.SETTINGS | {"campaign": early})
    assert not gather(settings=settings, tables=data.tables).interim


@pytest.mark.parametrize(
    ("cut", "planned", "interim"),
    [
        ("2026-03-09T12:00:00+01:00", "2026-03-09T18:00", True),
        ("2026-03-09T12:00:00+01:00", "2026-03-09", False),
        ("2026-03-08T23:30:00+00:00", "2026-03-09", False),
        ("2026-03-08T22:30:00+00:00", "2026-03-09", True),
    ],
)
def test_page_and_verdicts_ask_one_function_what_is_interim(
    cut: str, planned: str, interim: bool
) -> None:
    """Noon before a planned end at 18:00 is interim; dates are those of the campaign's zone."""
    moment = datetime.fromisoformat(cut)
    found = before_planned_end(moment, planned_end=planned, time_zone="Europe/Berlin")
    assert found == interim
    mark, _ = interim_mark(
        planned_end=planned, time_zone="Europe/Berlin", data_cut=cut, ledger=None
    )
    assert bool(mark) == interim


def test_findings_beyond_the_limit_are_counted(data: ReportData) -> None:
    """Faults come first; what is not listed is counted."""
    printed = all_findings(data)
    assert len(printed["table"].rows) == data.settings.report.findings_listed
    assert printed["table"].rows[0][0].text == "fault"
    assert printed["rest"] == str(len(data.rows["findings"]) - 40)


def test_many_alike_findings_of_a_cell_are_one_line(data: ReportData) -> None:
    """Of several of one check in a cell the first stands, with the number of the rest."""
    (one, *_) = data.rows["findings"]
    rows = [{**one, "cell": cell, "message": f"Row {line}."}
            for cell, number in (("a", 2), ("b", 5)) for line in range(number)]  # fmt: skip
    printed = all_findings(with_rows(data, findings=rows))
    texts = [row[4].text for row in printed["table"].rows]
    assert len(texts) == 2
    assert "And 1 more of this check in this cell." in texts[0]
    assert "And 4 more of this check in this cell." in texts[1]
    assert printed["rest"] == ""


def test_methods_follow_the_settings(data: ReportData, invented: ModuleType) -> None:
    """A changed threshold changes the sentence; every cited number has its work."""
    changed = {"capacity": {"retention_below": 0.7}}
    settings = ReportSettings.model_validate(invented.SETTINGS | {"lifetime": changed})
    written = methods(gather(settings=settings, tables=data.tables))
    text = " ".join(sentence for _, lines in written["paragraphs"] for sentence in lines)
    assert "below 0.7 of that" in text
    cited = {int(n) for group in re.findall(r"\[([\d, ]+)\]", text) for n in group.split(",")}
    assert cited == set(range(1, len(written["works"]) + 1))


def test_an_unknown_work_cannot_be_cited() -> None:
    """Only works of the list are cited, each under one number."""
    cite = Citations()
    assert cite("Holm 1979", "Sen 1968") == "[1, 2]"
    assert cite("Sen 1968") == "[2]"
    assert cite.works == [WORKS["Holm 1979"], WORKS["Sen 1968"]]
    with pytest.raises(KeyError, match="Nobody"):
        cite("Nobody 1900")


def test_a_campaign_without_results_says_why_everywhere(invented: ModuleType) -> None:
    """No section vanishes: a reason stands in it or on page one, and the cell table is there."""
    tables = {name: empty(table) for name, table in TABLES.items() if table.archived}
    tables["cells"] = invented.make()["cells"]
    data = gather(settings=ReportSettings.model_validate(invented.SETTINGS), tables=tables)
    html = render_html(data, make_plates(data))
    for reason in (
        "No verdict: no cell has a lifetime.",
        "No survival curve of the endpoint cell",
        "No comparison was made",
        "Relaxation times: no spectrum was read.",
        "Raw files: no raw file was read.",
        "No findings.",
    ):
        assert reason in html
    assert data.cut.moment == NO_DATE
    assert "not known" in data.cut.words


def test_a_set_data_cut_is_printed_as_set(data: ReportData, invented: ModuleType) -> None:
    """The cut of the settings outranks the last row of the data."""
    cut = invented.SETTINGS["campaign"] | {"data_cut": "2026-05-15"}
    settings = ReportSettings.model_validate(invented.SETTINGS | {"campaign": cut})
    again = gather(settings=settings, tables=data.tables)
    assert again.cut.words == "2026-05-15 (as set)"
    assert again.cut.moment.isoformat() == "2026-05-15T00:00:00+00:00"


def test_a_very_long_table_shows_its_first_rows_on_paper_and_says_so() -> None:
    """Beyond 120 rows paper is of no use: its caption counts them; the web page has all."""
    rows = [{"cell": f"c{number}"} for number in range(1200)]
    printed = print_table(rows, [words("cell", "cell")], caption="Cells.", reason="None.")
    assert (len(printed.rows), len(printed.on_paper)) == (1200, 30)
    assert printed.cut(30).startswith("The first 30 of 1200 rows")
    assert printed.cut(1200) == ""
    short = print_table(rows[:120], [words("cell", "cell")], caption="Cells.", reason="None.")
    assert (len(short.on_paper), short.cut(120)) == (120, "")


def many_cells(data: ReportData, number: int) -> ReportData:
    """The same campaign with so many cells in its first group, the n-th lasting n hours."""
    (row, *_) = data.rows["cells"]
    (life, *_) = where(data.rows["lifetimes"], endpoint="cell", clock="hours")
    names = [f"c{place:04d}" for place in range(number)]
    return with_rows(
        data,
        cells=[{**row, "cell": name} for name in names],
        lifetimes=[
            {**life, "cell": name, "group": row["group"], "duration": float(place)}
            for place, name in enumerate(names)
        ],
    )


def test_many_cells_are_thin_lines_of_one_figure_and_an_index(data: ReportData) -> None:
    """A line of text each would be dozens of pages: one figure has all, and an index names each."""
    campaign = many_cells(data, 321)
    (drawing,) = life_lines(campaign)
    assert isinstance(drawing, Drawing)
    assert len(drawing.numbers) == 321
    entries = build(campaign)["entries"]
    assert len(entries) == 321
    assert entries[7].startswith("c0007 (")
    assert entries[7].endswith(", 7 h")
    assert build(many_cells(data, 20))["entries"] == []


def test_of_a_large_group_cells_at_equal_steps_of_life_are_drawn(data: ReportData) -> None:
    """40 of 118 cells: the shortest and the longest life, and every third between them."""
    campaign = many_cells(data, 118)
    (group,) = {row["group"] for row in campaign.rows["cells"]}
    assert campaign.drawn[group] == tuple(f"c{place:04d}" for place in range(0, 118, 3))
    assert "40 are drawn" in campaign.drawn_words
    assert many_cells(data, 40).drawn_words == ""


def test_some_rows_of_a_table_are_those_of_all_its_rows(data: ReportData) -> None:
    """What arrow filters and counts is what Python does with all rows, for each way to ask."""
    cells = data.cells[:2]
    every = data.rows["electrode_cycles"]
    columns = ("cell", "cycle", "electrode")
    for asked in ({"electrode": "negative"}, {"withheld": 0}, {}):
        for chosen in (None, cells):
            found = data.some("electrode_cycles", columns, cells=chosen, **asked)
            rows = [row for row in where(every, **asked) if chosen is None or row["cell"] in chosen]
            assert found == [{name: row[name] for name in columns} for row in rows]
            assert found
    cycles = data.rows["cycles"]
    for cell in data.cells:
        assert data.of_cell("cycles", cell) == where(cycles, cell=cell)
    held = Counter((row["cell"], row["kind"]) for row in cycles)
    counted = data.counted("cycles", ("cell", "kind"))
    assert {(row["cell"], row["kind"]): row["rows"] for row in counted} == held
    spectra = where(data.rows["spectra"], withheld=0)
    assert data.cells_in("spectra", withheld=0) == sorted({row["cell"] for row in spectra})


def test_page_one_says_up_to_which_p_the_last_look_shows_a_difference(data: ReportData) -> None:
    """A p of 0.04 that shows nothing would else stand there without a reason."""
    row = next(
        one
        for one in data.rows["comparisons"]
        if one["verdict"] and not one["shown_on"] and one["group"] and one["endpoint"] == "cell"
        and one["factor"] == data.factor and one["clock"] == data.clock
    )  # fmt: skip
    names = ("endpoint", "clock", "factor", "control")
    look = {name: row[name] for name in names} | {"groups": row["group"]}
    dates = (("2026-02-27", 1.0, 0.03), ("2026-03-06", 2.0, 0.024))
    looks = [look | {"look": day, "time_s": time, "nominal_level": level}
             for day, time, level in dates]  # fmt: skip
    looked = with_rows(data, looks=looks)
    said = "; ".join(one["numbers"] for one in summary(looked)["grounds"])
    assert "at the look of 2026-03-06 a difference would be shown up to p 0.024" in said
    none = [{**one, "nominal_level": 0.0} for one in looks]
    again = summary(with_rows(data, looks=none))
    said = "; ".join(one["numbers"] for one in again["grounds"])
    assert "no p could have shown a difference" in said


def test_mass_lost_is_printed_where_cells_were_weighed_twice(data: ReportData) -> None:
    """A loss of mass is the first sign of a seal that leaks."""
    assert "mass lost [mg/d]" not in [head.text for head in build(data)["cells"].headings]
    rows = [row | {"mass_lost_mg_per_d": 0.25} for row in data.rows["cells"]]
    found = build(with_rows(data, cells=rows))["cells"]
    place = [head.text for head in found.headings].index("mass lost [mg/d]")
    assert {row[place].text for row in found.rows} == {"0.250"}


def turning(measure: Judged, **values: Any) -> dict[str, Any]:
    """A row of comparisons that may turn the verdict of one contrast on the primary clock."""
    about = {"endpoint": "cell", "clock": "hours", "factor": "seal", "group": "bead",
             "control": "tape", "stratified_by": "batch", "cells": 3, "events": 1,
             "control_cells": 3, "control_events": 2}  # fmt: skip
    return about | {"measure": measure.value} | values


def test_rows_on_stopped_cells_say_p_and_limits_or_why_there_are_none(data: ReportData) -> None:
    """Each has both p; a ratio has its limits, a missing one its reason; one without p a sentence.

    The numbers are put in by hand, so that what must be printed is known.
    """
    rows = [
        turning(Judged.GROUP_ENDED, p=0.012, p_adjusted=0.024, estimate=2.1, lower=1.4, upper=3.5),
        turning(Judged.CONTROL_ENDED, p=0.3, p_adjusted=0.31, reason="not estimable: entered late"),
        turning(Judged.LOOKED_BAD, p=0.04, p_adjusted=0.08, estimate=1.7, lower=1.1, upper=2.0),
        turning(Judged.IMPUTED, reason="no such test: cells entered after their start"),
    ]
    given = with_rows(data, comparisons=rows)
    printed = [[cell.text for cell in row[2:]] for row in doubts(given).rows]
    assert printed == [
        ["stopped cells of bead ended when stopped, those of tape lived on", "0.012", "0.024",
         "2.10 (1.40 to 3.50)"],
        ["stopped cells of tape ended when stopped, those of bead lived on", "0.30", "0.31",
         "none; not estimable: entered late"],
        ["cells that looked bad ended when they were stopped", "0.040", "0.080",
         "1.70 (1.10 to 2)"],
    ]  # fmt: skip
    (said,) = without_p(given)
    assert said.startswith("bead against tape, cell life in hours: no p with groups not followed")
    assert said.endswith("(no such test: cells entered after their start).")


def test_whatever_a_finding_asks_for_is_printed(data: ReportData) -> None:
    """Every task that any check may ask for has its words, and the whole report is made of it."""
    asked = [(check, severity)
             for severity, checks in (("fault", OF_A_FAULT), ("caution", OF_A_CAUTION))
             for check in checks]  # fmt: skip
    (one, *_) = data.rows["findings"]
    lives = [row for row in data.rows["lifetimes"] if row["endpoint"] == "cell"]
    cell = next(row["cell"] for row in lives if row["censored_because"] == "running")
    rows = [
        {**one, "cell": cell, "check": check, "severity": severity} for check, severity in asked
    ]
    assert set(HEADS) == set(Hand)
    assert Hand.LOG_STOP in {hand_of(check, severity) for check, severity in asked}
    for row in rows:
        changed = with_rows(data, findings=[row])
        wanted = [task.hand for task in tasks(changed)]
        assert wanted == [hand_of(row["check"], row["severity"])], row["check"]
        (line,) = findings(changed)["table"].rows
        assert line[0].text == HEADS[wanted[0]]


def test_what_is_asked_at_several_cells_alike_is_one_line(data: ReportData) -> None:
    """Two cells without an anchor, one more with another message: two lines, all three named."""
    one = dict(data.rows["findings"][0]) | {"severity": "caution", "check": "no anchor"}
    lives = [row for row in data.rows["lifetimes"] if row["endpoint"] == "cell"]
    running = sorted({row["cell"] for row in lives if row["censored_because"] == "running"})
    rows = [one | {"cell": cell, "message": "No anchor."} for cell in running[:2]]
    rows.append(one | {"cell": running[2], "message": "Another."})
    table = findings(with_rows(data, findings=rows))["table"]
    assert [row[1].text for row in table.rows] == [
        f"{running[0]} and {running[1]}",
        running[2],
    ]
    assert table.subjects[0].cells == tuple(running[:2])


def test_a_remark_on_many_measures_is_printed_once(data: ReportData) -> None:
    """Each line has the number of its remark, below the table stands each remark once."""
    said = measure_table(data)
    reasons = {row["reason"] for row in data.rows["measures"] if row["reason"]}
    assert len(said["remarks"]) == len(reasons)
    numbers = {row[-1].text for row in said["table"].rows}
    assert numbers <= {remark.split(" ")[0] for remark in said["remarks"]} | {"–"}
    assert any(number != "–" for number in numbers)


def test_settings_are_printed_as_they_were_read(data: ReportData) -> None:
    """Nothing set is a dash without a unit, nought is nought, a seed keeps its digits together."""
    printed = {line for _, lines in provenance(data)["settings"] for line in lines}
    assert {"seed: 20260101", "lowest_frequency_Hz: 0 Hz", "positive_ohmic_ohm: –",
            "covariates: –"} <= printed  # fmt: skip
