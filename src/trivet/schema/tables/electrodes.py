"""Tables of single platings and of what selected cycles show of each electrode."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text, truth
from trivet.schema.tables.shared import CELL

_DEPOSIT = "trivet.science.reference.plating:deposit"
_DRAINED = "trivet.science.reference.plating:drained_mAh"
_OBSERVED = "trivet.science.reference.plating:observed_life"

_DIFFERENTIAL = "trivet.science.cycling.differential:differential_capacity"
_TRUST = "trivet.science.reference.trust:trust_over"
_PLATING_ROWS = "trivet.stages.cycling.tables:plating_table"
_DIFFERENTIAL_ROWS = "trivet.stages.cycling.electrodes:differential_table"

PLATING = Table(
    "plating",
    "a plating of a reference",
    (
        CELL,
        count("plating", "number of the plating, 1 for the first", _PLATING_ROWS, required=True),
        text(
            "file",
            "file of its current; empty where only the bench log shows it",
            "trivet.rawfiles.plating:read_platings",
        ),
        truth(
            "logged",
            "1 where the bench log shows it, else 0",
            "trivet.science.reference.plating_sources:agree",
            required=True,
        ),
        number("time_h", "h", "hours since the cell's clock start", _DEPOSIT, required=True),
        number(
            "charge_mAh",
            "mA.h",
            "charge passed, by the bench log; where it states none, by the file",
            "trivet.science.reference.plating_sources:agree",
        ),
        number(
            "area_cm2", "cm2", "surface plated", "trivet.science.reference.plating:wire_area_cm2"
        ),
        number("charge_per_area_mAh_cm2", "mA.h/cm2", "charge on that surface", _DEPOSIT),
        number(
            "thickness_um",
            "um",
            "thickness if all of the charge were dense lithium; a real deposit is porous",
            "trivet.science.constants:lithium_thickness_um",
        ),
        number("usable_mAh", "mA.h", "charge times the assumed efficiency", _DEPOSIT),
        number("drained_mAh", "mA.h", "charge that the channels took until the loss", _DRAINED),
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
        truth("lost", "1 where the loss was seen, else 0", _OBSERVED, required=True),
        number(
            "implied_drain_nA",
            "nA",
            "of a lost one: usable charge over its life, the current that would have used it up",
            _DEPOSIT,
        ),
    ),
    key=("cell", "plating"),
)


DIFFERENTIAL_CAPACITY = Table(
    "differential_capacity",
    "a bin of potential of a selected slow half-cycle",
    (
        CELL,
        count(
            "cycle",
            "cycle as in the table cycles",
            "trivet.science.cycling.cycles:cycles",
            required=True,
        ),
        text(
            "half",
            "charge or discharge",
            _DIFFERENTIAL_ROWS,
            required=True,
        ),
        text("electrode", "positive or negative", _DIFFERENTIAL_ROWS, required=True),
        number(
            "potential_V",
            "V",
            "middle of the bin; against the reference as measured where its offset is not known",
            _DIFFERENTIAL,
            required=True,
        ),
        number("width_V", "V", "width of the bin", _DIFFERENTIAL, required=True),
        number(
            "narrowest_V",
            "V",
            "width of the narrowest bins of the half-cycle, by noise and step of its potentials",
            "trivet.science.cycling.differential:resolution",
            required=True,
        ),
        number(
            "charge_mAh",
            "mA.h",
            "charge that passed in the bin; all bins of a half-cycle add to its charge",
            _DIFFERENTIAL,
            required=True,
        ),
        number(
            "dq_dv_mAh_V",
            "mA.h/V",
            "that charge over the bin's width",
            _DIFFERENTIAL,
            required=True,
        ),
        text("trust", "trust of the reference over the cycle", _TRUST, required=True),
    ),
    key=("cell", "cycle", "half", "electrode", "potential_V"),
    points=True,
)


_FITNESS = "trivet.science.reference.fitness:fitness_spans"

FITNESS = Table(
    "fitness",
    "what a reference serves for one purpose over one span of time",
    (
        CELL,
        count("plating", "number of the plating, 0 before the first", _FITNESS, required=True),
        text(
            "purpose",
            "absolute potential, difference within a cycle, shape, or impedance of an electrode",
            _FITNESS,
            required=True,
        ),
        number("from_h", "h", "begin, hours since the cell's clock start", _FITNESS, required=True),
        number("to_h", "h", "end, hours since the cell's clock start", _FITNESS, required=True),
        text("fitness", "fit, corrected or not fit", _FITNESS, required=True),
        text("reason", "code of the reason", _FITNESS, required=True),
        text(
            "sentence",
            "what is shown or withheld, and why",
            "trivet.schema.findings.fitness:fitness_sentence",
            required=True,
        ),
    ),
    key=("cell", "purpose", "from_h"),
)
