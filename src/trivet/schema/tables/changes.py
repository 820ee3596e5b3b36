"""Tables of the data cuts, of what changed between them, and of what a paper must report."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, text, unix_time

_CUT = "trivet.campaign.data_cut:data_cuts"
_CHANGE = "trivet.campaign.changes:changes"
_ITEM = "trivet.campaign.checklist.items:checklist"

DATA_CUTS = Table(
    "data_cuts",
    "a data cut",
    (
        text("cut", "now, or before: the earlier one that 'now' is compared with", _CUT,
             required=True),
        text("data_cut", "the setting campaign.data_cut that gives this cut again; empty where "
             "no time is known", _CUT),
        unix_time("time_s", "rows with a later Unix time do not count", _CUT),
        text("decided_by", "settings, last row of the data, or setting report.compare_days", _CUT),
        text("reason", "why there is no such cut; empty where there is one", _CUT),
    ),
    key=("cut",),
)  # fmt: skip

CHANGES = Table(
    "changes",
    "a change between the two data cuts",
    (
        text("what", "event, event withdrawn, cause, start, censoring, trust, verdict or finding",
             _CHANGE, required=True),
        text("cell", "cell id; empty for a contrast and for the campaign", _CHANGE),
        text("endpoint", "cell or reference; empty for a finding", _CHANGE),
        text("contrast", "group against control, with the factor; empty where a cell is meant",
             _CHANGE),
        text("before", "state at the earlier data cut; empty where there was none", _CHANGE),
        text("after", "state now", _CHANGE, required=True),
    ),
    key=("what", "cell", "endpoint", "contrast", "after"),
)  # fmt: skip

CHECKLIST = Table(
    "checklist",
    "an item that a paper must report",
    (
        count("item", "number of the item", _ITEM, required=True),
        text("topic", "part of the experiment", _ITEM, required=True),
        text("source", "who can tell: build sheet, raw data, impedance, computed, person", _ITEM,
             required=True),
        text("answer", "each point with what is known of it, or 'not recorded'", _ITEM,
             required=True),
        count("points", "points asked for", _ITEM, required=True),
        count("known", "points that are known for every cell", _ITEM, required=True),
        text("write_down", "what to write down next time; empty where nothing is missing", _ITEM),
    ),
    key=("item",),
)  # fmt: skip
