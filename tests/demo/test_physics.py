"""The physical model of the demo against what the trade knows of LFP, graphite and lithium."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.demo.physics import (
    BARE_COPPER_V,
    ReferenceModel,
    Resistances,
    cell_voltage_V,
    negative_potential_V,
    positive_potential_V,
)
from trivet.demo.spectra import FREQUENCIES_HZ, POSITIVE_SHAPE, Shape, electrode_impedance_ohm


def test_lfp_rests_on_its_plateau_over_the_middle_of_its_range() -> None:
    """LFP rests at 3.42 to 3.43 V against lithium (common practice, no source), flat to 0.1 mV."""
    potential_V = positive_potential_V(np.linspace(0.2, 0.8, 61))

    assert np.all((potential_V > 3.42) & (potential_V < 3.43))
    assert np.ptp(potential_V) < 1e-4


# Plateaus near 0.21, 0.12 and 0.085 V: common practice, no source. Stage compositions 0.5 (II)
# and 1 (I) of LixC6: Handbook of Battery Materials, p. 443, Fig. 15.6.
@pytest.mark.parametrize(("lithium", "expected_V"), [(0.15, 0.21), (0.35, 0.12), (0.75, 0.085)])
def test_graphite_has_its_three_plateaus(lithium: float, expected_V: float) -> None:
    """Graphite lies near 0.21, 0.12 and 0.085 V in its stages."""
    assert negative_potential_V(lithium) == pytest.approx(expected_V, abs=0.01)


def test_both_potentials_fall_as_an_electrode_takes_up_lithium() -> None:
    """More lithium means a lower potential against lithium, at either electrode."""
    content = np.linspace(0.001, 0.999, 800)

    assert np.all(np.diff(positive_potential_V(content)) <= 0.0)
    assert np.all(np.diff(negative_potential_V(content)) <= 0.0)


def test_current_through_resistance_moves_the_cell_voltage_by_ohms_law() -> None:
    """At a step from rest to -1 mA through 50 ohm the cell falls by 50 mV.

    Source: definition of dc resistance, (V2 - V1) / (I2 - I1), worked example with 50.0 ohm.
    At full charge the extra resistance of a discharge is zero to first order.
    """
    rest_V, pulse_V = (
        cell_voltage_V(1e-6, negative_mAh=2.0, current_mA=current_mA, resistance_ohm=50.0)
        for current_mA in (0.0, -1.0)
    )

    assert rest_V - pulse_V == pytest.approx(0.050, abs=1e-5)


def test_a_sound_reference_loses_to_the_channel_what_ohms_law_says() -> None:
    """Through 1 Gohm at 3.425 V lithium drains at 0.0822 uAh a day: by hand, U / R times 24 h."""
    model = ReferenceModel(offset_mV=0.0, drift_mV_per_day=0.0, plated_h=0.0, plated_mAh=0.03)

    drained_mAh = model.charge_left_mAh(0.0) - model.charge_left_mAh(24.0)

    assert drained_mAh * 1000.0 == pytest.approx(0.0822, abs=1e-6)


def test_an_emptied_mesh_jumps_and_ends_at_the_potential_of_copper() -> None:
    """Up to exhaustion the offset drifts; then it jumps by some 100 mV and ends at bare copper."""
    model = ReferenceModel(0.5, 0.0, plated_h=5.0, plated_mAh=0.03, lead_leak_mA=1e-4)
    gone_h = model.exhausted_h

    offset_V = model.offset_V(np.array([gone_h - 0.01, gone_h, gone_h + 200.0]))

    assert offset_V[0] == pytest.approx(0.0005)
    assert 0.1 < offset_V[1] < 1.0
    assert offset_V[2] == pytest.approx(BARE_COPPER_V, abs=1e-3)


def test_spectrum_has_the_value_of_the_worked_example() -> None:
    """R0 4, arcs 15 and 30 ohm, diffusion 3: 47.7146132833 - 5.95174209115j ohm at 1 Hz.

    Source: closed forms of arc and diffusion, evaluated with mpmath to 50 digits.
    """
    shape = Shape(0.0, (2e-4, 2e-2), (0.85, 0.80), 3.0)

    value = electrode_impedance_ohm(
        np.array([1.0]), resistances=Resistances(4.0, 15.0, 30.0), shape=shape
    )[0]

    assert value.real == pytest.approx(47.7146132833, rel=1e-10)
    assert value.imag == pytest.approx(-5.95174209115, rel=1e-10)


def test_arcs_are_far_enough_apart_to_be_told_apart() -> None:
    """Two arcs can be split where their time constants are ten apart; the demo has thirty."""
    first_s, second_s = POSITIVE_SHAPE.time_constants_s

    assert second_s / first_s >= 30.0
    assert FREQUENCIES_HZ[0] > 1.0 / (2 * np.pi * first_s) > 1.0 / (2 * np.pi * second_s)
    assert FREQUENCIES_HZ[-1] < 1.0 / (2 * np.pi * second_s)
