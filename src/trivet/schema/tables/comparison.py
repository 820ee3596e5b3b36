"""Tables of comparisons between groups."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, iso_date, number, text, truth, unix_time
from trivet.schema.tables.shared import CELL, CLOCK, ENDPOINT, FACTOR, GROUP

_SHEET = "trivet.campaign.build_sheet:read_build_sheet"
_COMPARISON = "trivet.science.comparison.verdict"
_CONTRAST = "trivet.science.comparison.contrast:contrast"
_LOOKS_OF = "trivet.science.survival.looks"
_LOOKS = f"{_LOOKS_OF}:looks"
_LOOK_TIMES = "trivet.campaign.look_times:look_times"
_POWER = "trivet.science.comparison.design_power:design_power"
_MEASURE = "trivet.science.comparison.measure_tests:permutation_difference"
_BOUNDS = "trivet.science.comparison.measure_bounds:withheld_bounds"
_SPREAD = "trivet.science.comparison.measure_bounds:spread_within"

COMPARISONS = Table(
    "comparisons",
    "a contrast and a measure",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        text("control", "group compared with; 'all' for an overall test", _SHEET, required=True),
        text(
            "stratified_by",
            "what stratifies; empty where nothing does",
            _CONTRAST,
        ),
        text(
            "measure",
            "exact log-rank, log-rank, time ratio, hazard ratio, ...",
            _CONTRAST,
            required=True,
        ),
        count(
            "cells",
            "cells in the group; in all groups for an overall test",
            _CONTRAST,
            required=True,
        ),
        count(
            "events",
            "ends seen in the group; in all groups for an overall test",
            _CONTRAST,
            required=True,
        ),
        count("control_cells", "cells in the control", _CONTRAST, required=True),
        count("control_events", "ends seen in the control", _CONTRAST, required=True),
        number("statistic", "1", "test statistic", _CONTRAST),
        number(
            "observed_events",
            "1",
            "ends seen in the group, over strata",
            "trivet.science.survival.log_rank:log_rank",
        ),
        number(
            "expected_events",
            "1",
            "ends expected in the group, over strata",
            "trivet.science.survival.log_rank:log_rank",
        ),
        number("estimate", "", "effect of group over control", _CONTRAST),
        number("lower", "", "lower limit", _CONTRAST),
        number("upper", "", "upper limit", _CONTRAST),
        number("confidence", "1", "confidence of the interval", _CONTRAST),
        number("p", "1", "two-sided p", _CONTRAST),
        number(
            "p_adjusted",
            "1",
            "p over the contrasts of one endpoint, clock, factor: of the exact test and of what "
            "may turn it by closed testing, of other measures, or of more than five contrasts, by "
            "Holm's method",
            "trivet.science.comparison.family:compare_groups",
        ),
        number(
            "smallest_attainable_p",
            "1",
            "smallest p that these groups could give",
            "trivet.science.survival.exact_log_rank:exact_log_rank",
        ),
        iso_date(
            "shown_on",
            "date of the weekly look at which a difference was shown, in the campaign's zone; on "
            "the primary test, where looks are planned",
            "trivet.science.comparison.sequential:sequential",
        ),
        text(
            "verdict",
            "different, equivalent, inconclusive or not estimable; on the primary test only",
            f"{_COMPARISON}:verdict",
        ),
        text(
            "reason",
            "why; or why a value is missing",
            "trivet.schema.findings.verdicts:verdict_reason",
        ),
    ),
    key=("endpoint", "clock", "factor", "group", "control", "measure"),
)


LOOKS = Table(
    "looks",
    "a look at a contrast, or at several contrasts together",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        text("groups", "groups tested, joined by ' + '", _LOOKS, required=True),
        text("control", "group compared with", _SHEET, required=True),
        iso_date("look", "date of the look, in the campaign's zone", _LOOK_TIMES, required=True),
        unix_time("time_s", "Unix time of the look", _LOOK_TIMES, required=True),
        number("fraction", "1", "share of the planned time", _LOOK_TIMES, required=True),
        number("may_spend", "1", "level that may be spent by then", f"{_LOOKS_OF}:spending"),
        number("statistic", "", "log-rank statistic of the lives known then", _LOOKS),
        number("p", "1", "exact p of that look alone", _LOOKS),
        number(
            "boundary",
            "",
            "smallest statistic that shows a difference; missing where none could",
            _LOOKS,
        ),
        number("nominal_level", "1", "share of relabellings that reach the boundary", _LOOKS),
        number("spent", "1", "share of relabellings that crossed by then", _LOOKS),
        truth("crossed", "1 where the boundary was crossed for the first time", _LOOKS),
    ),
    key=("endpoint", "clock", "factor", "groups", "control", "time_s"),
)


PLANNING = Table(
    "planning",
    "a number of cells, a true time ratio, and what could be shown",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        text("control", "group compared with", _SHEET, required=True),
        text(
            "purpose",
            "difference or equivalence, with cells at hand or planned, or the cells needed",
            "trivet.stages.planning.stage:run",
            required=True,
        ),
        count("cells", "cells in the group", "trivet.stages.planning.stage:run", required=True),
        count(
            "control_cells",
            "cells in the control",
            "trivet.stages.planning.stage:run",
            required=True,
        ),
        number(
            "time_ratio", "1", "true time ratio", "trivet.stages.planning.stage:run", required=True
        ),
        number(
            "spread",
            "1",
            "spread of log time seen",
            "trivet.science.survival.parametric:time_ratio",
        ),
        number(
            "censored_share", "1", "share of cells not ended", "trivet.stages.planning.stage:run"
        ),
        number("power", "1", "share of simulated campaigns that show it", _POWER),
        number("lower", "1", "lower 99 % Monte Carlo limit", _POWER),
        number("upper", "1", "upper 99 % Monte Carlo limit", _POWER),
        count("simulations", "campaigns simulated", _POWER),
        number("power_wanted", "1", "power that is wanted", "trivet.stages.planning.stage:run"),
        text("reason", "why a value is missing; a remark", "trivet.stages.planning.stage:run"),
    ),
    key=("endpoint", "clock", "factor", "group", "control", "purpose", "time_ratio", "cells"),
)


CELL_MEASURES = Table(
    "cell_measures",
    "a cell and a per-cell number",
    (
        CELL,
        text("measure", "name of the number", "trivet.stages.measures.stage:run", required=True),
        text("unit", "its unit", "trivet.stages.measures.stage:run"),
        number(
            "value",
            "",
            "the number, in the row's unit; missing where withheld",
            "trivet.stages.measures.stage:run",
        ),
        text("reason", "why it is missing; empty otherwise", "trivet.stages.measures.stage:run"),
    ),
    key=("cell", "measure"),
)


MEASURES = Table(
    "measures",
    "a contrast of a per-cell number",
    (
        text("measure", "name of the number", _MEASURE, required=True),
        text("unit", "its unit", _MEASURE),
        FACTOR,
        GROUP,
        text("control", "group compared with", _SHEET, required=True),
        count("cells", "cells in the group with a value", _MEASURE, required=True),
        count("control_cells", "cells in the control with a value", _MEASURE, required=True),
        count(
            "missing_cells",
            "cells of both without a value, withheld or not measured",
            _MEASURE,
            required=True,
        ),
        count(
            "withheld_cells",
            "of these, cells whose value is withheld because the reference was not trusted",
            "trivet.stages.measures.stage:run",
            required=True,
        ),
        number("difference", "", "Hodges-Lehmann difference, group less control", _MEASURE),
        number("lower", "", "lower limit by inverting the exact test", _MEASURE),
        number("upper", "", "upper limit by inverting the exact test", _MEASURE),
        number("p", "1", "exact two-sided p within batches", _MEASURE),
        number(
            "p_adjusted",
            "1",
            "p after Holm over the contrasts of one measure and factor",
            f"{_COMPARISON}:holm",
        ),
        number("smallest_attainable_p", "1", "smallest p that these groups could give", _MEASURE),
        number(
            "bound_lower",
            "",
            "difference if withheld cells of the group had the lowest value of all cells and those "
            "of the control the highest",
            _BOUNDS,
        ),
        number("bound_upper", "", "the same the other way round", _BOUNDS),
        number("group_spread", "", "standard deviation (n - 1) of the cells of the group", _SPREAD),
        number(
            "control_spread", "", "standard deviation (n - 1) of the cells of the control", _SPREAD
        ),
        text("reason", "why a value is missing; empty otherwise", _MEASURE),
    ),
    key=("measure", "factor", "group", "control"),
)
