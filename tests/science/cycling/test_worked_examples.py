"""Worked examples P1-19 to P1-22, P1-28 and P1-29: ends of life, lithium excess, constants.

Each is exact by hand from the stated formula; the others of the set stand with their functions
(P1-1 to P1-14, P1-17 integrals, efficiencies and electrodes; P1-15 and P1-16 masses; P1-18
differential capacity; P1-23 rates; P1-24 to P1-26 reading; P1-27 spread).
"""

import numpy as np
import pytest

from trivet.science.constants import GAS_CONSTANT_J_mol_K, lithium_thickness_um
from trivet.science.cycling.efficiencies import retention
from trivet.science.electrodes.mass import Measured, disc_area_cm2, per_unit
from trivet.science.lives.cycle_record import cycle_record
from trivet.science.lives.ends import End, EndRules, capacity_end

CYCLES = np.arange(1, 151)


def end_of(share: np.ndarray) -> End:
    """End by capacity: first ageing cycle below 80 % of the reference, one cycle suffices."""
    ones = np.ones(share.size)
    cycles = cycle_record(
        {
            "cycle": CYCLES[: share.size],
            "start_h": CYCLES[: share.size] * 4.0,
            "end_h": CYCLES[: share.size] * 4.0 + 3.8,
            "charge_capacity_mAh": ones,
            "discharge_capacity_mAh": share,
            "coulombic_efficiency": ones,
            "retention": share,
            "kind": np.full(share.size, "ageing", dtype=object),
            "complete": ones,
        }
    )
    rules = EndRules(0.8, 1, 0.5, 2, 60.0, 0.05, 3)
    found = capacity_end(cycles, rules=rules)
    assert found is not None
    return found


def test_linear_fade_ends_where_it_is_below_not_at_the_limit():
    """P1-19: 1 - 0.002 (n - 1) equals 0.8 at 101, which is not below; 102 is."""
    assert end_of(1.0 - 0.002 * (CYCLES - 1)).cycle == 102


def test_the_reference_cycle_moves_the_end():
    """P1-19: against cycle 3 (0.996), with two formation cycles before it, the first is 103."""
    kinds = np.array(["formation"] * 2 + ["ageing"] * 148, dtype=object)
    share = retention(1.0 - 0.002 * (CYCLES - 1), kinds)
    assert share[2] == 1.0
    assert end_of(np.where(np.isnan(share), 1.0, share)).cycle == 103


def test_the_end_lies_between_two_whole_cycles():
    """P1-20: 0.806 at 100 and 0.797 at 101 cross at 100.666667; the whole cycles bound it."""
    share = np.where(CYCLES <= 100, 0.806, 0.797)
    found = end_of(share)
    crossing = 100 + (0.806 - 0.8) / (0.806 - 0.797)
    assert crossing == pytest.approx(100.666667, abs=5e-7)
    assert (found.lower_cycle, found.cycle) == (100, 101)
    assert found.lower_cycle < crossing <= found.cycle


def test_fade_by_the_square_root():
    """P1-21: 1 - 0.02 sqrt(n - 1) is 0.8 exactly at 101, below it from 102 on."""
    assert 1.0 - 0.02 * np.sqrt(100.0) == 0.8
    assert end_of(1.0 - 0.02 * np.sqrt(CYCLES - 1.0)).cycle == 102


def test_excess_of_lithium():
    """P1-22: 50 um of lithium last 515.56 cycles of 2.0 mAh/cm2 at 99.0 %."""
    lost_mAh_cm2 = 515.56 * 2.0 * (1.0 - 0.990)
    assert lithium_thickness_um(lost_mAh_cm2, area_cm2=1.0) == pytest.approx(50.0, rel=1e-5)


@pytest.mark.parametrize(
    ("energy_kJ", "factor"), [(20.0, 1.660596), (50.0, 3.553529), (60.0, 4.579223)]
)
def test_arrhenius_factor(energy_kJ, factor):
    """P1-28: from 25 to 45 degrees Celsius, by the gas constant used here."""
    inverse = 1.0 / 298.15 - 1.0 / 318.15
    found = np.exp(1000.0 * energy_kJ / GAS_CONSTANT_J_mol_K * inverse)
    assert found == pytest.approx(factor, abs=5e-7)


def test_ohmic_term_of_a_separator():
    """P1-29: 25 um, porosity 0.4, tortuosity 2.5, 10 mS/cm: 1.5625 ohm cm2, 1.381553 ohm."""
    specific = 25e-4 * 2.5 / 0.4 / 10e-3
    assert specific == pytest.approx(1.5625)
    area = disc_area_cm2(Measured(12.0, 0.0))
    assert per_unit(specific, area)[0] == pytest.approx(1.381553, abs=5e-7)
