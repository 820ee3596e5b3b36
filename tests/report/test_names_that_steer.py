"""Names that the report looks up are those that science and stages write."""

from __future__ import annotations

import numpy as np

from trivet.reasons import TURNING, Judged, Planned, of_cause
from trivet.science.comparison.contrast import MonteCarlo
from trivet.science.comparison.family import Rules, compare_groups
from trivet.science.lives.lives import Lives
from trivet.stages.planning import stage as planning

RULES = Rules(confidence=0.95, margin=1.25, stratify=True, drawing=MonteCarlo(draws=500))


def measures(*, early: bool, **observation: object) -> set[str]:
    """Names of the measures of two groups of six; the second is left early where asked."""
    duration = [9, 10, 11, 12, 13, 14, 2, 2.5, 3, 3.5, 4, 4.5]
    observed = [1] * 6 + [0, 0, 0, 0, 0, 1] if early else [1, 1, 1, 1, 1, 0] * 2
    found = compare_groups(
        Lives(
            duration=np.array(duration, dtype=float),
            observed=np.array(observed),
            group=np.repeat([0, 1], 6),
            batch=np.zeros(12),
            **observation,
        ),
        groups=2,
        restriction_time=1.0,
        rules=RULES,
    )
    return {measure.measure for measure in found.contrasts[0].measures}


def test_names_of_measures_are_those_that_science_gives() -> None:
    """Exact test, effects, tests that may turn a verdict, and tests of causes have these names."""
    stopped = np.array([False] * 5 + [True] + [False] * 5 + [True])
    cause = np.array([1, 2, 1, 2, 1, 0] * 2)
    given = measures(early=True) | measures(early=False, stopped=stopped)
    given |= measures(early=False, stopped=stopped, looked_bad=stopped)
    given |= measures(early=False, cause=cause, causes=("capacity", "leak"))
    assert {*Judged} <= given
    assert set(TURNING) <= given
    assert {of_cause("capacity"), of_cause("leak")} <= given


def test_names_of_plans_are_those_that_the_stage_writes() -> None:
    """Each row of the table of planning is for one of these."""
    written = {planning.AT_HAND, planning.DIFFERENCE, planning.EQUIVALENCE}
    assert {*Planned} == written | set(planning.NEEDED.values())
