"""What is said to have changed since a report, and what was decided after it told something."""

from __future__ import annotations

import json
from typing import Any

import pytest

from trivet.campaign.register.differences import differences
from trivet.campaign.register.late import late_decisions
from trivet.campaign.register.rows import input_changes, issued_before, late_rows, reports_issued
from trivet.reasons import Kept, Seen, Step
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.marked import endpoints_of
from trivet.store.register_file import ISSUED, Entry, Register

FACTORS = json.dumps([{"factor": "seal", "control": "tape"}])
CUT_S = 1_772_323_200.0  # 2026-03-01T00:00:00Z, by `date -u -d 2026-03-01 +%s`
DAY_S = 86_400.0


def entry(
    *,
    day: int = 1,
    verdict: str = "inconclusive",
    margin: str = "1.25",
    cells: dict[str, dict[str, str]] | None = None,
    ends: tuple[str, ...] = (),
    log: tuple[dict[str, Any], ...] = (),
    **settings: str,
) -> Entry:
    """A report issued in March 2026 on a seal and its control."""
    built = {
        "K-01": {"seal": "tape", "batch": "B1", "included": "yes"},
        "K-02": {"seal": "bead", "batch": "B1", "included": "yes"},
        "K-03": {"seal": "sleeve", "batch": "B1", "included": "yes"},
    }
    contrasts = [
        {"endpoint": "cell", "clock": "hours", "factor": "seal", "group": group, "control": "tape",
         "verdict": verdict, "p": 0.2, "p_adjusted": 0.2, "cells": 1, "events": 0,
         "control_cells": 1, "control_events": 0}
        for group in ("bead", "sleeve")
    ]  # fmt: skip
    return {
        ISSUED: f"2026-03-{day:02d}T09:00:00+00:00",
        "data_cut": f"2026-03-{day:02d}",
        "data_cut_s": CUT_S + (day - 1) * DAY_S,
        "version": "0",
        "digests": {},
        "settings": {
            "comparison.equivalence_margin": margin,
            "comparison.factors": FACTORS,
            **settings,
        },
        "columns": ["crimped_at", "seal"],
        "cells": built | (cells or {}),
        "log": list(log),
        "ends": [
            {"cell": cell, "endpoint": "cell", "cause": "leak", "duration": 9.0} for cell in ends
        ],
        "verdicts": contrasts,
    }


def marks(entries: list[Entry], now: Entry) -> set[tuple[str, str, str, str, int]]:
    """Group, cell, name, what was seen, number of the report."""
    return {
        (late.contrast[2], late.difference.cell, late.difference.name, late.seen.value, late.report)
        for late in late_decisions(entries, now)
    }


def test_a_margin_moved_after_a_verdict_is_marked_on_each_contrast() -> None:
    """1.25 to 1.5 after the first report, in any later report, with the report that first told."""
    first, second = entry(), entry(day=8, margin="1.5")
    wanted = {
        (group, "", "comparison.equivalence_margin", Seen.VERDICT.value, 1)
        for group in ("bead", "sleeve")
    }
    assert marks([first], second) == wanted
    assert marks([first, second], entry(day=15, margin="1.5")) == wanted
    (change,) = differences(first, second)
    assert (change.kept, change.before, change.after) == (Kept.SETTINGS, "1.25", "1.5")


def test_what_is_turned_back_is_no_late_decision() -> None:
    """A margin that is again what it was when the verdict was first told touches nothing."""
    assert marks([entry(), entry(day=8, margin="1.5")], entry(day=15)) == set()


def test_before_anything_was_told_nothing_is_late() -> None:
    """A report of which nothing can be estimated leaves the margin free."""
    assert marks([entry(verdict="not estimable")], entry(day=8, margin="1.5")) == set()
    assert marks([], entry(margin="1.5")) == set()


def test_a_cell_excluded_after_its_end_was_reported_is_marked_so() -> None:
    """Only on the contrast of its group; of a control on all; one still running: the verdict."""
    out = {"included": "no", "exclusion_reason": "leak", "batch": "B1"}
    first = entry(ends=("K-02", "K-01"))
    bead = entry(day=8, cells={"K-02": {"seal": "bead", **out}})
    assert marks([first], bead) == {("bead", "K-02", "included", Seen.END.value, 1)}
    (change,) = differences(first, bead)
    assert (change.before, change.after, change.why) == ("yes", "no", "leak")
    tape = entry(day=8, cells={"K-01": {"seal": "tape", **out}})
    assert {mark[0] for mark in marks([first], tape)} == {"bead", "sleeve"}
    sleeve = entry(day=8, cells={"K-03": {"seal": "sleeve", **out}})
    assert marks([first], sleeve) == {("sleeve", "K-03", "included", Seen.VERDICT.value, 1)}


def test_the_end_that_was_told_later_still_counts() -> None:
    """The verdict was told by report 1, the end by report 2: the end is said, of report 2."""
    out = {"seal": "bead", "included": "no", "batch": "B1"}
    told = [entry(), entry(day=8, ends=("K-02",))]
    assert marks(told, entry(day=15, cells={"K-02": out})) == {
        ("bead", "K-02", "included", Seen.END.value, 2)
    }


def test_the_bench_log_of_later_days_is_the_ordinary_course() -> None:
    """A stop after the data cut of the report is none, one entered for before it is a decision."""

    def stop(day: float, says: str = "") -> dict[str, Any]:
        return {"cell": "K-02", "time_s": CUT_S + day * DAY_S, "event": "stopped", "says": says}

    assert marks([entry()], entry(day=8, log=(stop(3),))) == set()
    assert marks([entry()], entry(day=8, log=(stop(-3),))) == {
        ("bead", "K-02", "stopped", Seen.VERDICT.value, 1)
    }
    written = entry(log=(stop(-3, "reason planned"),))
    moved = entry(day=8, log=(stop(-3, "reason looked bad"),))
    assert {mark[1:4] for mark in marks([written], moved)} == {
        ("K-02", "stopped", Seen.VERDICT.value)
    }
    (change,) = differences(written, moved)
    assert (change.step, change.before) == (Step.CHANGED, "reason planned")


def test_what_decides_no_verdict_is_a_change_and_no_more() -> None:
    """A mass, a cell added, a setting of planning or of spectra is listed and not marked."""
    first = entry(**{"comparison.planned_power": "0.8", "impedance.starts": "3"})
    now = entry(
        day=8,
        cells={"K-02": {"seal": "bead", "batch": "B1", "included": "yes", "mass_mg": "3"},
               "K-09": {"seal": "bead", "batch": "B2", "included": "yes"}},
        **{"comparison.planned_power": "0.9", "impedance.starts": "4"},
    )  # fmt: skip
    assert len(differences(first, now)) == 4
    assert marks([first], now) == set()


def test_a_control_chosen_after_other_contrasts_were_told_is_marked() -> None:
    """From tape to bead as the control: the new contrast was chosen with verdicts in view."""
    now = entry(day=8)
    now["settings"]["comparison.factors"] = json.dumps([{"factor": "seal", "control": "bead"}])
    now["settings"]["comparison.equivalence_margin"] = "1.5"
    now["verdicts"] = [{**now["verdicts"][1], "control": "bead"}]
    assert marks([entry()], now) == {("sleeve", "", "comparison.factors", Seen.VERDICT.value, 1)}


def test_every_block_of_the_settings_is_known_to_turn_something_or_nothing() -> None:
    """A new block has to be placed: each either turns verdicts or is one of these that do not."""
    nothing = {"impedance", "report", "archive"}
    for block in Settings.model_fields:
        assert bool(endpoints_of(block)) != (block in nothing), block


def test_a_setting_of_another_version_is_no_change() -> None:
    """What a version did not know, nobody decided; within one version it is added or removed."""
    first, now = entry(), entry(day=8, **{"comparison.looks": "weekly"})
    assert [one.step for one in differences(first, now)] == [Step.ADDED]
    assert differences(first, now | {"version": "1"}) == []


def test_the_same_report_again_compares_with_the_one_before() -> None:
    """The entry of this very report is left out, whenever it was issued."""
    first, now = entry(), entry(day=8, margin="1.5")
    again = now | {ISSUED: "2027-01-01T00:00:00+00:00"}
    assert issued_before(Register((first, now)), again) == (first,)
    assert issued_before(Register((first,)), again) == (first,)


def test_each_change_stands_between_the_reports_that_saw_it() -> None:
    """1.25, 1.5, 1.5: the change lies between reports 1 and 2, with the dates of both."""
    entries = [entry(), entry(day=8, margin="1.5")]
    (row,) = input_changes(entries, entry(day=15, margin="1.5"), time_zone="Europe/Berlin")
    assert (row["report"], row["since"][:10], row["until"][:10]) == (1, "2026-03-01", "2026-03-08")
    late = late_rows(entries, entry(day=15, margin="1.5"), time_zone="Europe/Berlin")
    assert [row["reported_on"][:10] for row in late] == ["2026-03-01"] * 2


@pytest.mark.parametrize(("verdict", "differs"), [("different", 1), ("inconclusive", 0)])
def test_a_past_cut_shows_the_past_as_it_was_issued(verdict: str, differs: int) -> None:
    """Back at the cut of report 1: its verdicts beside those found now; report 2 is left alone."""
    entries = [entry(), entry(day=8)]
    rows = reports_issued(entries, entry(day=3, verdict=verdict))
    assert [row.get("differs") for row in rows] == [differs, differs, None, None]
    assert {row["verdict_again"] for row in rows[:2]} == {verdict}
    assert all(row.get("differs") is None for row in reports_issued(entries, entry(day=9)))
