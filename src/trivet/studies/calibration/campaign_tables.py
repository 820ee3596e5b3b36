"""Drawn campaigns as the tables that the stages read, so that what is judged is their own rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import pyarrow as pa

from trivet.campaign.life_sets import LifeSet, life_sets
from trivet.campaign.table_lives import TABLE
from trivet.schema.settings.inference import Comparison, Factor, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.survival.looks import Schedule
from trivet.stages.survival.rows import Plan, compare, restriction_of
from trivet.store.tables import make_table
from trivet.studies.calibration.invented_campaigns import Campaign, Seen

FACTOR = "arm"
MARGIN = 1.25
CONFIDENCE = 0.95
CLOCK = "hours"
ZONE = "UTC"
FIRST = datetime(2026, 1, 5, 8, tzinfo=UTC)
"""Start of the first batch."""


def group_name(number: int) -> str:
    """Name of a group; the control stands first."""
    return f"g{number}"


def comparison_of(*, stratified: bool, looks: bool = False, **more: object) -> Comparison:
    """Settings of the comparison.

    Parameters
    ----------
    stratified, looks : bool
        Whether batches are strata, and whether differences are shown at weekly looks.
    **more
        Further settings.
    """
    return Comparison.model_validate(
        {
            "factors": [Factor(factor=FACTOR, control=group_name(0))],
            "stratify_by": "batch" if stratified else "none",
            "confidence": CONFIDENCE,
            "equivalence_margin": MARGIN,
            "looks": "weekly" if looks else "final",
            **more,
        }
    )


def cells_table(seen: Seen, numbers: Mapping[str, Sequence[str]] | None = None) -> pa.Table:
    """Table `cells`.

    Parameters
    ----------
    seen : Seen
        What is known.
    numbers : mapping of str to sequence of str, or None
        Further columns of the build sheet, each of shape (n_cells,).
    """
    count = len(seen.group)
    arms = [group_name(number) for number in seen.group]
    sheet = {FACTOR: arms, **(numbers or {})}
    columns = {
        "cell": _names(count),
        "batch": [str(number) for number in seen.batch],
        "group": arms,
        "included": np.ones(count, dtype=int),
        "exclusion_reason": [""] * count,
        "status": [""] * count,
        "mass_lost_mg_per_d": [None] * count,
        **sheet,
    }
    return make_table(TABLES["cells"], columns, sheet_columns=list(sheet))


def lifetimes_table(seen: Seen, *, between_checks: bool = False) -> pa.Table:
    """Table `lifetimes`.

    Parameters
    ----------
    seen : Seen
        What is known.
    between_checks : bool
        Whether lives are known between bounds only, as a table of lives may state them.
    """
    count = len(seen.group)
    start_s = FIRST.timestamp() + 3600.0 * seen.start_h
    ended = seen.observed == 1
    columns = {
        "cell": _names(count),
        "group": [group_name(number) for number in seen.group],
        "batch": [str(number) for number in seen.batch],
        "endpoint": ["cell"] * count,
        "clock": [CLOCK] * count,
        "duration": seen.duration_h,
        "lower": seen.lower_h,
        "upper": seen.upper_h,
        "entry": seen.entry_h,
        "observed": seen.observed,
        "cause": np.where(ended, "capacity", "").tolist(),
        "censored_because": np.where(ended, "", "running").tolist(),
        "decided_by": [TABLE if between_checks else "rule"] * count,
        "evidence": ["drawn"] * count,
        "stop_reason": seen.reason.tolist(),
        "known_h": seen.known_h,
        "start_s": start_s,
    }
    return make_table(TABLES["lifetimes"], columns)


def _names(count: int) -> list[str]:
    """Names of cells, in the order of their numbers."""
    return [f"c{place:03d}" for place in range(count)]


def verdicts(seen: Seen, campaign: Campaign, *, cut_h: float, survival: Survival) -> dict[str, str]:
    """Verdict of each group by the rule of the stage `survival`.

    Parameters
    ----------
    seen : Seen
        What is known at the data cut.
    campaign : Campaign
        What was planned.
    cut_h : float
        Data cut since the start of the first batch [h].
    survival : Survival
        How exact tests enumerate or draw.

    Returns
    -------
    dict of str to str
        Verdict by name of the group; a group without a cell yet has none.
    """
    comparison = comparison_of(stratified=campaign.stratified, looks=campaign.looks)
    (lives,), _ = life_sets(
        cells_table(seen),
        lifetimes=lifetimes_table(seen, between_checks=bool(campaign.checks_h)),
        factors=comparison.factors,
    )
    schedule = None
    if campaign.looks:
        planned = FIRST + timedelta(hours=campaign.cuts_h[-1])
        schedule = Schedule(planned.isoformat(), ZONE, FIRST + timedelta(hours=cut_h))
    return verdicts_of(lives, comparison, survival, schedule)


def verdicts_of(
    lives: LifeSet, comparison: Comparison, survival: Survival, schedule: Schedule | None = None
) -> dict[str, str]:
    """Verdict of each group of a set of lives, as the stage `survival` gives it.

    Parameters
    ----------
    lives : LifeSet
        The lives.
    comparison, survival : Comparison, Survival
        Settings.
    schedule : Schedule or None
        Planned end and data cut, where there are looks.
    """
    plan = Plan(survival, comparison, CLOCK, "", schedule)
    rows, _, _ = compare(lives, restriction_of(lives, comparison), plan)
    return {row["group"]: row["verdict"] for row in rows if row.get("verdict")}
