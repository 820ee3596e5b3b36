"""Tables of cells, lifetimes and survival."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text, truth, unix_time
from trivet.schema.tables.shared import CELL, CLOCK, ENDPOINT, FACTOR, GROUP, given_by

_SHEET = "trivet.campaign.build_sheet:read_build_sheet"
_LIFETIME = "trivet.science.lives.cell_life"
_SURVIVAL = "trivet.science.survival.product_limit"
_PARAMETRIC = "trivet.science.survival.parametric"
_TURNBULL = "trivet.science.survival.interval_censored:turnbull"
_CAUSES = "trivet.science.survival.causes:cumulative_incidence"
_LIFE_ROWS = "trivet.stages.lifetime.rows:life_rows"
_GROUP_LIFE = "trivet.science.survival.group_life:group_life"
_ROUND_TIMES = "trivet.science.survival.group_life:round_times"
_LIFE_SETS = "trivet.campaign.life_sets:life_sets"
_SURVIVAL_ROWS = "trivet.stages.survival.stage:run"

CELLS = Table(
    "cells",
    "a cell as built",
    (
        CELL,
        text("batch", "cells built together", _SHEET, required=True),
        text("group", "value of the primary factor", _SHEET, required=True),
        truth(
            "included", "1 where the cell counts in the statistics, else 0", _SHEET, required=True
        ),
        text("exclusion_reason", "why it is excluded; empty otherwise", _SHEET),
        text(
            "status",
            "running, ended (cause), stopped, removed, paused, no data, no times (never cycled, "
            "its spectra without a time), excluded, or 'data end, not explained'",
            f"{_LIFETIME}:status",
            required=True,
        ),
        number(
            "mass_lost_mg_per_d",
            "mg/d",
            "mass that the closed cell lost from its first weighing in the bench log to its last, "
            "by the days between them; with fewer than two as the build sheet has it",
            "trivet.campaign.built.weighings:mass_lost_mg_per_d",
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
        given_by(ENDPOINT, _LIFE_ROWS),
        given_by(CLOCK, _LIFE_ROWS),
        number(
            "duration",
            "",
            "time to the end or to the last sight of it, on the row's clock; of a reference since "
            "its plating",
            _LIFE_ROWS,
        ),
        number("lower", "", "last time known to be good", _LIFE_ROWS),
        number(
            "upper",
            "",
            "first time known to be bad; missing where not reached",
            _LIFE_ROWS,
        ),
        number(
            "entry",
            "",
            "time from which the cell was under observation; missing: from the start of its clock",
            "trivet.campaign.lives_file:read_lifetimes",
        ),
        truth(
            "observed",
            "1 where the end was seen, 0 where censored",
            _LIFE_ROWS,
            required=True,
        ),
        text("cause", "cause of the end; empty where censored", _LIFE_ROWS),
        text(
            "censored_because",
            "why the end was not seen; empty where it was",
            _LIFE_ROWS,
        ),
        text("decided_by", "rule, bench log or table", _LIFE_ROWS, required=True),
        text(
            "evidence",
            "which cycle, which value, which limit",
            _LIFE_ROWS,
            required=True,
        ),
        text(
            "stop_reason",
            "why observation was stopped: planned, channel needed, equipment, looked bad, not "
            "stated, not explained; empty where the end was seen or the cell runs",
            _LIFE_ROWS,
        ),
        number(
            "known_h",
            "h",
            "hours since the clock start at which the end of a cell was known, with the last of "
            "the cycles that its rule asks for; missing where it was not seen",
            f"{_LIFETIME}:cell_life",
        ),
        unix_time(
            "start_s",
            "Unix time at which the clock of a cell starts; missing for references and for lives "
            "from a table",
            "trivet.campaign.build_sheet:read_build_sheet",
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
            _SURVIVAL_ROWS,
            required=True,
        ),
        count("at_risk", "cells at risk just before", _SURVIVAL_ROWS, required=True),
        count("events", "ends at this time", _SURVIVAL_ROWS, required=True),
        count("censored", "cells last seen at this time", _SURVIVAL_ROWS, required=True),
        number(
            "survival",
            "1",
            "product-limit estimate from this time on",
            _SURVIVAL_ROWS,
            required=True,
        ),
        number("standard_error", "1", "Greenwood's standard error", f"{_SURVIVAL}:product_limit"),
        number(
            "lower",
            "1",
            "lower limit, log-log; descriptive for few cells",
            f"{_SURVIVAL}:product_limit",
        ),
        number("upper", "1", "upper limit, log-log", f"{_SURVIVAL}:product_limit"),
        number(
            "plotting_position",
            "1",
            "share ended at the middle of the step; missing where nothing ended",
            "trivet.science.survival.probability_plot:plotting_positions",
        ),
        number(
            "beta_lower",
            "1",
            "lower limit at this time for few ends, beta product; missing with delayed entry",
            _GROUP_LIFE,
        ),
        number(
            "beta_upper",
            "1",
            "upper limit at this time for few ends, beta product",
            "trivet.science.survival.beta_product:beta_product_limits",
        ),
    ),
    key=("endpoint", "clock", "factor", "group", "time"),
)


SURVIVAL_INTERVALS = Table(
    "survival_intervals",
    "an interval that holds ends of lives known only between checks",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        number("lower", "", "the ends lie after this time", _TURNBULL, required=True),
        number("upper", "", "and not after this one", _TURNBULL, required=True),
        number("mass", "1", "share of cells that end in it", _TURNBULL, required=True),
        number("survival", "1", "share left after it", _TURNBULL, required=True),
    ),
    key=("endpoint", "clock", "factor", "group", "lower", "upper"),
)


AT_RISK = Table(
    "at_risk",
    "a group at a drawn time",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        number("time", "", "time on the row's clock", _ROUND_TIMES, required=True),
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
        count("cells", "cells in the group", _SURVIVAL_ROWS, required=True),
        count("events", "ends seen", _SURVIVAL_ROWS, required=True),
        number(
            "median",
            "",
            "first time with survival at most one half; missing: not reached",
            _SURVIVAL_ROWS,
        ),
        number(
            "median_lower",
            "",
            "lower limit of the median, log-log; descriptive for few cells",
            f"{_SURVIVAL}:median",
        ),
        number(
            "median_upper", "", "upper limit, log-log; missing: not reached", f"{_SURVIVAL}:median"
        ),
        number(
            "median_beta_lower",
            "",
            "lower limit of the median, beta product; 0: too few cells for one",
            "trivet.science.survival.beta_product:beta_product_median",
        ),
        number(
            "median_beta_upper",
            "",
            "upper limit, beta product; missing: not reached",
            "trivet.science.survival.beta_product:beta_product_median",
        ),
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
            _SURVIVAL_ROWS,
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
        text("reason", "why a value is missing; empty otherwise", _SURVIVAL_ROWS),
    ),
    key=("endpoint", "clock", "factor", "group"),
)


CAUSES = Table(
    "causes",
    "a step of a cumulative incidence",
    (
        ENDPOINT,
        CLOCK,
        FACTOR,
        GROUP,
        text("cause", "cause of the end", _LIFE_SETS, required=True),
        number(
            "time",
            "",
            "time of the step on the row's clock",
            _CAUSES,
            required=True,
        ),
        number(
            "incidence",
            "1",
            "share ended from this cause by this time",
            _CAUSES,
            required=True,
        ),
        number("lower", "1", "lower limit, log-log", _CAUSES),
        number("upper", "1", "upper limit, log-log", _CAUSES),
    ),
    key=("endpoint", "clock", "factor", "group", "cause", "time"),
)
