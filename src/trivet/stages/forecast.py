"""Forecast when running cells reach their limit of capacity, and judge past forecasts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.campaign.interim import cut_moment
from trivet.reasons import Censored
from trivet.schema.settings.inference import CapacityEnd
from trivet.schema.tables.dictionary import TABLES
from trivet.science.forecast.interval import (
    Experience,
    NoForecast,
    Outlook,
    experience,
    forecast,
    outlook,
)
from trivet.science.forecast.record import Record, Unit, record
from trivet.science.lives.ends import CAPACITY
from trivet.stages.job import Job
from trivet.store.group_by_cell import Columns, split_by_cell
from trivet.store.tables import rows_table

CLOCKS = {"hours": ("end_h", "1/h"), "cycles": ("cycle", "1/cycle")}
"""Clock -> column of cycles that holds it, and the unit of a slope of retention on it."""
SOON_D = 7.0
"""Days after the data cut that count as soon."""
_WEEK_H = 168.0
_DAY_H = 24.0

Row = dict[str, Any]


def run(
    *,
    cycles: pa.Table,
    lifetimes: pa.Table,
    cut: datetime | None,
    capacity: CapacityEnd,
    confidence: float,
) -> tuple[pa.Table, pa.Table]:
    """Forecast all running cells on both clocks.

    Parameters
    ----------
    cycles, lifetimes : pyarrow.Table
        Tables of these names.
    cut : datetime or None
        Data cut, with the zone of the campaign; None where it is not known.
    capacity : CapacityEnd
        Settings of the end by capacity.
    confidence : float
        Confidence of the intervals [1].

    Returns
    -------
    tuple of pyarrow.Table
        Tables `forecasts` and `forecast_coverage`.
    """
    of_cell = split_by_cell(cycles)
    lives = [row for row in lifetimes.to_pylist() if row["endpoint"] == "cell"]
    hours = {row["cell"]: row for row in lives if row["clock"] == "hours"}
    cut_h = math.nan if cut is None else cut.timestamp() / 3600.0
    made: list[Row] = []
    weeks: list[Row] = []
    for clock, (column, _) in CLOCKS.items():
        own = [row for row in lives if row["clock"] == clock]
        readings = {row["cell"]: _readings(of_cell.of(row["cell"])) for row in own}
        units = [
            _unit(row, hours[row["cell"]], readings[row["cell"]], column)
            for row in own
            if row["start_s"] is not None and hours[row["cell"]]["duration"] is not None
        ]
        past = _record(units, cut_h, capacity.retention_below, confidence)
        for row in own:
            if row["censored_because"] == Censored.RUNNING:
                seen = readings[row["cell"]]
                outlook_now = outlook(
                    seen[column].astype(float),
                    seen["retention"],
                    limit=capacity.retention_below,
                    falling=True,
                )
                line = _line(row, outlook_now, past.learnt, capacity.retention_below, confidence)
                made.append(line | _days(line, row, cut_h))
        weeks += _weeks(past, clock, cut)
    return (
        rows_table(TABLES["forecasts"], made),
        rows_table(TABLES["forecast_coverage"], weeks),
    )


def _readings(cycles: Columns) -> Columns:
    """Complete ageing cycles of a cell that have a retention, as the rule of the end takes them."""
    taken = (
        (cycles["kind"] == "ageing")
        & (cycles["complete"] == 1)
        & np.isfinite(cycles["retention"])
        & np.isfinite(cycles["end_h"])
    )
    return {name: cycles[name][taken] for name in ("end_h", "cycle", "retention")}


def _unit(row: Row, hours: Row, readings: Columns, column: str) -> Unit:
    """One cell as the record of forecasts sees it; calendar times in hours since 1970."""
    begun = row["start_s"] / 3600.0
    by_limit = bool(row["observed"]) and row["cause"] == CAPACITY and row["known_h"] is not None
    last_h = hours["duration"] if row["known_h"] is None else row["known_h"]
    running = row["censored_because"] == Censored.RUNNING
    return Unit(
        moment=begun + readings["end_h"],
        time=readings[column].astype(float),
        reading=readings["retention"],
        begun=begun,
        over=math.inf if running else begun + last_h,
        end=float(row["duration"]) if by_limit else math.nan,
        by_limit=by_limit,
    )


def _record(units: Sequence[Unit], cut_h: float, limit: float, confidence: float) -> Record:
    """Past forecasts; none where no calendar is known, so that the default stands."""
    if math.isnan(cut_h):
        return Record((), experience([], ends=[], confidence=confidence))
    return record(units, now=cut_h, every=_WEEK_H, limit=limit, falling=True, confidence=confidence)


def _line(row: Row, made: Outlook, learnt: Experience, limit: float, confidence: float) -> Row:
    """Row of one cell and clock."""
    found = forecast(made, learnt)
    return {
        "cell": row["cell"],
        "clock": row["clock"],
        "made_at": made.now,
        "limit": limit,
        "line": math.nan if made.reason else made.line.time,
        "estimate": found.estimate,
        "lower": found.lower,
        "upper": found.upper,
        "confidence": confidence,
        "readings": made.line.readings,
        "effective_readings": made.line.effective,
        "slope": made.line.slope,
        "slope_unit": CLOCKS[row["clock"]][1],
        "cells_learnt_from": learnt.ends,
        "reason": str(made.reason),
    }


def _days(line: Row, row: Row, cut_h: float) -> Row:
    """Days from the data cut, on the clock of hours; from the last row where no start is known."""
    if row["clock"] != "hours":
        return dict.fromkeys(("estimate_in_d", "lower_in_d", "upper_in_d", "soon"))
    known = row["start_s"] is not None and not math.isnan(cut_h)
    now_h = cut_h - row["start_s"] / 3600.0 if known else row["duration"]
    days = {
        f"{name}_in_d": max(0.0, (line[name] - now_h) / _DAY_H)
        if math.isfinite(line[name])
        else math.nan
        for name in ("estimate", "lower", "upper")
    }
    soon = days["lower_in_d"] <= SOON_D or line["reason"] == NoForecast.AT_LIMIT
    return days | {"soon": int(soon)}


def _weeks(past: Record, clock: str, cut: datetime | None) -> list[Row]:
    """Rows of the weeks that saw a forecast."""
    zone = None if cut is None else cut.tzinfo
    return [
        {
            "clock": clock,
            "week": datetime.fromtimestamp(week.moment * 3600.0, zone).date().isoformat(),
            "time_s": week.moment * 3600.0,
            "forecasts": week.forecasts,
            "ended": week.ended,
            "inside": week.inside,
            "ended_otherwise": week.ended_otherwise,
            "cells_learnt_from": week.learnt_from,
        }
        for week in past.weeks
        if week.forecasts
    ]


def work(job: Job) -> dict[str, pa.Table]:
    """Forecast the running cells of the campaign."""
    campaign = job.settings["campaign"]
    cut = cut_moment(
        time_zone=campaign["time_zone"],
        data_cut=campaign["data_cut"],
        ledger=job.table("ledger"),
    )
    forecasts, coverage = run(
        **job.tables("cycles", "lifetimes"),
        cut=cut,
        capacity=CapacityEnd.model_validate(job.settings["lifetime"]["capacity"]),
        confidence=job.settings["comparison"]["confidence"],
    )
    return {"forecasts": forecasts, "forecast_coverage": coverage}
