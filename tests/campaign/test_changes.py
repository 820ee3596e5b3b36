"""What changed between two data cuts, from small invented states."""

from __future__ import annotations

from typing import Any

from trivet.campaign.changes import changes

Rows = list[dict[str, Any]]


def life(cell: str, *, observed: int = 0, cause: str = "", why: str = "running") -> dict[str, Any]:
    """Row of the table of lifetimes."""
    return {
        "cell": cell, "endpoint": "cell", "clock": "hours", "observed": observed, "cause": cause,
        "duration": 700.0, "censored_because": "" if observed else why,
    }  # fmt: skip


def state(**tables: Rows) -> dict[str, Rows]:
    """A state of a campaign; tables not given are without rows."""
    return {name: tables.get(name, []) for name in
            ("lifetimes", "timeline", "comparisons", "findings")}  # fmt: skip


def found(before: dict[str, Rows], after: dict[str, Rows]) -> set[tuple[str, str, str, str]]:
    """What, where, before and after of each change."""
    rows = changes(before, after, clock="hours")
    return {(r["what"], r["cell"] or r["contrast"], r["before"], r["after"]) for r in rows}


def test_nothing_changes_between_equal_states() -> None:
    """The same state twice has no change."""
    same = state(lifetimes=[life("a"), life("b", observed=1, cause="leak")])
    assert not found(same, same)


def test_events_and_censorings_are_told_apart() -> None:
    """An end is an event, a stop is a censoring, and an end taken back is said."""
    before = state(lifetimes=[life("a"), life("b"), life("c", observed=1, cause="capacity"),
                              life("d", why="no data")])  # fmt: skip
    stopped = life("b", why="stopped by a person")
    after = state(lifetimes=[life("a", observed=1, cause="leak"), stopped, life("c"), life("d")])
    assert found(before, after) == {
        ("event", "a", "running", "ended: leak at 700.0 h"),
        ("censoring", "b", "running", "stopped by a person"),
        ("event withdrawn", "c", "ended: capacity at 700.0 h", "running"),
        ("start", "d", "no data", "running"),
    }


def test_the_last_state_of_a_reference_counts() -> None:
    """Trust changed is that of the last span; what was done to the cell is no trust."""
    spans = [{"cell": "a", "track": "reference", "state": "trusted", "start_h": 0.0},
             {"cell": "a", "track": "phase", "state": "rest", "start_h": 90.0}]  # fmt: skip
    later = [*spans, {"cell": "a", "track": "reference", "state": "lost", "start_h": 50.0}]
    assert found(state(timeline=spans), state(timeline=later)) == {
        ("trust", "a", "trusted", "lost")
    }


def test_verdicts_of_the_primary_clock_count() -> None:
    """A verdict that turns is a change; the other clock decides nothing."""
    row = {"endpoint": "cell", "factor": "seal", "group": "x", "control": "y"}
    before = [row | {"clock": "hours", "verdict": "different"},
              row | {"clock": "cycles", "verdict": "different"}]  # fmt: skip
    after = [r | {"verdict": "inconclusive"} for r in before]
    assert found(state(comparisons=before), state(comparisons=after)) == {
        ("verdict", "seal: x against y", "different", "inconclusive")
    }


def test_a_finding_is_new_by_its_kind() -> None:
    """The same check again in the same cell is nothing new; in another severity it is."""
    row = {"cell": "a", "check": "offset", "severity": "caution"}
    after = [row, row, row | {"severity": "fault"}, row | {"cell": ""}]
    assert found(state(findings=[row]), state(findings=after)) == {
        ("finding", "a", "", "offset (fault)"),
        ("finding", "", "", "offset (caution)"),
    }
