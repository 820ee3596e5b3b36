"""Tables of forecasts: when running cells reach their limit, and how past forecasts fared."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, iso_date, number, text, truth, unix_time
from trivet.schema.tables.shared import CELL, CLOCK, given_by

_LINE = "trivet.science.forecast.line:crossing_of_trend"
_OUTLOOK = "trivet.science.forecast.interval:outlook"
_INTERVAL = "trivet.science.forecast.interval:forecast"
_LEARNT = "trivet.science.forecast.interval:experience"
_RECORD = "trivet.science.forecast.record:record"
_ROWS = "trivet.stages.forecast:run"

FORECASTS = Table(
    "forecasts",
    "a running cell, a clock, and when its capacity reaches the limit",
    (
        CELL,
        given_by(CLOCK, _ROWS),
        number(
            "made_at",
            "",
            "end of its last ageing cycle, on the row's clock; missing without one",
            _OUTLOOK,
        ),
        number("limit", "1", "retention below which a cell ends", _ROWS, required=True),
        number(
            "line",
            "",
            "time at which the straight line through its readings is at the limit; missing where "
            "there is no forecast",
            _LINE,
        ),
        number(
            "estimate",
            "",
            "the same, moved as lines of cells that have ended were off; missing with a reason",
            _INTERVAL,
        ),
        number("lower", "", "lower limit of its prediction interval", _INTERVAL),
        number("upper", "", "upper limit of its prediction interval", _INTERVAL),
        number("confidence", "1", "confidence of the interval", _ROWS, required=True),
        number("estimate_in_d", "d", "days from the data cut to the estimate; hours only", _ROWS),
        number("lower_in_d", "d", "days from the data cut to the lower limit, at least 0", _ROWS),
        number("upper_in_d", "d", "days from the data cut to the upper limit, at least 0", _ROWS),
        truth(
            "soon",
            "1 where the interval reaches into the seven days after the data cut, or the cell is "
            "below the limit already; on the clock of hours only",
            _ROWS,
        ),
        count("readings", "complete ageing cycles with a retention", _LINE, required=True),
        number(
            "effective_readings",
            "1",
            "readings that would tell as much if they did not follow each other",
            "trivet.science.forecast.line:effective_readings",
        ),
        number("slope", "", "slope of the line, in slope_unit", _LINE),
        text("slope_unit", "1/h or 1/cycle", _ROWS, required=True),
        count(
            "cells_learnt_from",
            "cells ended by capacity whose past forecasts shape the interval; 0: the default",
            _LEARNT,
            required=True,
        ),
        text("reason", "why there is no forecast; empty where there is one", _OUTLOOK),
    ),
    key=("cell", "clock"),
)

FORECAST_COVERAGE = Table(
    "forecast_coverage",
    "a past week and a clock, and how the forecasts that would have been made then have fared",
    (
        given_by(CLOCK, _ROWS),
        iso_date("week", "date of the week's cut, in the campaign's zone", _ROWS, required=True),
        unix_time("time_s", "Unix time of the cut", _RECORD, required=True),
        count("forecasts", "cells that had a forecast then", _RECORD, required=True),
        count("ended", "cells of these ended by capacity since", _RECORD, required=True),
        count("inside", "cells of these whose interval held the end", _RECORD, required=True),
        count(
            "ended_otherwise",
            "cells that had a forecast and ended by another cause since, or were stopped",
            _RECORD,
            required=True,
        ),
        count(
            "cells_learnt_from",
            "cells ended by capacity by then, whose forecasts shaped the intervals; 0: the default",
            _LEARNT,
            required=True,
        ),
    ),
    key=("clock", "time_s"),
)
