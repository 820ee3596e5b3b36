"""Rows of the survival tables: each group on its own, and the contrasts of a set of lives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from trivet.campaign.life_sets import LifeSet
from trivet.reasons import AtLooks
from trivet.schema.findings.finding import Finding
from trivet.schema.findings.verdicts import Grounds, Tipping, unlike_follow_up, verdict_reason
from trivet.schema.settings.inference import Comparison, Survival
from trivet.science.comparison.contrast import MonteCarlo
from trivet.science.comparison.contrast_measures import Measure
from trivet.science.comparison.family import ContrastVerdict, Rules, compare_groups
from trivet.science.comparison.sensitivity import UNLIKE_P
from trivet.science.survival.causes import cumulative_incidence
from trivet.science.survival.group_life import (
    GroupLife,
    between_checks,
    group_life,
    restriction_time,
)
from trivet.science.survival.interval_censored import turnbull
from trivet.science.survival.product_limit import at_risk
from trivet.stages.survival.looks import Schedule, looks_at

Row = dict[str, Any]


@dataclass(frozen=True)
class Plan:
    """What was decided before the data: settings, the clock that decides, interim mark, looks."""

    survival: Survival
    comparison: Comparison
    primary_clock: str
    interim: str
    schedule: Schedule | None = None

    @property
    def rules(self) -> Rules:
        """What decides a contrast."""
        return Rules(
            confidence=self.comparison.confidence,
            margin=self.comparison.equivalence_margin,
            stratify=self.comparison.stratify_by == "batch",
            drawing=MonteCarlo(**self.survival.drawing),
        )


def restriction_of(lives: LifeSet, comparison: Comparison) -> float:
    """Upper end of the restricted means: as set, else the shortest follow-up of the groups."""
    stated = {"hours": comparison.restriction_h, "cycles": comparison.restriction_cycles}
    value = stated[lives.clock]
    return restriction_time(lives.duration, group=lives.group) if value is None else value


def describe(
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
    if lives.lower is not None and lives.upper is not None:
        life = between_checks(lives.lower[own], upper=lives.upper[own])
    else:
        life = group_life(
            duration,
            observed=observed,
            restriction_time=restriction,
            confidence=confidence,
            entry=lives.entry[own],
        )
    rows["survival"] += _curve_rows(life, base)
    rows["survival_intervals"] += _interval_rows(lives, own, base)
    rows["at_risk"] += [
        base | {"time": time, "at_risk": int(count)}
        for time, count in zip(
            times, at_risk(duration, at=times, entry=lives.entry[own]), strict=True
        )
    ]
    rows["life_summary"].append(base | _summary(life, restriction))
    rows["causes"] += _cause_rows(lives, own, base, confidence)


def _curve_rows(life: GroupLife, base: Row) -> list[Row]:
    """Steps of the curve of one group, from time 0 on, where its limits begin."""
    names = ("time", "at_risk", "events", "censored", "survival", "standard_error",
             "lower", "upper")  # fmt: skip
    of_life = ("plotting_position", "beta_lower", "beta_upper")
    start = base | {"time": 0.0, "at_risk": life.cells, "events": 0, "censored": 0,
                    "survival": 1.0, "beta_lower": life.start_lower, "beta_upper": 1.0}  # fmt: skip
    begins = [start] if np.isfinite(life.start_lower) and life.curve.time[0] > 0 else []
    return begins + [
        base
        | {name: getattr(life.curve, name)[step] for name in names}
        | {name: getattr(life, name)[step] for name in of_life}
        for step in range(len(life.curve.time))
    ]


def _interval_rows(lives: LifeSet, own: np.ndarray, base: Row) -> list[Row]:
    """Intervals that hold the ends of one group, where lives are known only between checks."""
    if lives.lower is None or lives.upper is None:
        return []
    found = turnbull(lives.lower[own], upper=lives.upper[own])
    names = ("lower", "upper", "mass", "survival")
    return [
        base | {name: getattr(found, name)[step] for name in names}
        for step in range(len(found.upper))
    ]


def _summary(life: GroupLife, restriction: float) -> Row:
    """What describes one group in a row."""
    summary: Row = {
        "cells": life.cells,
        "events": life.events,
        "median": life.median.median,
        "median_lower": life.median.lower,
        "median_upper": life.median.upper,
        "median_beta_lower": life.median_beta[0],
        "median_beta_upper": life.median_beta[1],
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
    return summary


def _cause_rows(lives: LifeSet, own: np.ndarray, base: Row, confidence: float) -> list[Row]:
    """Incidence of each cause of the endpoint at each end in one group."""
    given = cumulative_incidence(
        lives.duration[own],
        cause=lives.cause[own],
        causes=len(lives.causes),
        entry=lives.entry[own],
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


def compare(
    lives: LifeSet, restriction: float, plan: Plan
) -> tuple[list[Row], list[Row], list[Finding]]:
    """Rows of all contrasts of one set of lives, of its looks, and groups not followed alike."""
    family = compare_groups(
        lives, groups=len(lives.groups), restriction_time=restriction, rules=plan.rules
    )
    looked = looks_at(lives, plan.schedule, looks=plan.comparison.looks, rules=plan.rules)
    control, rows, found = lives.groups[0], [], []
    for place, judged in enumerate(family.contrasts, start=1):
        group, own = lives.groups[place], lives.group == place
        mine = [
            _row(lives, measure, group, control, own) | {"p_adjusted": adjusted}
            for measure, adjusted in zip(judged.measures, judged.p_adjusted, strict=True)
        ]
        word, seen = looked.word(judged.verdict, place, longer=judged.contrast.exact.statistic < 0)
        grounds = replace(_grounds(mine[0], judged, plan, lives), seen=seen)
        reason = verdict_reason(word, grounds=grounds)
        shown_on = seen.date if seen and seen.how is AtLooks.SHOWN else ""
        mine[0] |= {"verdict": word, "reason": reason, "shown_on": shown_on}
        rows += mine
        if judged.doubts.unlike and lives.clock == plan.primary_clock:
            found.append(
                unlike_follow_up(
                    factor=lives.factor, endpoint=lives.endpoint, group=group, control=control,
                    p=judged.doubts.unlike_p, limit=UNLIKE_P,
                )
            )  # fmt: skip
    rows += [_row(lives, each, "all", "all", lives.group >= 0) for each in family.overall]
    return rows, looked.rows(lives), found


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


def _grounds(row: Row, judged: ContrastVerdict, plan: Plan, lives: LifeSet) -> Grounds:
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
        imputed_p=judged.doubts.imputed.p if judged.doubts.imputed else float("nan"),
        unlike=judged.doubts.unlike,
        deciding_p=judged.deciding_p,
        turned=judged.turned,
        bounds_p=judged.bounds_p,
        bad_p=judged.bad_p,
        turned_by_bad=judged.turned_by_bad,
        tipping=_tipping(judged, lives),
        interim=plan.interim,
    )


def _tipping(judged: ContrastVerdict, lives: LifeSet) -> Tipping | None:
    """The tipping point of a contrast, with the names of its cells."""
    found = judged.tipping
    if found is None:
        return None
    return Tipping(
        lives_on=tuple(str(lives.cell[place]) for place in found.lives_on),
        ended=tuple(str(lives.cell[place]) for place in found.ended),
        time=found.time,
    )
