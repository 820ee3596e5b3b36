"""Terms of open vocabularies for columns and objects, where one fits exactly, and nowhere else.

What has no term (retention, hysteresis, drift of the reference, closure, sealing) keeps the address
of its own column, which the description of the tables gives it by default.

References
----------
EMMO domain electrochemistry and domain battery, read 2026-08; EMMO terms are used by their label
(the text of `RealElectricImpedance` speaks of the imaginary part, a slip).
"""

from __future__ import annotations

ELECTROCHEMISTRY = "https://w3id.org/emmo/domain/electrochemistry#electrochemistry_"
UCUM = "http://qudt.org/schema/qudt/ucumCode"
"""Property that carries a unit as UCUM code."""

ELECTRODE_POTENTIAL = f"{ELECTROCHEMISTRY}f509645f_eb27_470e_9112_7ab828ed40d3"
_CELL_VOLTAGE = f"{ELECTROCHEMISTRY}4ebe2ef1_eea8_4b10_822d_7a68215bd24d"
_CYCLE_INDEX = f"{ELECTROCHEMISTRY}5766a819_c319_48ba_ab9a_ce3bd8fedee8"

TERMS: dict[tuple[str, str], str] = {
    ("cycles", "cycle"): _CYCLE_INDEX,
    ("cycles", "charge_capacity_mAh"): f"{ELECTROCHEMISTRY}10763eb0_dbc9_4d34_bd1a_7b8996590d45",
    ("cycles", "discharge_capacity_mAh"): f"{ELECTROCHEMISTRY}0141b5c2_9f15_46f4_82e6_92a104faa476",
    ("cycles", "coulombic_efficiency"): f"{ELECTROCHEMISTRY}a5962e05_466d_46a4_8951_bea59d7326e5",
    ("cycles", "energy_efficiency"): f"{ELECTROCHEMISTRY}79198264_cdf5_4fc3_8bcf_e5140a52547a",
    ("cycles", "c_rate"): f"{ELECTROCHEMISTRY}25e20915_c35d_4bee_ad31_736235a79780",
    ("cycles", "specific_capacity_mAh_g"): (
        f"{ELECTROCHEMISTRY}884650fd_6cc6_4ec6_8264_c18fbe6b90ee"
    ),
    ("cycles", "areal_capacity_mAh_cm2"): f"{ELECTROCHEMISTRY}bcb33f7e_5573_4bc2_b636_4ea313a9dd3a",
    ("electrode_cycles", "cycle"): _CYCLE_INDEX,
    ("electrode_cycles", "end_of_charge_potential_V"): ELECTRODE_POTENTIAL,
    ("electrode_cycles", "end_of_discharge_potential_V"): ELECTRODE_POTENTIAL,
    ("electrode_cycles", "minimum_potential_V"): ELECTRODE_POTENTIAL,
    ("potential_curves", "cycle"): _CYCLE_INDEX,
    ("potential_curves", "cell_V"): _CELL_VOLTAGE,
    ("potential_curves", "positive_V"): ELECTRODE_POTENTIAL,
    ("potential_curves", "negative_V"): ELECTRODE_POTENTIAL,
    ("differential_capacity", "cycle"): _CYCLE_INDEX,
    ("spectrum_curves", "real_ohm"): f"{ELECTROCHEMISTRY}abf986d2_90d5_4746_b42b_89dc7cc1bf0f",
    ("spectrum_curves", "imaginary_ohm"): f"{ELECTROCHEMISTRY}0089729b_5890_4c15_aa09_1244d41f8626",
}
"""Address of a term by table and column.

The rate of `cycles` is that of the discharge; its specific capacity too. The term
`DifferentialCapacity` is of the terminal voltage, ours is of an electrode, so it is not borrowed.
"""

OBJECTS: dict[str, str] = {
    f"{ELECTROCHEMISTRY}b9bece97_a511_4cb9_88a2_b5bd5c5e5d74": "ThreeElectrodeElectrochemicalCell",
    f"{ELECTROCHEMISTRY}331e6cca_f260_4bf8_af55_35304fe1bbe0": "CoinCell",
    f"{ELECTROCHEMISTRY}7729c34e_1ae9_403d_b933_1765885e7f29": "ReferenceElectrode",
}
"""Label by address of what every campaign is about."""
