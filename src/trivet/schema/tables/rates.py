"""Tables of what steps of the current and unlike rates tell of each electrode."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text, truth
from trivet.schema.tables.shared import CELL

_CYCLES = "trivet.science.cycling.cycles:cycles"
_STEPS = "trivet.science.electrodes.step_resistance:steps_of"
_RESISTANCE = "trivet.science.electrodes.step_resistance:step_resistances"
_TESTS = "trivet.science.electrodes.rate_test:rate_tests"
_DRIFT = "trivet.science.electrodes.rate_test:drift_error_mV"
_LOSS = "trivet.science.electrodes.rate_test:voltage_loss"
_STEP_ROWS = "trivet.stages.cycling.steps:step_table"

STEP_RESISTANCES = Table(
    "step_resistances",
    "a step of the current in a slow cycle, or in a cycle that is interrupted",
    (
        CELL,
        count("cycle", "cycle as in the table cycles", _CYCLES, required=True),
        text("half", "charge or discharge that the step belongs to", _STEP_ROWS, required=True),
        text("step", "beginning of the half-cycle, within it, or its end", _STEPS, required=True),
        number("time_h", "h", "last row before it, hours since the cell's clock start", _STEP_ROWS),
        number("from_mA", "mA", "current before the step", _STEPS, required=True),
        number("to_mA", "mA", "current after the step", _STEPS, required=True),
        number("delay_s", "s", "delay after the step at which it is read", _STEPS, required=True),
        number(
            "delay_bound_s",
            "s",
            "how far the delay may be off, since the step lies between two rows",
            _STEPS,
            required=True,
        ),
        number(
            "state_of_charge",
            "1",
            "charge passed over that of the half-cycle, 0 for empty; missing where it is not whole",
            _STEPS,
        ),
        number("cell_ohm", "Ohm", "change of voltage over change of current", _RESISTANCE),
        number(
            "cell_error_ohm", "Ohm", "standard error by noise and step of a reading", _RESISTANCE
        ),
        number("positive_ohm", "Ohm", "the same of the positive", _RESISTANCE),
        number("positive_error_ohm", "Ohm", "its standard error", _RESISTANCE),
        number("negative_ohm", "Ohm", "the same of the negative", _RESISTANCE),
        number("negative_error_ohm", "Ohm", "its standard error", _RESISTANCE),
        truth(
            "withheld",
            "1 where the electrodes are withheld, since the reference serves no differences",
            _STEP_ROWS,
            required=True,
        ),
    ),
    key=("cell", "time_h"),
    unique=False,
)


RATE_CAPABILITY = Table(
    "rate_capability",
    "cycles in a row at one rate of discharge within a rate test",
    (
        CELL,
        count("test", "number of the rate test of the cell, from 1", _TESTS, required=True),
        count("cycle", "last of its cycles, which speaks for it", _TESTS, required=True),
        number("time_h", "h", "start of that cycle, hours since the cell's clock start", _CYCLES),
        count("cycles", "cycles in a row at this rate", _TESTS, required=True),
        number("c_rate", "1/h", "rate of its discharge", _CYCLES, required=True),
        count("base_cycle", "cycle at the lowest rate of the test", _TESTS, required=True),
        number("base_c_rate", "1/h", "rate of that one's discharge", _CYCLES, required=True),
        number("discharge_capacity_mAh", "mA.h", "capacity at this rate", _CYCLES),
        number(
            "capacity_share",
            "1",
            "that capacity over the one at the lowest rate; missing where temperatures are unlike",
            "trivet.stages.cycling.rates:rate_table",
        ),
        number("cell_loss_mV", "mV", "mean voltage lost at the same charge from the top", _LOSS),
        number("positive_loss_mV", "mV", "what the positive loses of it", _LOSS),
        number("negative_loss_mV", "mV", "what the negative loses of it", _LOSS),
        number("positive_share", "1", "share of the positive in both", _LOSS),
        number(
            "loss_error_mV",
            "mV",
            "standard error of each electrode's loss: a drift of the reference within its limit",
            _DRIFT,
        ),
        number("from_state_of_charge", "1", "lowest state compared, by the base's capacity", _LOSS),
        number("to_state_of_charge", "1", "highest state compared", _LOSS),
        number(
            "temperature_degC",
            "Cel",
            "median during the discharge, where recorded",
            "trivet.stages.cycling.rates:rate_table",
        ),
        number(
            "base_temperature_degC",
            "Cel",
            "the same of the base",
            "trivet.stages.cycling.rates:rate_table",
        ),
        text(
            "reason",
            "why nothing, or not the electrodes, is compared; empty where all is",
            "trivet.stages.cycling.rates:rate_table",
        ),
    ),
    key=("cell", "test", "cycle"),
)
