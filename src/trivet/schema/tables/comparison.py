"""Tables of comparisons between groups."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, iso_date, number, text, truth, unix_time
from trivet.schema.tables.shared import CELL, CLOCK, ENDPOINT, FACTOR, GROUP, given_by

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
_COMPARED = "trivet.stages.survival.rows:compare"
_FAMILY = "trivet.science.comparison.family:compare_groups"
_PLANNED = "trivet.stages.planning.stage:run"
_CONTRASTED = "trivet.stages.measures.stage:run"

COMPARISONS = Table(
    "comparisons",
    "a contrast and a measure",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        given_by(GROUP, _COMPARED),
        text("control", "group compared with; 'all' for an overall test", _COMPARED, required=True),
        text(
            "stratified_by",
            "what stratifies; empty where nothing does",
            _COMPARED,
        ),
        text(
            "measure",
            "exact log-rank, log-rank, time ratio, hazard ratio, ...",
            _FAMILY,
            required=True,
        ),
        count(
            "cells",
            "cells in the group; in all groups for an overall test",
            _COMPARED,
            required=True,
        ),
        count(
            "events",
            "ends seen in the group; in all groups for an overall test",
            _COMPARED,
            required=True,
        ),
        count("control_cells", "cells in the control", _COMPARED, required=True),
        count("control_events", "ends seen in the control", _COMPARED, required=True),
        number("statistic", "1", "test statistic", _FAMILY),
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
        number("p", "1", "two-sided p", _FAMILY),
        number(
            "p_adjusted",
            "1",
            "p over the contrasts of one endpoint, clock, factor: of the exact test and of what "
            "may turn it by closed testing, of other measures, or of more than five contrasts, by "
            "Holm's method",
            _FAMILY,
        ),
        number(
            "smallest_attainable_p",
            "1",
            "smallest p that these groups could give",
            _FAMILY,
        ),
        iso_date(
            "shown_on",
            "date of the weekly look at which a difference was shown, in the campaign's zone; on "
            "the primary test, where looks are planned",
            _COMPARED,
        ),
        text(
            "verdict",
            "different, equivalent, inconclusive or not estimable; on the primary test only",
            f"{_COMPARISON}:verdict",
        ),
        text(
            "reason",
            "why; or why a value is missing",
            _COMPARED,
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
        text("groups", "groups tested, joined by ' + '", _COMPARED, required=True),
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
            _PLANNED,
            required=True,
        ),
        count("cells", "cells in the group", _PLANNED, required=True),
        count("control_cells", "cells in the control", _PLANNED, required=True),
        number("time_ratio", "1", "true time ratio", _PLANNED, required=True),
        number(
            "spread",
            "1",
            "spread of log time seen",
            _PLANNED,
        ),
        number("censored_share", "1", "share of cells not ended", _PLANNED),
        number("power", "1", "share of simulated campaigns that show it", _PLANNED),
        number("lower", "1", "lower 99 % Monte Carlo limit", _PLANNED),
        number("upper", "1", "upper 99 % Monte Carlo limit", _PLANNED),
        count("simulations", "campaigns simulated", _POWER),
        number("power_wanted", "1", "power that is wanted", _PLANNED),
        text("reason", "why a value is missing; a remark", _PLANNED),
    ),
    key=("endpoint", "clock", "factor", "group", "control", "purpose", "time_ratio", "cells"),
)


CELL_MEASURES = Table(
    "cell_measures",
    "a cell and a per-cell number",
    (
        CELL,
        text("measure", "name of the number", _CONTRASTED, required=True),
        text("unit", "its unit", _CONTRASTED),
        number(
            "value",
            "",
            "the number, in the row's unit; missing where withheld",
            _CONTRASTED,
        ),
        text("reason", "why it is missing; empty otherwise", _CONTRASTED),
    ),
    key=("cell", "measure"),
)


MEASURES = Table(
    "measures",
    "a contrast of a per-cell number",
    (
        text("measure", "name of the number", _CONTRASTED, required=True),
        text("unit", "its unit", _CONTRASTED),
        given_by(FACTOR, _CONTRASTED),
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
            _CONTRASTED,
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
