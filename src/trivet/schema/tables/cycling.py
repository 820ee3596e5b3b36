"""Tables of cycles, electrodes and the reference of a cell."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text, truth
from trivet.schema.tables.shared import CELL

_READ = "trivet.rawfiles.series:read_series"
_CYCLES = "trivet.science.cycling.cycles"
_NUMBERS = "trivet.science.cycling.efficiencies"
_MASS = "trivet.science.electrodes.mass"
_POLARISATION = "trivet.science.electrodes.polarisation"
_ELECTRODES = "trivet.science.electrodes.electrode_cycles"
_REFERENCE = "trivet.science.reference.trust"
_MEASURED = "trivet.science.cycling.half_cycle_measures:measure_halves"
_POTENTIALS = "trivet.science.cycling.half_cycle_measures:potential_sums"
_ELECTRODE_ROWS = "trivet.stages.cycling.electrodes:electrode_table"
_REVIEW = "trivet.science.reference.review:review"
_TIMELINE_ROWS = "trivet.stages.cycling.tables:timeline_table"
_CURVE_ROWS = "trivet.stages.cycling.tables:curve_table"

CYCLES = Table(
    "cycles",
    "a cycle",
    (
        CELL,
        count(
            "cycle",
            "own count from the sign of the current; the first charge starts cycle 1",
            f"{_CYCLES}:cycles",
            required=True,
        ),
        number(
            "start_h",
            "h",
            "first row of the cycle, hours since the cell's clock start; missing where a table "
            "states the capacity without times",
            f"{_CYCLES}:cycles",
        ),
        number(
            "end_h",
            "h",
            "last row of the cycle, hours since the cell's clock start; missing as above",
            f"{_CYCLES}:cycles",
        ),
        number(
            "charge_capacity_mAh",
            "mA.h",
            "charge passed while charging",
            _MEASURED,
        ),
        number(
            "discharge_capacity_mAh",
            "mA.h",
            "charge passed while discharging",
            _MEASURED,
        ),
        number(
            "charge_energy_mWh",
            "mW.h",
            "energy taken up while charging",
            _POTENTIALS,
        ),
        number(
            "discharge_energy_mWh",
            "mW.h",
            "energy given while discharging",
            _POTENTIALS,
        ),
        number(
            "coulombic_efficiency",
            "1",
            "charge given over charge stored just before",
            f"{_NUMBERS}:coulombic_efficiency",
        ),
        number(
            "energy_efficiency",
            "1",
            "energy given over energy stored just before",
            f"{_NUMBERS}:energy_efficiency",
        ),
        number(
            "mean_charge_voltage_V",
            "V",
            "charge-weighted mean voltage of the charge",
            f"{_NUMBERS}:mean_voltage_V",
        ),
        number(
            "mean_discharge_voltage_V",
            "V",
            "charge-weighted mean voltage of the discharge",
            f"{_NUMBERS}:mean_voltage_V",
        ),
        number(
            "c_rate",
            "h-1",
            "median discharge current over the capacity basis",
            f"{_NUMBERS}:c_rate",
        ),
        text(
            "kind",
            "formation, ageing, check-up, rate test or partial",
            f"{_NUMBERS}:kind_of_cycle",
            required=True,
        ),
        truth(
            "complete",
            "1 where both half-cycles ran to their end, else 0",
            f"{_CYCLES}:cycles",
            required=True,
        ),
        number(
            "retention",
            "1",
            "discharge capacity over that of the reference cycle",
            f"{_NUMBERS}:retention",
        ),
        number(
            "constant_voltage_share",
            "1",
            "share of the charge passed at constant voltage",
            f"{_CYCLES}:constant_voltage_share",
        ),
        number(
            "charge_slippage_mAh",
            "mA.h",
            "how far the end of charge moved since the cycle before, on the axis of net charge",
            f"{_NUMBERS}:endpoint_slippage_mAh",
        ),
        number(
            "discharge_slippage_mAh",
            "mA.h",
            "how far the end of discharge moved since the cycle before",
            f"{_NUMBERS}:endpoint_slippage_mAh",
        ),
        number(
            "inefficiency_per_h",
            "h-1",
            "coulombic inefficiency over the duration of the cycle",
            f"{_NUMBERS}:inefficiency_per_h",
        ),
        number(
            "specific_capacity_mAh_g",
            "mA.h/g",
            "discharge capacity over the active mass of the positive",
            f"{_MASS}:per_unit",
        ),
        number(
            "specific_capacity_uncertainty_mAh_g",
            "mA.h/g",
            "its standard uncertainty from the mass alone",
            f"{_MASS}:per_unit",
        ),
        number(
            "areal_capacity_mAh_cm2",
            "mA.h/cm2",
            "discharge capacity over the area of the positive disc",
            f"{_MASS}:per_unit",
        ),
        number(
            "areal_capacity_uncertainty_mAh_cm2",
            "mA.h/cm2",
            "its standard uncertainty from the diameter alone",
            f"{_MASS}:per_unit",
        ),
        number("lowest_voltage_V", "V", "lowest cell voltage in the cycle", f"{_CYCLES}:cycles"),
        number("highest_voltage_V", "V", "highest cell voltage in the cycle", f"{_CYCLES}:cycles"),
    ),
    key=("cell", "cycle"),
)


ELECTRODE_CYCLES = Table(
    "electrode_cycles",
    "a cycle and an electrode",
    (
        CELL,
        count("cycle", "cycle as in the table cycles", f"{_CYCLES}:cycles", required=True),
        text("electrode", "positive or negative", _ELECTRODE_ROWS, required=True),
        number(
            "mean_charge_potential_V",
            "V",
            "charge-weighted mean potential of the charge",
            _ELECTRODE_ROWS,
        ),
        number(
            "mean_discharge_potential_V",
            "V",
            "charge-weighted mean potential of the discharge",
            _ELECTRODE_ROWS,
        ),
        number(
            "end_of_charge_potential_V",
            "V",
            "potential at the last charging row",
            _ELECTRODE_ROWS,
        ),
        number(
            "end_of_discharge_potential_V",
            "V",
            "potential at the last discharging row",
            _ELECTRODE_ROWS,
        ),
        number(
            "minimum_potential_V",
            "V",
            "lowest potential in the cycle",
            _ELECTRODE_ROWS,
        ),
        number(
            "hysteresis_V",
            "V",
            "difference of the two mean potentials, positive as a loss",
            f"{_ELECTRODES}:hysteresis_V",
        ),
        number(
            "hysteresis_at_half_V",
            "V",
            "difference of the potentials at half of the charge and of the discharge, positive as "
            "a loss",
            "trivet.science.electrodes.electrode_cycles:hysteresis_V",
        ),
        number(
            "polarisation_share",
            "1",
            "share of this electrode in the hysteresis (of mean potentials) of both",
            f"{_POLARISATION}:polarisation_share",
        ),
        number(
            "dc_resistance_ohm",
            "Ohm",
            "change of potential over change of current at a step",
            f"{_ELECTRODES}:dc_resistance_ohm",
        ),
        number(
            "dc_delay_s",
            "s",
            "delay after the step at which the resistance was read",
            f"{_ELECTRODES}:dc_resistance_ohm",
        ),
        number(
            "corrected_minimum_V",
            "V",
            "lowest potential of a negative that is not lithium, less its ohmic part where that "
            "is known",
            _ELECTRODE_ROWS,
        ),
        number(
            "corrected_minimum_error_mV",
            "mV",
            "its standard error: of offset, anchor, noise of a row, and ohmic part by the "
            "discharge current; a stated ohmic part is taken as exact",
            f"{_POLARISATION}:minimum_error_mV",
        ),
        number(
            "ohmic_ohm",
            "Ohm",
            "ohmic part that it was corrected by: of the settings, else of the cell's spectra",
            "trivet.stages.cycling.ohmic:negative_ohmic",
        ),
        text(
            "lithium_deposition",
            "possible, near or no, by that minimum; empty where it does not apply",
            f"{_POLARISATION}:lithium_deposition",
        ),
        text(
            "trust",
            "trust of the reference over the whole cycle",
            f"{_REFERENCE}:trust_over",
            required=True,
        ),
        truth(
            "withheld",
            "1 where no number of the row is shown, since the reference serves none",
            _ELECTRODE_ROWS,
            required=True,
        ),
        text(
            "absolute_fitness",
            "fit, corrected or not fit: whether potentials against lithium are shown",
            "trivet.science.reference.fitness:fitness_spans",
        ),
        text(
            "difference_fitness",
            "fit or not fit: whether hysteresis, dc resistance and shares are shown",
            "trivet.science.reference.fitness:fitness_spans",
        ),
        number(
            "offset_correction_mV",
            "mV",
            "offset taken off the potentials, interpolated between two anchors; 0 for none",
            "trivet.stages.cycling.fitness:served_cycles",
        ),
        number(
            "offset_correction_error_mV",
            "mV",
            "its standard error: of the anchors, and of the path between them",
            "trivet.stages.cycling.fitness:served_cycles",
        ),
    ),
    key=("cell", "cycle", "electrode"),
)


REFERENCE_CHECKS = Table(
    "reference_checks",
    "one check of one reference",
    (
        CELL,
        number(
            "time_h",
            "h",
            "hours since the cell's clock start",
            f"{_REFERENCE}:assess",
            required=True,
        ),
        text("check", "name of the check", f"{_REFERENCE}:assess", required=True),
        number("value", "", "what was found, in the row's unit", f"{_REFERENCE}:assess"),
        text("unit", "unit of value and limit", f"{_REFERENCE}:assess"),
        number("limit", "", "limit it was held against, in the row's unit", _REVIEW),
        text("trust", "trust that follows from this check", f"{_REFERENCE}:assess", required=True),
        number("lower", "", "lower limit of the 95 % interval of a drift or a change", _REVIEW),
        number("upper", "", "upper limit of that interval", _REVIEW),
        number(
            "uncertainty",
            "",
            "standard uncertainty of the known potential of an offset, or of a value by features",
            _REVIEW,
        ),
    ),
    key=("cell", "time_h", "check"),
)


TIMELINE = Table(
    "timeline",
    "a span of a cell's life",
    (
        CELL,
        text(
            "track",
            "phase (what was done) or reference (trust)",
            _TIMELINE_ROWS,
            required=True,
        ),
        text(
            "state",
            "name of the phase, or trust of the reference",
            _TIMELINE_ROWS,
            required=True,
        ),
        number(
            "start_h",
            "h",
            "hours since the cell's clock start",
            _TIMELINE_ROWS,
            required=True,
        ),
        number(
            "end_h",
            "h",
            "hours since the cell's clock start",
            _TIMELINE_ROWS,
            required=True,
        ),
    ),
    key=("cell", "track", "start_h"),
    unique=False,
)


EXCURSIONS = Table(
    "excursions",
    "a span with the cell voltage beyond its limits",
    (
        CELL,
        number(
            "start_h",
            "h",
            "hours since the cell's clock start",
            f"{_CYCLES}:excursions",
            required=True,
        ),
        number(
            "end_h",
            "h",
            "hours since the cell's clock start",
            f"{_CYCLES}:excursions",
            required=True,
        ),
        number(
            "extreme_voltage_V",
            "V",
            "voltage farthest beyond the limit",
            f"{_CYCLES}:excursions",
            required=True,
        ),
        number("limit_V", "V", "the limit with its margin", f"{_CYCLES}:excursions", required=True),
    ),
    key=("cell", "start_h"),
)


POTENTIAL_CURVES = Table(
    "potential_curves",
    "a point of a drawn cycle, thinned for print",
    (
        CELL,
        count("cycle", "cycle as in the table cycles", f"{_CYCLES}:cycles", required=True),
        text("half", "charge or discharge", _CURVE_ROWS, required=True),
        number(
            "capacity_mAh",
            "mA.h",
            "charge passed since the start of the half-cycle",
            _CURVE_ROWS,
            required=True,
        ),
        number("cell_V", "V", "cell voltage", _READ),
        number(
            "positive_V",
            "V",
            "potential of the positive, corrected where its cycle is; missing where withheld",
            _CURVE_ROWS,
        ),
        number(
            "negative_V",
            "V",
            "potential of the negative, corrected where its cycle is; missing where withheld",
            _CURVE_ROWS,
        ),
        text(
            "trust",
            "trust of the reference over the cycle",
            f"{_REFERENCE}:trust_over",
            required=True,
        ),
    ),
    key=(),
    unique=False,
    points=True,
)
