"""Tables of what steps of the current and unlike rates tell of each electrode."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text
from trivet.schema.tables.shared import CELL

_CYCLES = "trivet.science.cycling.cycles:cycles"
_STEPS = "trivet.science.electrodes.step_resistance:steps_of"
_RESISTANCE = "trivet.science.electrodes.step_resistance:step_resistances"
_TESTS = "trivet.science.electrodes.rate_test:rate_tests"
_LOSS = "trivet.science.electrodes.rate_test:voltage_loss"

STEP_RESISTANCES = Table(
    "step_resistances",
    "a step of the current in a slow cycle, or in a cycle that is interrupted",
    (
        CELL,
        count("cycle", "cycle as in the table cycles", _CYCLES, required=True),
        text("half", "charge or discharge that the step belongs to", _STEPS, required=True),
        text("step", "beginning of the half-cycle, within it, or its end", _STEPS, required=True),
        number("time_h", "h", "last row before it, hours since the cell's clock start", _STEPS),
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
            "cell_error_ohm", "Ohm", "standard error by noise and step of readings", _RESISTANCE
        ),
        number("positive_ohm", "Ohm", "the same of the positive", _RESISTANCE),
        number("positive_error_ohm", "Ohm", "its standard error", _RESISTANCE),
        number("negative_ohm", "Ohm", "the same of the negative", _RESISTANCE),
        number("negative_error_ohm", "Ohm", "its standard error", _RESISTANCE),
        count(
            "withheld",
            "1 where the electrodes are withheld, since the reference serves no differences",
            "trivet.science.reference.fitness:fitness_spans",
            required=True,
        ),
    ),
    key=("cell", "time_h"),
    unique=False,
)
