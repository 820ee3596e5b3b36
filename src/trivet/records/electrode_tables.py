"""Tables of single platings and of what selected cycles show of each electrode."""

from __future__ import annotations

from trivet.records.columns import Table, count, number
from trivet.records.shared_columns import CELL

_DEPOSIT = "trivet.science.plating:deposit"
_DRAINED = "trivet.science.plating:drained_mAh"
_OBSERVED = "trivet.science.plating:observed_life"

PLATING = Table(
    "plating",
    "a plating of a reference",
    (
        CELL,
        count("plating", "number of the plating, 1 for the first", _DEPOSIT, required=True),
        number("time_h", "h", "hours since the cell's clock start", _DEPOSIT, required=True),
        number(
            "charge_mAh",
            "mA.h",
            "charge passed, by the bench log",
            "trivet.io.bench_log:read_bench_log",
        ),
        number("area_cm2", "cm2", "surface plated", "trivet.science.plating:wire_area_cm2"),
        number("charge_per_area_mAh_cm2", "mA.h/cm2", "charge on that surface", _DEPOSIT),
        number(
            "thickness_um",
            "um",
            "thickness if all of the charge were dense lithium; a real deposit is porous",
            "trivet.science.constants:lithium_thickness_um",
        ),
        number("usable_mAh", "mA.h", "charge times the assumed efficiency", _DEPOSIT),
        number("drained_mAh", "mA.h", "charge that the measuring channels took since", _DRAINED),
        number(
            "left_share",
            "1",
            "share of the usable charge left, an upper bound: corrosion and water take more",
            _DEPOSIT,
        ),
        number(
            "expected_life_h",
            "h",
            "usable charge over the mean drain, an upper bound of the life",
            _DEPOSIT,
        ),
        number(
            "observed_life_h", "h", "from plating to loss, or to the last moment seen", _OBSERVED
        ),
        count("lost", "1 where the loss was seen, else 0", _OBSERVED, required=True),
    ),
    key=("cell", "plating"),
)
