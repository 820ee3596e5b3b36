"""Platings: surface, thickness, drain and expected life.

Sources: Faraday's law with the constants of CODATA and the density of lithium (0.534 g/cm3), Ohm's
law; the cases are the check values P1.6 for lithium, drain and mesh, worked from these.
"""

import numpy as np
import pytest

from trivet.science.constants import LITHIUM_g_mol, lithium_mass_mg, lithium_thickness_um
from trivet.science.reference.plating import deposit, drained_mAh, observed_life, wire_area_cm2
from trivet.science.reference.trust import TrustSpans

DAY_S = np.array([0.0, 86400.0])
SPANS = TrustSpans(
    np.array([0.0, 2.0, 50.0]), np.array([2.0, 50.0, 90.0]), ("not plated", "trusted", "lost")
)
NONE = float("nan")


def test_lithium_by_charge_and_thickness():
    """P1.6: 3861.884891 mAh/g; 4.84908077 um per mAh/cm2; 4 um are 0.8248986 mAh/cm2."""
    assert 1000.0 / lithium_mass_mg(1.0) == pytest.approx(3861.884891, rel=1e-9)
    assert LITHIUM_g_mol == 6.94
    assert lithium_thickness_um(1.0, area_cm2=1.0) == pytest.approx(4.84908077, rel=1e-9)
    assert lithium_thickness_um(0.8248986, area_cm2=1.0) == pytest.approx(4.0, rel=1e-7)


def test_surface_of_a_mesh():
    """P1.6: wires of 25 um at 250 um have 0.6283185 cm2 for each cm2 of disc."""
    disc_mm = 20.0 / np.sqrt(np.pi)
    area = wire_area_cm2(disc_diameter_mm=disc_mm, wire_width_um=25.0, wire_pitch_um=250.0)
    assert area == pytest.approx(0.6283185, rel=1e-7)


def test_drain_of_a_channel():
    """P1.6: 4.2 V over 1 Gohm take 4.2 nA, 0.1008 uAh a day."""
    taken = drained_mAh(DAY_S, (np.full(2, 4.2),), resistance_ohm=1e9)
    assert taken[-1] * 1000.0 == pytest.approx(0.1008, rel=1e-9)


def one(**given):
    """A plating of 20 uAh on 0.1 cm2 watched for a day at 4.2 V over 10 Mohm."""
    values = {
        "plated_h": 0.0,
        "stop_h": 24.0,
        "charge_mAh": 0.020,
        "efficiency": 0.5,
        "area_cm2": 0.1,
        "resistance_ohm": 1e7,
    }
    spans = TrustSpans(np.array([0.0]), np.array([24.0]), ("trusted",))
    return deposit(DAY_S, (np.full(2, 4.2),), spans, **(values | given))


def test_a_plating_is_worked_out():
    """P1.6: 0.2 mAh/cm2 are 0.9698162 um; half of 20 uAh at 420 nA last 23.8 h, none is left."""
    found = one()
    assert found.charge_per_area_mAh_cm2 == pytest.approx(0.2)
    assert found.thickness_um == pytest.approx(0.9698162, rel=1e-7)
    assert found.drained_mAh == pytest.approx(0.01008)
    assert found.expected_life_h == pytest.approx(10.0 / 0.42)
    assert found.left_share == 0.0
    assert one(efficiency=1.0).left_share == pytest.approx(1.0 - 10.08 / 20.0)


def test_what_is_not_known_stays_missing():
    """Without charge, area or channel the numbers that rest on them are missing, no others."""
    assert np.isnan([one(charge_mAh=NONE).thickness_um, one(charge_mAh=NONE).left_share]).all()
    assert one(charge_mAh=NONE).drained_mAh == pytest.approx(0.01008)
    assert np.isnan(
        [one(area_cm2=NONE).thickness_um, one(resistance_ohm=NONE).expected_life_h]
    ).all()
    assert one(resistance_ohm=NONE).thickness_um == pytest.approx(0.9698162, rel=1e-7)


@pytest.mark.parametrize(
    ("plated_h", "stop_h", "life"),
    [(2.0, 90.0, (48.0, True)), (2.0, 40.0, (38.0, False)), (60.0, 90.0, (0.0, True))],
)
def test_the_observed_life_ends_with_the_loss(plated_h, stop_h, life):
    """From plating to `lost`, at once where that runs on, else to the next plating or last row."""
    assert observed_life(SPANS, plated_h=plated_h, stop_h=stop_h) == life
