"""Tables of the reports issued before, and of what people decided otherwise since."""

from __future__ import annotations

from trivet.schema.tables.columns import Column, Table, count, number, text, truth

_ROWS = "trivet.campaign.register.rows"
_ENTRY = "trivet.campaign.register.entry:entry_of"
_DIFFERENT = "trivet.campaign.register.differences:differences"
_LATE = "trivet.campaign.register.late:late_decisions"
_APPEND = "trivet.store.register_file:append_entry"

_CONTRAST = (
    text("endpoint", "cell or reference; empty where the report had no contrast", _ENTRY),
    text("factor", "build factor whose values are the groups", _ENTRY),
    text("group", "value of the build factor", _ENTRY),
    text("control", "group compared with", _ENTRY),
)


def _what(address: str) -> tuple[Column, ...]:
    """Columns that say a difference."""
    return (
        text("kept", "where it stands: settings, build sheet or bench log", address, required=True),
        text("step", "added, removed or changed", address, required=True),
        text("name", "dotted name of a setting, column of the sheet (empty: the whole row), event "
             "of the log", address),
        text("cell", "cell id; empty for a setting", address),
        text("at", "date and time of an entry of the bench log, in the campaign's zone", address),
        text("before", "value before; empty where there was none", address),
        text("after", "value after; empty where there is none", address),
        text("why", "reason that the sheet states for an exclusion", address),
    )  # fmt: skip


REPORTS_ISSUED = Table(
    "reports_issued",
    "a report issued before, and a contrast",
    (
        count("report", "number of the report, from 1 on", f"{_ROWS}:reports_issued",
              required=True),
        text("issued", "when it was issued, in UTC", _APPEND, required=True),
        text("data_cut", "its data cut, as the setting that gives it again", _ENTRY),
        *_CONTRAST,
        text("clock", "hours or cycles", _ENTRY),
        text("verdict", "its verdict of the contrast", _ENTRY),
        number("p", "1", "its two-sided exact p", _ENTRY),
        number("p_adjusted", "1", "its p over all contrasts", _ENTRY),
        count("cells", "cells in the group then", _ENTRY),
        count("events", "ends seen in the group then", _ENTRY),
        count("control_cells", "cells in the control then", _ENTRY),
        count("control_events", "ends seen in the control then", _ENTRY),
        text("verdict_again", "verdict at that data cut as it is found now; only where the data "
             "cut is set to the past, of the report that told the state at this cut",
             f"{_ROWS}:reports_issued"),
        number("p_again", "1", "exact p at that data cut as it is found now",
               f"{_ROWS}:reports_issued"),
        truth("differs", "1 where the verdict found now is not the one that was issued; missing "
              "where it was not looked at again", f"{_ROWS}:reports_issued"),
    ),
    key=("report", "endpoint", "factor", "group", "control"),
)  # fmt: skip

INPUT_CHANGES = Table(
    "input_changes",
    "a change of settings, build sheet or bench log from one report to the next",
    (
        count("report", "number of the earlier report", f"{_ROWS}:input_changes", required=True),
        count("place", "number of the change", f"{_ROWS}:input_changes", required=True),
        text("since", "when the earlier report was issued, in UTC", _APPEND, required=True),
        text("until", "when the later one was; empty: this report", _APPEND),
        *_what(_DIFFERENT),
    ),
    key=("report", "place"),
)  # fmt: skip

LATE_DECISIONS = Table(
    "late_decisions",
    "a contrast and a decision made after something of it was reported",
    (
        *_CONTRAST,
        count("place", "number of the decision", f"{_ROWS}:late_rows", required=True),
        *_what(_LATE),
        text("seen", "what had been reported: verdict reported or end reported", _LATE,
             required=True),
        text("reported", "the verdict, or the cause of the cell's end, that had been reported",
             _LATE),
        count("report", "number of the report that first told it", _LATE, required=True),
        text("reported_on", "when that report was issued, in UTC", _APPEND, required=True),
    ),
    key=("endpoint", "factor", "group", "control", "place"),
)  # fmt: skip
