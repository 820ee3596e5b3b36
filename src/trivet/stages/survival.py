"""Estimate survival by group and compare the groups with their control.

Settings
--------
survival, comparison, lifetime (primary_clock), campaign (planned_end, time_zone, data_cut).

Reads
-----
cells, lifetimes; ledger for the last time in the data.

Writes
------
survival, at_risk, life_summary, comparisons, causes, findings_survival.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.io.interim import interim_mark
from trivet.io.life_sets import LifeSet, life_sets
from trivet.io.store import make_table, read_table, write_table
from trivet.records.findings import Finding, finding_columns
from trivet.records.inference_settings import Comparison, Survival
from trivet.records.tables import TABLES
from trivet.records.verdicts import Grounds, unlike_follow_up, verdict_reason
from trivet.science.causes import cumulative_incidence
from trivet.science.contrast import Drawing, Measure
from trivet.science.family import Judged, Rules, compare_groups
from trivet.science.group_life import group_life, restriction_time, round_times
from trivet.science.survival import at_risk
from trivet.stages.command import parse, spare_pandas

RESULTS = ("survival", "at_risk", "life_summary", "comparisons", "causes")

UNLIKE_P = 0.1
"""p of the test on the times of censoring at which follow-up is called unlike (common practice,
no source): it has little power with few cells."""

Row = dict[str, Any]


@dataclass(frozen=True)
class SurvivalTables:
    """What the stage gives: tables of these names."""

    survival: pa.Table
    at_risk: pa.Table
    life_summary: pa.Table
    comparisons: pa.Table
    causes: pa.Table
    findings: pa.Table


@dataclass(frozen=True)
class _Plan:
    """What was decided before the data: settings, the clock that decides, the interim mark."""

    survival: Survival
    comparison: Comparison
    primary_clock: str
    interim: str


def run(
    *,
    cells: pa.Table,
    lifetimes: pa.Table,
    survival: Survival,
    comparison: Comparison,
    primary_clock: str,
    interim: str = "",
) -> SurvivalTables:
    """Estimate and compare.

    Parameters
    ----------
    cells, lifetimes : pyarrow.Table
        Tables of these names.
    survival, comparison : Survival, Comparison
        Settings.
    primary_clock : str
        Clock that decides, `hours` or `cycles`.
    interim : str
        Mark of an interim look, a sentence without full stop; empty for a final one.

    Returns
    -------
    SurvivalTables
    """
    plan = _Plan(survival, comparison, primary_clock, interim)
    sets, found = life_sets(cells, lifetimes=lifetimes, factors=comparison.factors)
    rows: dict[str, list[Row]] = {name: [] for name in RESULTS}
    for lives in sets:
        restriction = _restriction(lives, comparison)
        times = round_times(float(lives.duration.max()))
        for place in np.unique(lives.group):
            _describe(rows, lives, int(place), restriction, times, comparison.confidence)
        compared, unlike = _compare(lives, restriction, plan)
        rows["comparisons"] += compared
        found += unlike
    tables = {
        name: make_table(TABLES[name], {c: [row.get(c) for row in own] for c in TABLES[name].names})
        for name, own in rows.items()
    }
    findings = make_table(TABLES["findings"], finding_columns(found))
    return SurvivalTables(**tables, findings=findings)


def _restriction(lives: LifeSet, comparison: Comparison) -> float:
    """Upper end of the restricted means: as set, else the shortest follow-up of the groups."""
    stated = {"hours": comparison.restriction_h, "cycles": comparison.restriction_cycles}
    value = stated[lives.clock]
    return restriction_time(lives.duration, group=lives.group) if value is None else value


def _describe(
    rows: Mapping[str, list[Row]],
    lives: LifeSet,
    place: int,
    restriction: float,
    times: np.ndarray,
    confidence: float,
) -> None:
    """Add the rows of one group on its own."""
    own = lives.group == place
    duration, observed = lives.duration[own], lives.observed[own]
    base = lives.about(lives.groups[place])
    life = group_life(
        duration, observed=observed, restriction_time=restriction, confidence=confidence
    )
    names = ("time", "at_risk", "events", "censored", "survival", "standard_error",
             "lower", "upper")  # fmt: skip
    rows["survival"] += [
        base | {name: getattr(life.curve, name)[step] for name in names}
        for step in range(len(life.curve.time))
    ]
    rows["at_risk"] += [
        base | {"time": time, "at_risk": int(count)}
        for time, count in zip(times, at_risk(duration, at=times), strict=True)
    ]
    summary: Row = {
        "cells": life.cells,
        "events": life.events,
        "median": life.median.median,
        "median_lower": life.median.lower,
        "median_upper": life.median.upper,
        "restricted_mean": life.restricted_mean.mean,
        "restricted_mean_se": life.restricted_mean.standard_error,
        "restriction_time": restriction,
        "reason": life.reason,
    }
    for name, value, interval in (
        ("weibull_shape", life.weibull.shape, life.weibull.shape_interval),
        ("weibull_scale", life.weibull.scale, life.weibull.scale_interval),
        ("b10", life.weibull.b10, life.weibull.b10_interval),
    ):
        summary |= {name: value, f"{name}_lower": interval.lower, f"{name}_upper": interval.upper}
    rows["life_summary"].append(base | summary)
    rows["causes"] += _cause_rows(lives, own, base, confidence)


def _cause_rows(lives: LifeSet, own: np.ndarray, base: Row, confidence: float) -> list[Row]:
    """Incidence of each cause of the endpoint at each end in one group."""
    given = cumulative_incidence(
        lives.duration[own],
        cause=lives.cause[own],
        causes=len(lives.causes),
        confidence=confidence,
    )
    return [
        base
        | {
            "cause": cause,
            "time": time,
            "incidence": given.incidence[place, step],
            "lower": given.lower[place, step],
            "upper": given.upper[place, step],
        }
        for place, cause in enumerate(lives.causes)
        for step, time in enumerate(given.time)
    ]


def _compare(lives: LifeSet, restriction: float, plan: _Plan) -> tuple[list[Row], list[Finding]]:
    """Rows of all contrasts of one set of lives, and the groups that were not followed alike."""
    given = plan.survival
    family = compare_groups(
        lives.duration,
        observed=lives.observed,
        group=lives.group,
        batch=lives.batch,
        groups=len(lives.groups),
        restriction_time=restriction,
        rules=Rules(
            confidence=plan.comparison.confidence,
            margin=plan.comparison.equivalence_margin,
            stratify=plan.comparison.stratify_by == "batch",
            drawing=Drawing(given.enumeration_limit, given.monte_carlo_draws, given.seed),
        ),
    )
    control, rows, found = lives.groups[0], [], []
    for place, judged in enumerate(family.contrasts, start=1):
        group, own = lives.groups[place], lives.group == place
        mine = [
            _row(lives, measure, group, control, own) | {"p_adjusted": adjusted}
            for measure, adjusted in zip(judged.contrast.measures, judged.p_adjusted, strict=True)
        ]
        reason = verdict_reason(judged.verdict, grounds=_grounds(mine[0], judged, plan))
        mine[0] |= {"verdict": judged.verdict, "reason": reason}
        rows += mine
        if judged.unlike_p <= UNLIKE_P and lives.clock == plan.primary_clock:
            found.append(
                unlike_follow_up(
                    factor=lives.factor, endpoint=lives.endpoint, group=group, control=control,
                    p=judged.unlike_p, limit=UNLIKE_P,
                )
            )  # fmt: skip
    rows += [_row(lives, each, "all", "all", lives.group >= 0) for each in family.overall]
    return rows, found


def _row(lives: LifeSet, measure: Measure, group: str, control: str, own: np.ndarray) -> Row:
    """One measure as a row."""
    reference = lives.group == 0
    values = asdict(measure)
    return {
        **lives.about(group),
        "control": control,
        "stratified_by": "batch" if values.pop("stratified") else "",
        "cells": int(own.sum()),
        "events": int(lives.observed[own].sum()),
        "control_cells": int(reference.sum()),
        "control_events": int(lives.observed[reference].sum()),
        **values,
    }


def _grounds(row: Row, judged: Judged, plan: _Plan) -> Grounds:
    """What the verdict of a contrast rests on, from its primary row."""
    effect = judged.contrast.measure("time ratio")
    same = judged.contrast.measure("time ratio for equivalence")
    copied = ("endpoint", "clock", "group", "control", "cells", "events", "control_cells",
              "control_events", "p", "p_adjusted", "smallest_attainable_p")  # fmt: skip
    limits = ("lower", "upper", "confidence")
    return Grounds(
        **{name: row[name] for name in copied},
        primary_clock=plan.primary_clock,
        longer=judged.contrast.exact.statistic < 0,
        drawn=row["reason"] if judged.contrast.exact.draws else "",
        undecided=judged.undecided,
        estimate=effect.estimate,
        **{name: getattr(effect, name) for name in limits},
        **{f"same_{name}": getattr(same, name) for name in limits},
        no_ratio=judged.contrast.ratio.reason,
        margin=plan.comparison.equivalence_margin,
        alpha=1 - plan.comparison.confidence,
        confounded=judged.confounded,
        idle_cells=judged.idle_cells,
        interim=plan.interim,
    )


def main(argv: Sequence[str] | None = None) -> None:
    """Run from the command line.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments without the program.
    """
    command = parse(argv, (__doc__ or "").splitlines()[0])
    cells, lifetimes, ledger = command.inputs
    interim, found = interim_mark(
        ledger=read_table(TABLES["ledger"], ledger), **command.settings["campaign"]
    )
    given = run(
        cells=read_table(TABLES["cells"], cells),
        lifetimes=read_table(TABLES["lifetimes"], lifetimes),
        survival=Survival.model_validate(command.settings["survival"]),
        comparison=Comparison.model_validate(command.settings["comparison"]),
        primary_clock=command.settings["lifetime"]["primary_clock"],
        interim=interim,
    )
    for name in RESULTS:
        write_table(TABLES[name], getattr(given, name), command.out / f"{name}.parquet")
    noted = make_table(TABLES["findings"], finding_columns(found))
    findings = pa.concat_tables([noted, given.findings])
    write_table(TABLES["findings"], findings, command.out / "findings_survival.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
