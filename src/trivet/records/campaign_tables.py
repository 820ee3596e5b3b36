"""Tables of the whole campaign: lifetimes, survival, comparisons; and the list of all tables."""

from __future__ import annotations

from trivet.records.cell_tables import (
    CELL,
    CYCLES,
    ELECTRODE_CYCLES,
    EXCURSIONS,
    FINDINGS,
    LEDGER,
    POTENTIAL_CURVES,
    REFERENCE_CHECKS,
    SERIES,
    SPECTRA,
    SPECTRUM_CURVES,
    SPECTRUM_POINTS,
    TIMELINE,
)
from trivet.records.columns import Table, count, number, text

_SHEET = "trivet.io.build_sheet:read_build_sheet"
_LIFETIME = "trivet.science.lifetime"
_SURVIVAL = "trivet.science.survival"
_COMPARISON = "trivet.science.comparison"
_PARAMETRIC = "trivet.science.parametric"

GROUP = text("group", "value of the build factor", _SHEET, required=True)
ENDPOINT = text("endpoint", "cell or reference", f"{_LIFETIME}:cell_life", required=True)
CLOCK = text("clock", "hours or cycles", f"{_LIFETIME}:cell_life", required=True)
FACTOR = text("factor", "build factor whose values are the groups", _SHEET, required=True)

CELLS = Table(
    "cells",
    "a cell as built",
    (
        CELL,
        text("batch", "cells built together", _SHEET, required=True),
        text("group", "value of the primary factor", _SHEET, required=True),
        count(
            "included", "1 where the cell counts in the statistics, else 0", _SHEET, required=True
        ),
        text("exclusion_reason", "why it is excluded; empty otherwise", _SHEET),
        text(
            "status",
            "running, ended (cause), stopped, no data, excluded",
            f"{_LIFETIME}:status",
            required=True,
        ),
    ),
    key=("cell",),
    open_ended=True,
)

LIFETIMES = Table(
    "lifetimes",
    "a cell, an endpoint and a clock",
    (
        CELL,
        GROUP,
        text("batch", "cells built together", _SHEET, required=True),
        ENDPOINT,
        CLOCK,
        number(
            "duration",
            "",
            "time to the end or to the last sight of it, on the row's clock",
            f"{_LIFETIME}:cell_life",
        ),
        number("lower", "", "last time known to be good", f"{_LIFETIME}:cell_life"),
        number(
            "upper",
            "",
            "first time known to be bad; missing where not reached",
            f"{_LIFETIME}:cell_life",
        ),
        count(
            "observed",
            "1 where the end was seen, 0 where censored",
            f"{_LIFETIME}:cell_life",
            required=True,
        ),
        text("cause", "cause of the end; empty where censored", f"{_LIFETIME}:cell_life"),
        text(
            "censored_because",
            "why the end was not seen; empty where it was",
            f"{_LIFETIME}:cell_life",
        ),
        text("decided_by", "rule, bench log or table", f"{_LIFETIME}:cell_life", required=True),
        text(
            "evidence",
            "which cycle, which value, which limit",
            f"{_LIFETIME}:cell_life",
            required=True,
        ),
    ),
    key=("cell", "endpoint", "clock"),
)

SURVIVAL = Table(
    "survival",
    "a step of a curve",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        number(
            "time",
            "",
            "time of the step on the row's clock",
            f"{_SURVIVAL}:product_limit",
            required=True,
        ),
        count("at_risk", "cells at risk just before", f"{_SURVIVAL}:product_limit", required=True),
        count("events", "ends at this time", f"{_SURVIVAL}:product_limit", required=True),
        count(
            "censored", "cells last seen at this time", f"{_SURVIVAL}:product_limit", required=True
        ),
        number(
            "survival",
            "1",
            "product-limit estimate from this time on",
            f"{_SURVIVAL}:product_limit",
            required=True,
        ),
        number("standard_error", "1", "Greenwood's standard error", f"{_SURVIVAL}:product_limit"),
        number("lower", "1", "lower limit, log-log", f"{_SURVIVAL}:product_limit"),
        number("upper", "1", "upper limit, log-log", f"{_SURVIVAL}:product_limit"),
    ),
    key=("endpoint", "clock", "factor", "group", "time"),
)

AT_RISK = Table(
    "at_risk",
    "a group at a drawn time",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        number("time", "", "time on the row's clock", f"{_SURVIVAL}:at_risk", required=True),
        count("at_risk", "cells still at risk", f"{_SURVIVAL}:at_risk", required=True),
    ),
    key=("endpoint", "clock", "factor", "group", "time"),
)

LIFE_SUMMARY = Table(
    "life_summary",
    "a group",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        count("cells", "cells in the group", f"{_SURVIVAL}:product_limit", required=True),
        count("events", "ends seen", f"{_SURVIVAL}:product_limit", required=True),
        number(
            "median",
            "",
            "first time with survival at most one half; missing: not reached",
            f"{_SURVIVAL}:median",
        ),
        number("median_lower", "", "lower limit of the median", f"{_SURVIVAL}:median"),
        number("median_upper", "", "upper limit; missing: not reached", f"{_SURVIVAL}:median"),
        number(
            "restricted_mean",
            "",
            "area under the curve up to the restriction time",
            f"{_SURVIVAL}:restricted_mean",
        ),
        number("restricted_mean_se", "", "its standard error", f"{_SURVIVAL}:restricted_mean"),
        number(
            "restriction_time",
            "",
            "upper end of the restricted mean",
            f"{_SURVIVAL}:restricted_mean",
        ),
        number("weibull_shape", "1", "Weibull shape", f"{_PARAMETRIC}:weibull"),
        number("weibull_shape_lower", "1", "its lower limit", f"{_PARAMETRIC}:weibull"),
        number("weibull_shape_upper", "1", "its upper limit", f"{_PARAMETRIC}:weibull"),
        number("weibull_scale", "", "Weibull scale", f"{_PARAMETRIC}:weibull"),
        number("weibull_scale_lower", "", "its lower limit", f"{_PARAMETRIC}:weibull"),
        number("weibull_scale_upper", "", "its upper limit", f"{_PARAMETRIC}:weibull"),
        number("b10", "", "time by which one in ten has ended", f"{_PARAMETRIC}:weibull"),
        number("b10_lower", "", "its lower limit", f"{_PARAMETRIC}:weibull"),
        number("b10_upper", "", "its upper limit", f"{_PARAMETRIC}:weibull"),
        text("reason", "why a value is missing; empty otherwise", f"{_PARAMETRIC}:weibull"),
    ),
    key=("endpoint", "clock", "factor", "group"),
)

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
            f"{_COMPARISON}:exact_log_rank",
        ),
        text(
            "measure",
            "exact log-rank, log-rank, time ratio, hazard ratio, ...",
            f"{_COMPARISON}:contrast",
            required=True,
        ),
        count("cells", "cells in the group", f"{_COMPARISON}:contrast", required=True),
        count("events", "ends seen in the group", f"{_COMPARISON}:contrast", required=True),
        count("control_cells", "cells in the control", f"{_COMPARISON}:contrast", required=True),
        count(
            "control_events", "ends seen in the control", f"{_COMPARISON}:contrast", required=True
        ),
        number("statistic", "1", "test statistic", f"{_COMPARISON}:contrast"),
        number(
            "observed_events", "1", "ends seen in the group, over strata", f"{_COMPARISON}:log_rank"
        ),
        number(
            "expected_events",
            "1",
            "ends expected in the group, over strata",
            f"{_COMPARISON}:log_rank",
        ),
        number("estimate", "", "effect of group over control", f"{_COMPARISON}:contrast"),
        number("lower", "", "lower limit", f"{_COMPARISON}:contrast"),
        number("upper", "", "upper limit", f"{_COMPARISON}:contrast"),
        number("confidence", "1", "confidence of the interval", f"{_COMPARISON}:contrast"),
        number("p", "1", "two-sided p", f"{_COMPARISON}:contrast"),
        number(
            "p_adjusted",
            "1",
            "p after Holm over the contrasts of one endpoint, clock, factor",
            f"{_COMPARISON}:holm",
        ),
        number(
            "smallest_attainable_p",
            "1",
            "smallest p that these groups could give",
            f"{_COMPARISON}:exact_log_rank",
        ),
        text(
            "verdict",
            "different, equivalent, inconclusive or not estimable; on the primary test only",
            f"{_COMPARISON}:verdict",
        ),
        text("reason", "why; or why a value is missing", f"{_COMPARISON}:verdict"),
    ),
    key=("endpoint", "clock", "factor", "group", "control", "measure"),
)

CAUSES = Table(
    "causes",
    "a step of a cumulative incidence",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        text("cause", "cause of the end", f"{_LIFETIME}:cell_life", required=True),
        number(
            "time",
            "",
            "time of the step on the row's clock",
            f"{_SURVIVAL}:cumulative_incidence",
            required=True,
        ),
        number(
            "incidence",
            "1",
            "share ended from this cause by this time",
            f"{_SURVIVAL}:cumulative_incidence",
            required=True,
        ),
        number("lower", "1", "lower limit, log-log", f"{_SURVIVAL}:cumulative_incidence"),
        number("upper", "1", "upper limit, log-log", f"{_SURVIVAL}:cumulative_incidence"),
    ),
    key=("endpoint", "clock", "factor", "group", "cause", "time"),
)

_MEASURE = "trivet.science.measures:permutation_difference"
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
        text("reason", "why a value is missing; empty otherwise", _MEASURE),
    ),
    key=("measure", "factor", "group", "control"),
)

CELL_MEASURES = Table(
    "cell_measures",
    "a cell and a per-cell number",
    (
        CELL,
        text("measure", "name of the number", "trivet.stages.measures:run", required=True),
        text("unit", "its unit", "trivet.stages.measures:run"),
        number(
            "value",
            "",
            "the number, in the row's unit; missing where withheld",
            "trivet.stages.measures:run",
        ),
        text("reason", "why it is missing; empty otherwise", "trivet.stages.measures:run"),
    ),
    key=("cell", "measure"),
)

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        CELLS,
        CYCLES,
        ELECTRODE_CYCLES,
        REFERENCE_CHECKS,
        SPECTRA,
        LIFETIMES,
        SURVIVAL,
        LIFE_SUMMARY,
        COMPARISONS,
        CAUSES,
        MEASURES,
        FINDINGS,
        LEDGER,
        TIMELINE,
        AT_RISK,
        EXCURSIONS,
        CELL_MEASURES,
        POTENTIAL_CURVES,
        SPECTRUM_CURVES,
        SERIES,
        SPECTRUM_POINTS,
    )
}
"""Every table by name; those with `archived` stand under `tables/`."""
