"""Resistances per electrode of the demo's cells over many seeds, against their truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from trivet.demo.cycler import CheckUp
from trivet.demo.plan import plan_campaign
from trivet.demo.spectra import FREQUENCIES_HZ, measured_spectra_ohm
from trivet.schema.settings.science import Impedance, Trust
from trivet.science.impedance.analysis import analyse, judge
from trivet.science.impedance.spectrum import Trace
from trivet.stages.impedance.pair import choice_of, limits_of

SEEDS = range(1, 6)
HOURS = 300.0


def lower_limit(trials: int, rate: float, chance: float) -> int:
    """Smallest count that a rate gives with more than this chance, by summing the binomial."""
    total = 0.0
    for hits in range(trials + 1):
        total += math.comb(trials, hits) * rate**hits * (1 - rate) ** (trials - hits)
        if total > chance:
            return hits
    raise AssertionError("the binomial sums to one")


def test_lower_limit_of_a_binomial() -> None:
    """Of 10 at 0.5, one or fewer has a chance of 11/1024: above 0.01 the limit is 1 (by hand)."""
    assert lower_limit(10, 0.5, 0.01) == 1


@pytest.mark.parametrize("pair", ["positive", "negative"])
def test_resistances_lie_within_two_standard_errors(pair: str) -> None:
    """Of accepted spectra 95 % have the true sum of arcs and R0 within two standard errors.

    Binomial tolerance: a count that 95 % gives less often than once in a thousand fails. 24 cells
    with leads as meant and the mesh in the middle, at 300 h, of each of five seeds.
    """
    scores: list[tuple[float, float]] = []
    offered = 0
    for seed in SEEDS:
        for plan in plan_campaign(seed):
            if plan.role.swapped or plan.role.mesh_offset_mm:
                continue
            offered += 1
            resistances = dict(
                zip(("positive", "negative"), plan.ageing.resistances(HOURS), strict=True)
            )
            check_up = CheckUp(1, HOURS, resistances["positive"], resistances["negative"])
            measured = measured_spectra_ohm(plan, check_up=check_up)[pair]
            analysis = analyse(
                Trace(FREQUENCIES_HZ, measured), may_turn=False, choice=choice_of(pair, Impedance())
            )
            found = judge(analysis, limits=limits_of(Trust()), additivity=None)
            if found.trust != "trusted":
                continue
            fitted = analysis.fitted
            true = resistances[pair]
            scores.append(
                (
                    (fitted.polarisation_resistance_ohm - true.arcs_ohm)
                    / fitted.polarisation_resistance_se_ohm,
                    (fitted.value("R0_ohm") - true.ohmic_ohm) / fitted.standard_error("R0_ohm"),
                )
            )
    assert len(scores) > 0.95 * offered
    within = np.sum(np.abs(scores) <= 2.0, axis=0)
    assert np.all(within >= lower_limit(len(scores), 0.95, 0.001)), within / len(scores)
