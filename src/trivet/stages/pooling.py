"""Pool each contrast with those of earlier campaigns; the verdict stays that of this one alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.campaign.earlier.read import EarlierCampaign, earlier_campaigns
from trivet.campaign.life_sets import LifeSet, life_sets
from trivet.reasons import Judged
from trivet.reasons import Pooled as PooledRow
from trivet.schema.findings.pooling import (
    Against,
    Joined,
    against_reason,
    heterogeneity_reason,
    joined_reason,
    left_out_reason,
)
from trivet.schema.settings.inference import Comparison, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.science.comparison.contrast import MonteCarlo, equivalence_confidence
from trivet.science.comparison.contrast_measures import equivalence_measure
from trivet.science.comparison.pooling import Pooled, Share, pool, shared_batches
from trivet.science.comparison.sensitivity import after_doubts
from trivet.science.comparison.verdict import Verdict, holm, verdict
from trivet.science.lives.lives import Lives
from trivet.science.survival.exact_log_rank import ExactLogRank
from trivet.science.survival.imputation import ImputedTest
from trivet.stages.job import Job
from trivet.store.tables import rows_table

Row = dict[str, Any]
_COUNTS = ("blocks", "cells", "events", "control_cells", "control_events")
_CONTRAST = ("endpoint", "clock", "factor", "group", "control")


@dataclass(frozen=True)
class _Part:
    """Lives of one campaign that join a contrast: group 1 and control 0; None where none do."""

    name: str
    lives: Lives | None
    found: Joined | None = None


@dataclass(frozen=True)
class _Contrast:
    """A contrast with what it was pooled from."""

    about: Row
    parts: tuple[_Part, ...]
    pooled: Pooled


def run(
    *,
    cells: pa.Table,
    lifetimes: pa.Table,
    comparisons: pa.Table,
    earlier: Sequence[EarlierCampaign],
    survival: Survival,
    comparison: Comparison,
) -> pa.Table:
    """Pool every contrast of this campaign.

    Parameters
    ----------
    cells, lifetimes, comparisons : pyarrow.Table
        Tables of these names, of this campaign.
    earlier : sequence of EarlierCampaign
        Earlier campaigns in the order of the settings; without any the table has no rows.
    survival, comparison : Survival, Comparison
        Settings.
    """
    if not earlier:
        return rows_table(TABLES["pooled"], [])
    factors = comparison.factors
    own, _ = life_sets(cells, lifetimes=lifetimes, factors=factors)
    others = {
        one.name: {
            (lives.endpoint, lives.clock, lives.factor): lives
            for lives in life_sets(one.cells, lifetimes=one.lifetimes, factors=factors)[0]
        }
        for one in earlier
    }
    knows = {one.name: set(one.cells.column_names) for one in earlier}
    alone = {
        tuple(row[name] for name in _CONTRAST): row
        for row in comparisons.to_pylist()
        if row["measure"] == Judged.EXACT
    }
    rows: list[Row] = []
    for lives in own:
        contrasts = [
            _contrast(lives, place, others, knows, (survival, comparison))
            for place in range(1, len(lives.groups))
        ]
        rows += _rows(contrasts, alone, comparison)
    return rows_table(TABLES["pooled"], rows, sparse=True)


def _contrast(
    lives: LifeSet,
    place: int,
    others: Mapping[str, Mapping[tuple[str, str, str], LifeSet]],
    knows: Mapping[str, set[str]],
    settings: tuple[Survival, Comparison],
) -> _Contrast:
    """One group against the control, over all campaigns."""
    survival, comparison = settings
    chosen = np.isin(lives.group, (0, place))
    mine = lives.of(chosen, group=(lives.group[chosen] == place).astype(int))
    this = mine if comparison.stratify_by == "batch" else mine.unstratified()
    about = {**lives.about(lives.groups[place]), "control": lives.groups[0]}
    key = (lives.endpoint, lives.clock, lives.factor)
    parts = [_Part(PooledRow.THIS, this)]
    for name, sets in others.items():
        found = Joined(**about, has_factor=lives.factor in knows[name])
        parts.append(_part(name, sets.get(key), found))
    alpha, count = 1 - comparison.confidence, len(lives.groups) - 1
    pooled = pool(
        [part.lives for part in parts if part.lives is not None],
        confidences=(
            comparison.confidence,
            equivalence_confidence(comparison.confidence, contrasts=count),
        ),
        drawing=MonteCarlo(**survival.drawing),
        spread_beforehand=comparison.spread_between_campaigns,
        thresholds=tuple(alpha / step for step in range(1, count + 1)),
    )
    return _Contrast(about, tuple(parts), pooled)


def _part(name: str, lives: LifeSet | None, found: Joined) -> _Part:
    """What an earlier campaign has for a contrast: its batches with cells of both groups."""
    if lives is None:
        return _Part(name, None, replace(found, has_lives=False))
    numbers = [
        lives.groups.index(word) if word in lives.groups else -1
        for word in (found.control, found.group)
    ]
    chosen = np.isin(lives.group, numbers)
    mine = lives.of(chosen, group=(lives.group[chosen] == numbers[1]).astype(int))
    shared = shared_batches(mine)
    blocks = tuple(np.unique(mine.batch[shared]).tolist())
    found = replace(
        found,
        has_control=bool(np.any(mine.group == 0)),
        has_group=bool(np.any(mine.group == 1)),
        blocks=blocks,
        idle=tuple(np.unique(mine.batch[~shared]).tolist()),
    )
    return _Part(name, mine.of(shared) if blocks else None, found)


def _rows(
    contrasts: Sequence[_Contrast], alone: Mapping[tuple[str, ...], Row], comparison: Comparison
) -> list[Row]:
    """Rows of the contrasts of one endpoint, clock and factor."""
    rows = []
    for place, each in enumerate(contrasts):
        own = alone.get(tuple(each.about[name] for name in _CONTRAST), {})
        about = {**each.about, "confidence": comparison.confidence}
        mine = _campaign_rows(each)
        mine[0] |= {"p_adjusted": own.get("p_adjusted"), "verdict": own.get("verdict", "")}
        p, word, against = _judged(contrasts, place, comparison)
        mine.append(_all_row(each, mine, against) | {"p_adjusted": p, "verdict": word})
        rows += [{**about, **row} for row in mine]
    return rows


def _judged(
    contrasts: Sequence[_Contrast], place: int, comparison: Comparison
) -> tuple[float, Verdict, Against]:
    """Adjusted p that decides, verdict on all campaigns, and what stands against it."""
    this = contrasts[place].pooled
    exact, found = this.together.exact, this.doubts

    def adjusted(test: ExactLogRank | ImputedTest) -> tuple[float, float]:
        tests = [*(each.pooled.together.exact for each in contrasts[:place]), test]
        tests += [each.pooled.together.exact for each in contrasts[place + 1 :]]
        p, upper = ([getattr(one, name) for one in tests] for name in ("p", "p_upper"))
        return float(holm(np.array(p))[place]), float(holm(np.array(upper))[place])

    def word(p: tuple[float, float], interval: tuple[float, float]) -> Verdict:
        return verdict(
            confounded=not this.together.variance > 0,
            p_adjusted=p[0],
            p_adjusted_upper=p[1],
            interval=interval,
            margin=comparison.equivalence_margin,
            alpha=1 - comparison.confidence,
        )

    deciding = adjusted(exact)
    if found.unlike and found.imputed is not None:
        # without such a test nothing can be concluded, hence no maximum that passes over NaN
        other = adjusted(found.imputed)
        deciding = (
            float(np.maximum(deciding[0], other[0])),
            float(np.maximum(deciding[1], other[1])),
        )
    base, longer = word(deciding, _same(this)), exact.statistic < 0
    words = [word(adjusted(each.exact), each.limits) for each in found.taken]
    stood = after_doubts(found, base, longer=longer, words=words)
    untested = found.imputed is not None and not np.isfinite(found.imputed.p)
    against = Against(found.unlike, untested, stood.turned, stood.turned_by_bad)
    return deciding[0], stood.verdict, against


def _same(pooled: Pooled) -> tuple[float, float]:
    """Limits of the common time ratio that decide on equivalence."""
    found = equivalence_measure(pooled.together.ratio, pooled.lognormal, stratified=True)
    return found.lower, found.upper


def _campaign_rows(contrast: _Contrast) -> list[Row]:
    """One row a campaign, this one first."""
    pooled, rows = contrast.pooled, []
    joined = [part for part in contrast.parts if part.lives is not None]
    share_of = dict(zip([part.name for part in joined], pooled.shares, strict=True))
    place_of = {joined[place].name: at for at, place in enumerate(pooled.with_effect)}
    for part in contrast.parts:
        row = {"campaign": part.name, **_counts(part.lives)}
        share = share_of.get(part.name)
        reasons = []
        if part.found is not None:
            informative = share is not None and share.variance > 0
            reasons.append(joined_reason(replace(part.found, informative=informative)))
        if share is not None:
            row |= _values(share)
            reasons.append(share.ratio.reason)
        if (at := place_of.get(part.name)) is not None and pooled.effects.effects.size:
            effects = pooled.effects
            row |= {
                "shrunken": float(np.exp(effects.effects[at])),
                "shrunken_lower": float(np.exp(effects.effects_lower[at])),
                "shrunken_upper": float(np.exp(effects.effects_upper[at])),
            }
        rows.append(row | {"reason": "; ".join(filter(None, reasons))})
    return rows


def _all_row(contrast: _Contrast, rows: Sequence[Row], against: Against) -> Row:
    """The row of all campaigns together."""
    pooled, effects = contrast.pooled, contrast.pooled.effects
    names = [part.name for part in contrast.parts if part.lives is not None]
    reasons = (
        pooled.together.ratio.reason,
        left_out_reason([names[place] for place in pooled.without_ratio]),
        heterogeneity_reason(len(pooled.with_effect)),
        against_reason(against),
    )
    return {
        "campaign": PooledRow.ALL,
        **{name: sum(row[name] for row in rows) for name in _COUNTS},
        **_values(pooled.together),
        "shrunken": float(np.exp(effects.mean)),
        "shrunken_lower": float(np.exp(effects.lower)),
        "shrunken_upper": float(np.exp(effects.upper)),
        "between_campaigns": float(np.sqrt(effects.heterogeneity)),
        "between_lower": float(np.sqrt(effects.heterogeneity_lower)),
        "between_upper": float(np.sqrt(effects.heterogeneity_upper)),
        "reason": "; ".join(filter(None, reasons)),
    }


def _counts(lives: Lives | None) -> Row:
    """Blocks, cells and ends that join."""
    if lives is None:
        return dict.fromkeys(_COUNTS, 0)
    shared = shared_batches(lives)
    batches = np.zeros(len(shared)) if lives.batch is None else lives.batch
    own, reference = lives.group == 1, lives.group == 0
    return {
        "blocks": len(np.unique(batches[shared])),
        "cells": int(own.sum()),
        "events": int(lives.observed[own].sum()),
        "control_cells": int(reference.sum()),
        "control_events": int(lives.observed[reference].sum()),
    }


def _values(share: Share) -> Row:
    """Test, weight and time ratio as columns."""
    ratio = share.ratio
    row: Row = {
        "difference": share.difference,
        "variance": share.variance,
        "weight": share.weight,
        "p": share.exact.p,
        "estimate": ratio.estimate,
        "log_standard_error": ratio.log_standard_error,
    }
    if ratio.intervals:
        row |= {"lower": ratio.intervals[0].lower, "upper": ratio.intervals[0].upper}
    return row


def work(job: Job) -> dict[str, pa.Table]:
    """Pool the contrasts of the campaign."""
    comparison = Comparison.model_validate(job.settings["comparison"])
    pooled = run(
        **job.tables(),
        earlier=earlier_campaigns(job.campaign, comparison),
        survival=Survival.model_validate(job.settings["survival"]),
        comparison=comparison,
    )
    return {"pooled": pooled}
