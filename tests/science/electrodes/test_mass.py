"""Mass, area and loading with their uncertainties: P1-15 and P1-16, worked by hand.

Theoretical capacity of LFP: Faraday's constant over its molar mass, 169.8932 mAh/g.
"""

import numpy as np
import pytest

from trivet.science.electrodes.mass import (
    Measured,
    active_mass_mg,
    capacity_ratio,
    coating_mass_mg,
    disc_area_cm2,
    per_unit,
)

COATING = coating_mass_mg(disc=Measured(15.20, 0.02), foil=Measured(4.58, 0.05))
ACTIVE = active_mass_mg(COATING, active_fraction=0.92)
AREA = disc_area_cm2(Measured(12.0, 0.1))


def test_masses_of_a_disc():
    """P1-15: coating 10.62 mg, active 9.7704 mg, uncertainty 0.053852 mg or 0.507 %."""
    assert COATING.value == pytest.approx(10.62)
    assert ACTIVE.value == pytest.approx(9.7704)
    assert COATING.uncertainty == pytest.approx(0.053852, abs=5e-7)
    assert COATING.uncertainty / COATING.value == pytest.approx(0.00507, abs=5e-6)
    assert ACTIVE.uncertainty / ACTIVE.value == pytest.approx(0.00507, abs=5e-6)


def test_area_of_a_disc():
    """P1-15: 12 mm give 1.130973 cm2, 0.1 mm of it 1.667 %; loading 8.638930 mg/cm2."""
    assert AREA.value == pytest.approx(1.130973, abs=5e-7)
    assert AREA.uncertainty / AREA.value == pytest.approx(0.01667, abs=5e-6)
    assert per_unit(ACTIVE.value, AREA)[0] == pytest.approx(8.638930, abs=5e-7)


def test_specific_and_areal_capacity():
    """P1-15: 1.500 mAh are 153.524932 +- 0.778 mAh/g, 1.326291 mAh/cm2, 0.903656 of theory."""
    specific, uncertainty = per_unit(1000.0 * 1.5, ACTIVE)
    assert specific == pytest.approx(153.524932, abs=5e-7)
    assert uncertainty == pytest.approx(0.778, abs=5e-4)
    assert per_unit(1.5, AREA)[0] == pytest.approx(1.326291, abs=5e-7)
    theory_mAh = 169.8932 * ACTIVE.value / 1000.0
    assert theory_mAh == pytest.approx(1.659925, abs=5e-7)
    assert per_unit(theory_mAh, AREA)[0] == pytest.approx(1.467696, abs=5e-7)
    assert 1.5 / theory_mAh == pytest.approx(0.903656, abs=5e-7)


def test_capacity_ratio_per_facing_area_and_whole_discs():
    """P1-16: 1.75 against 1.50 mAh/cm2: 1.166667; 15 and 12 mm whole discs: 1.822917."""
    given = {"negative_mAh_cm2": 1.75, "positive_mAh_cm2": 1.50}
    assert capacity_ratio(**given) == pytest.approx(1.166667, abs=5e-7)
    whole = disc_area_cm2(Measured(15.0, 0.0)).value / AREA.value
    assert capacity_ratio(**given, area_ratio=whole) == pytest.approx(1.822917, abs=5e-7)


def test_an_unknown_uncertainty_leaves_the_value():
    """A mass without an uncertainty gives a value without one; nothing is made up."""
    value, uncertainty = per_unit(np.array([1.0]), Measured(2.0, float("nan")))
    assert value == [0.5]
    assert np.isnan(uncertainty).all()
