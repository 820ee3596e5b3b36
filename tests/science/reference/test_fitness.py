"""What a reference serves: each purpose by what it needs, and no more."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from trivet.reasons import Fitness, FitnessReason, Purpose
from trivet.reference_checks import CHECKS, ReferenceCheck
from trivet.science.reference.fitness import (
    Offsets,
    eras_of,
    fitness_over,
    fitness_spans,
    no_lithium_h,
)
from trivet.science.reference.trust import Check, assess, trust_timeline

STARTS, ENDS = np.arange(0.0, 100.0, 10.0), np.arange(9.0, 109.0, 10.0)


def offset(time_h: float, value_mV: float, uncertainty_mV: float = 0.0) -> Check:
    """An offset against the default limits."""
    found = assess(ReferenceCheck.OFFSET, time_h, value_mV, limits=(5.0, 20.0))
    return Check(**{**vars(found), "uncertainty": uncertainty_mV})


def jump(time_h: float, value_mV: float) -> Check:
    """A jump against the default limits."""
    return assess(ReferenceCheck.JUMP, time_h, value_mV, limits=(5.0, 20.0))


def noise(time_h: float, until_h: float) -> Check:
    """A noise beyond its limit until a quiet rest."""
    return assess(ReferenceCheck.NOISE, time_h, 2.0, limits=(0.5, 3.0), doubt_to_h=until_h)


def short(time_h: float, from_h: float) -> Check:
    """A soft short."""
    return assess(ReferenceCheck.SOFT_SHORT, time_h, 3.0, limits=(1.0, 1.0),
                  doubt_from_h=from_h, doubt_to_h=time_h)  # fmt: skip


def spans_of(*checks: Check, platings: tuple[float, ...] = (0.0,), **given: object) -> tuple:
    """Spans of a reference over 100 h of ten cycles."""
    trust = trust_timeline(checks, first_h=0.0, last_h=100.0, platings_h=platings)
    eras = eras_of(checks, platings, gone_mV=100.0)
    return fitness_spans(
        eras, trust, first_h=0.0, last_h=100.0, cycle_starts_h=STARTS, cycle_ends_h=ENDS,
        wrong_leads=bool(given.get("wrong_leads", False)),
        contact_faults_h=given.get("contact_faults_h", ()),  # type: ignore[arg-type]
    )  # fmt: skip


def told(spans: tuple, purpose: Purpose, time_h: float) -> tuple[Fitness, str]:
    """Fitness and reason at one moment."""
    span = fitness_over(spans, purpose, time_h, time_h)
    assert span is not None
    return span.fitness, span.reason


FIT, NOT, CORRECTED = Fitness.FIT, Fitness.NOT_FIT, Fitness.CORRECTED
OTHERS = (Purpose.DIFFERENCE, Purpose.SHAPE, Purpose.IMPEDANCE)


def test_spans_have_no_holes() -> None:
    """Every purpose is told from the first to the last hour, and neighbours differ."""
    spans = spans_of(offset(10, 1), jump(33, 30), noise(51, 60), offset(70, 30), offset(90, 31))
    for purpose in Purpose:
        mine = [span for span in spans if span.purpose is purpose]
        assert (mine[0].start_h, mine[-1].end_h) == (0.0, 100.0)
        for one, two in pairwise(mine):
            assert one.end_h == two.start_h
            assert (one.fitness, one.reason) != (two.fitness, two.reason)


def test_without_an_anchor_only_the_absolute_potential_is_unknown() -> None:
    """An unknown offset cancels in differences, shapes and impedances."""
    spans = spans_of()
    assert told(spans, Purpose.ABSOLUTE, 50.0) == (NOT, FitnessReason.NO_ANCHOR)
    for purpose in OTHERS:
        assert told(spans, purpose, 50.0) == (FIT, FitnessReason.NOTHING_AGAINST)


def test_a_drift_is_corrected_between_anchors_and_not_beyond() -> None:
    """Offsets of 0, 10 and 30 mV: fit, corrected between, unknown after the last."""
    spans = spans_of(offset(10, 0), offset(50, 10), offset(80, 30))
    assert told(spans, Purpose.ABSOLUTE, 5.0)[0] is FIT
    assert told(spans, Purpose.ABSOLUTE, 30.0) == (CORRECTED, FitnessReason.BRACKETED)
    assert told(spans, Purpose.ABSOLUTE, 60.0) == (CORRECTED, FitnessReason.BRACKETED)
    assert told(spans, Purpose.ABSOLUTE, 90.0) == (NOT, CHECKS[ReferenceCheck.OFFSET].unfit)
    assert all(told(spans, purpose, 90.0)[0] is FIT for purpose in OTHERS)


def test_a_jump_spoils_its_cycle_and_the_offset_since() -> None:
    """A jump of 30 mV within a cycle: that cycle, and absolute potentials after it."""
    spans = spans_of(offset(10, 0), jump(33, 30), offset(80, 30))
    assert told(spans, Purpose.DIFFERENCE, 35.0) == (NOT, CHECKS[ReferenceCheck.JUMP].unfit)
    assert told(spans, Purpose.DIFFERENCE, 45.0)[0] is FIT
    assert told(spans, Purpose.IMPEDANCE, 35.0)[0] is FIT
    # No straight line between two anchors with a jump between them.
    assert told(spans, Purpose.ABSOLUTE, 45.0) == (NOT, CHECKS[ReferenceCheck.JUMP].unfit)
    assert told(spans, Purpose.ABSOLUTE, 20.0)[0] is FIT


def test_a_wire_without_lithium_serves_nothing() -> None:
    """From a jump of 300 mV on, or from the last offset before one so far off."""
    for spans, from_h in (
        (spans_of(offset(10, 0), jump(33, 300), offset(80, 350)), 33.0),
        (spans_of(offset(10, 0), offset(80, 350)), 10.0),
    ):
        for purpose in Purpose:
            assert told(spans, purpose, from_h + 1.0) == (NOT, FitnessReason.NO_LITHIUM)
        assert all(told(spans, purpose, from_h - 8.0)[0] is FIT for purpose in OTHERS)


def test_a_large_drift_is_no_loss_of_lithium() -> None:
    """30 mV from anchor to anchor up to 120 mV: lithium that drifts, not a wire without it."""
    checks = [offset(20.0 * n, 30.0 * n) for n in range(5)]
    assert no_lithium_h(checks, limit_mV=100.0) == float("inf")


def test_noise_a_short_and_leads_hold_for_all() -> None:
    """What makes readings wrong withholds impedances too."""
    for spans, reason in (
        (spans_of(noise(40, 60)), CHECKS[ReferenceCheck.NOISE].unfit),
        (spans_of(short(55, 45)), CHECKS[ReferenceCheck.SOFT_SHORT].unfit),
        (spans_of(wrong_leads=True), FitnessReason.LEADS),
        (spans_of(contact_faults_h=(52.0,)), FitnessReason.CONTACT),
        (spans_of(platings=(70.0,)), FitnessReason.NOT_PLATED),
    ):
        assert told(spans, Purpose.ABSOLUTE, 52.0)[0] is NOT
        for purpose in OTHERS:
            assert told(spans, purpose, 52.0) == (NOT, reason), (purpose, reason)


def test_a_new_plating_serves_again() -> None:
    """After a soft short the reference is plated again, and serves from then on."""
    spans = spans_of(short(30, 20), platings=(0.0, 50.0))
    assert told(spans, Purpose.IMPEDANCE, 40.0)[0] is NOT
    assert told(spans, Purpose.IMPEDANCE, 60.0)[0] is FIT


def test_an_offset_between_anchors_is_a_straight_line_with_its_error() -> None:
    """Half-way between 0 and 10 mV: 5 mV; error of the anchors and half the move by root three."""
    offsets = Offsets(np.array([0.0, 10.0]), np.array([0.0, 10.0]), np.array([2.0, 2.0]))
    value, error = offsets.at(np.array([0.0, 5.0, 10.0, 11.0]))
    assert value[:3] == pytest.approx([0.0, 5.0, 10.0])
    assert error[0] == pytest.approx(2.0)
    assert error[1] == pytest.approx(np.hypot(2.0, 5.0 / np.sqrt(3.0)))
    assert np.isnan(value[3])
    assert np.isnan(error[3])
