"""Table of contrasts pooled with earlier campaigns."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text
from trivet.schema.tables.shared import CLOCK, ENDPOINT, FACTOR, GROUP

_POOL = "trivet.science.comparison.pooling:pool"
_EFFECTS = "trivet.science.comparison.random_effects:random_effects"
_STAGE = "trivet.stages.pooling:run"

POOLED = Table(
    "pooled",
    "a contrast and a campaign, or all campaigns together",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        text("control", "group compared with", _STAGE, required=True),
        text(
            "campaign",
            "name of an earlier campaign as the settings give it; 'this campaign', which alone "
            "decides; 'all campaigns' for the pooled contrast",
            _STAGE,
            required=True,
        ),
        count("blocks", "batches with cells of both groups, which join", _STAGE, required=True),
        count("cells", "cells of the group that join", _STAGE, required=True),
        count("events", "ends seen of these", _STAGE, required=True),
        count("control_cells", "cells of the control that join", _STAGE, required=True),
        count("control_events", "ends seen of these", _STAGE, required=True),
        number("difference", "1", "ends seen less expected in the group, over blocks", _POOL),
        number("variance", "1", "permutation variance of the difference", _POOL),
        number("weight", "1", "share of the variance of all campaigns", _POOL),
        number("p", "1", "exact two-sided p within blocks", _POOL),
        number(
            "p_adjusted",
            "1",
            "of this campaign as in comparisons; of all by Holm's method over the contrasts of one "
            "endpoint, clock, factor, of two tests where follow-up differs; missing for earlier "
            "campaigns",
            "trivet.science.comparison.verdict:holm",
        ),
        number("estimate", "1", "time ratio, group over control, common to the blocks", _POOL),
        number("lower", "1", "lower limit of the time ratio", _POOL),
        number("upper", "1", "upper limit of the time ratio", _POOL),
        number("log_standard_error", "1", "standard error of the log time ratio", _POOL),
        number(
            "shrunken",
            "1",
            "time ratio of the campaign drawn towards the mean of all by random effects; of all, "
            "the mean",
            _EFFECTS,
        ),
        number("shrunken_lower", "1", "lower limit of it", _EFFECTS),
        number("shrunken_upper", "1", "upper limit of it", _EFFECTS),
        number(
            "between_campaigns",
            "1",
            "standard deviation of true log time ratios between campaigns, by the data; on the "
            "row of all",
            _EFFECTS,
        ),
        number("between_lower", "1", "lower limit of it", _EFFECTS),
        number("between_upper", "1", "upper limit of it", _EFFECTS),
        number("confidence", "1", "confidence of all limits", _POOL, required=True),
        text(
            "verdict",
            "of this campaign as in comparisons; of all by the pooled test and time ratio of this "
            "data cut, which decides nothing; empty for earlier campaigns",
            "trivet.science.comparison.verdict:verdict",
        ),
        text(
            "reason",
            "why a campaign or a batch of it adds nothing, why a value is missing, or what stands "
            "against the verdict on all",
            "trivet.schema.findings.pooling:joined_reason",
        ),
    ),
    key=("endpoint", "clock", "factor", "group", "control", "campaign"),
)
