"""Hysteresis at half, shares of polarisation, potential minimum against lithium.

Worked by hand; the limits of deposition (0 V less the reference's uncertainty, 10 mV) are common
practice, no source.
"""

import numpy as np
import pytest

from trivet.science.cycling.half_cycles import half_cycles
from trivet.science.cycling.integrals import charges_by_sign
from trivet.science.electrodes.polarisation import (
    corrected_minimum_V,
    lithium_deposition,
    minimum_error_mV,
    polarisation_share,
    potential_at_half_V,
)


def test_potential_at_half_of_the_charge():
    """1 mA over 3.40 to 3.50 V and -1 mA over 3.40 to 3.20 V: halves at 3.45, 3.30 V."""
    time_s = np.array([0.0, 3600.0, 3600.0, 7200.0])
    current_mA = np.array([1.0, 1.0, -1.0, -1.0])
    potential_V = np.array([3.40, 3.50, 3.40, 3.20])
    rows = half_cycles(current_mA, zero_current_mA=0.002)
    half = potential_at_half_V(potential_V, rows, passed=charges_by_sign(time_s, current_mA))
    assert half == pytest.approx([3.45, 3.30])
    potential_V[1] = np.nan
    half = potential_at_half_V(potential_V, rows, passed=charges_by_sign(time_s, current_mA))
    assert np.isnan(half[0])


def test_the_half_is_that_of_the_charge_not_of_the_time():
    """2 mA for half an hour, 0.5 mA for an hour: half of 1.5 mAh has passed after 22.5 min."""
    time_s = np.array([0.0, 1800.0, 1800.0, 5400.0])
    current_mA = np.array([2.0, 2.0, 0.5, 0.5])
    rows = half_cycles(current_mA, zero_current_mA=0.002)
    half = potential_at_half_V(time_s / 60.0, rows, passed=charges_by_sign(time_s, current_mA))
    assert half == pytest.approx([22.5])


def test_shares_of_the_electrodes_add_to_one():
    """30 and 20 mV are 0.6 and 0.4 (P1-17 at 1 mA); without polarisation there is no share."""
    own_V, other_V = np.array([0.030, 0.0, np.nan]), np.array([0.020, 0.0, 0.1])
    share = polarisation_share(own_V, other_V)
    assert share[0] == pytest.approx(0.6)
    assert share[0] + polarisation_share(other_V, own_V)[0] == pytest.approx(1.0)
    assert np.isnan(share[1:]).all()


def test_the_ohmic_part_is_taken_out_of_the_minimum():
    """-2 mV while 1 mA charges through 3 ohm are +1 mV at the electrode itself."""
    current_mA, potential_V = np.array([1.0, 1.0, -1.0]), np.array([0.05, -0.002, 0.2])
    given = {"first_row": np.array([0]), "last_row": np.array([2])}
    plain = corrected_minimum_V(current_mA, potential_V, **given, ohmic_ohm=0.0)
    assert plain == pytest.approx([-0.002])
    assert corrected_minimum_V(current_mA, potential_V, **given, ohmic_ohm=3.0) == pytest.approx(
        [0.001]
    )


@pytest.mark.parametrize(
    ("minimum_mV", "words"),
    [(-5.1, "possible"), (-5.0, "near"), (9.9, "near"), (10.0, "no"), (np.nan, "")],
)
def test_deposition_against_the_uncertainty_of_the_reference(minimum_mV, words):
    """Possible only below 0 V by more than 5 mV, near below 10 mV, limits on the good side."""
    found = lithium_deposition(np.array([minimum_mV / 1000.0]), uncertainty_mV=5.0, near_mV=10.0)
    assert found.tolist() == [words]


def test_the_error_of_the_minimum_adds_squares():
    """By hand: 3 mV of offset, 4 mV of noise, 6 ohm at 2 mA make the root of 9 + 16 + 144."""
    found = minimum_error_mV(
        offset_error_mV=np.array([3.0, np.nan]),
        noise_mV=4.0,
        ohmic_error_ohm=6.0,
        current_mA=np.array([2.0, 2.0]),
    )
    assert found[0] == pytest.approx(13.0)
    assert np.isnan(found[1])
