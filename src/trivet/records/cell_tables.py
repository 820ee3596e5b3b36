"""Tables of one cell: what was read, and what each electrode, reference and spectrum did."""

from __future__ import annotations

from trivet.records.columns import Table, count, number, text

_READ = "trivet.io.series:read_series"
_POINTS = "trivet.io.spectra:read_spectra"
_LEDGER = "trivet.io.ledger:ledger_row"
_CYCLES = "trivet.science.cycling"
_ELECTRODES = "trivet.science.electrodes"
_REFERENCE = "trivet.science.reference"
_SPECTRUM = "trivet.science.spectrum"
_FIT = "trivet.science.spectrum_fit"

CELL = text(
    "cell", "cell id as in the build sheet", "trivet.io.build_sheet:read_build_sheet", required=True
)

SERIES = Table(
    "series",
    "a row of a raw cycling file",
    (
        CELL,
        number(
            "time_s",
            "s",
            "Unix time; seconds since the first row where absolute time is unknown",
            _READ,
            required=True,
        ),
        number("current_mA", "mA", "cell current, charge positive", _READ),
        number("cell_V", "V", "voltage, positive against negative", _READ),
        number("positive_V", "V", "potential of the positive against the reference", _READ),
        number("negative_V", "V", "potential of the negative against the reference", _READ),
        number("temperature_degC", "Cel", "temperature as recorded", _READ),
        count("raw_cycle", "cycle counter of the instrument, as evidence only", _READ),
        text("file", "raw file, relative to the campaign folder", _READ, required=True),
        count("line", "line in the raw file", _READ, required=True),
    ),
    key=(),
    unique=False,
    archived=False,
)

SPECTRUM_POINTS = Table(
    "spectrum_points",
    "a frequency of a spectrum and a pair",
    (
        CELL,
        count(
            "spectrum",
            "number of the measurement within the cell, in order of time",
            _POINTS,
            required=True,
        ),
        number("time_s", "s", "Unix time of the measurement; missing where unknown", _POINTS),
        text("pair", "what was measured: cell, positive or negative", _POINTS, required=True),
        number("frequency_Hz", "Hz", "frequency", _POINTS, required=True),
        number("real_ohm", "Ohm", "real part of the impedance", _POINTS, required=True),
        number(
            "imaginary_ohm",
            "Ohm",
            "imaginary part, negative for capacitive",
            _POINTS,
            required=True,
        ),
        text("file", "raw file, relative to the campaign folder", _POINTS, required=True),
        count("line", "line in the raw file", _POINTS, required=True),
    ),
    key=(),
    unique=False,
    archived=False,
)

LEDGER = Table(
    "ledger",
    "a raw file",
    (
        CELL,
        text("file", "raw file, relative to the campaign folder", _LEDGER, required=True),
        text("content", "cycling or impedance", _LEDGER, required=True),
        text("layout", "name of the layout it was read with", _LEDGER, required=True),
        count("bytes", "size of the file", _LEDGER, required=True),
        text("sha256", "checksum of the file", _LEDGER, required=True),
        count("rows_seen", "data rows in the file, up to the data cut", _LEDGER, required=True),
        count("rows_used", "rows that entered the results", _LEDGER, required=True),
        count("rows_set_aside", "rows not used, each with a finding", _LEDGER, required=True),
        text("set_aside_because", "reasons with their counts", _LEDGER),
        text("assumed", "what was inferred and on which evidence", _LEDGER),
        text(
            "derived",
            "the one of cell, positive, negative that was derived from the others",
            _LEDGER,
        ),
        text(
            "absolute_time",
            "yes or no: whether rows could be placed on the calendar",
            _LEDGER,
            required=True,
        ),
        number("first_time_s", "s", "time of the first row used", _LEDGER),
        number("last_time_s", "s", "time of the last row used", _LEDGER),
    ),
    key=("cell", "file"),
)

CYCLES = Table(
    "cycles",
    "a cycle",
    (
        CELL,
        count(
            "cycle",
            "own count from the sign of the current, from 1",
            f"{_CYCLES}:cycles",
            required=True,
        ),
        number(
            "start_h",
            "h",
            "first row of the cycle, hours since the cell's clock start",
            f"{_CYCLES}:cycles",
            required=True,
        ),
        number(
            "end_h",
            "h",
            "last row of the cycle, hours since the cell's clock start",
            f"{_CYCLES}:cycles",
            required=True,
        ),
        number(
            "charge_capacity_mAh", "mA.h", "charge passed while charging", f"{_CYCLES}:charge_mAh"
        ),
        number(
            "discharge_capacity_mAh",
            "mA.h",
            "charge passed while discharging",
            f"{_CYCLES}:charge_mAh",
        ),
        number(
            "charge_energy_mWh", "mW.h", "energy taken up while charging", f"{_CYCLES}:energy_mWh"
        ),
        number(
            "discharge_energy_mWh",
            "mW.h",
            "energy given while discharging",
            f"{_CYCLES}:energy_mWh",
        ),
        number(
            "coulombic_efficiency",
            "1",
            "charge given over charge stored just before",
            f"{_CYCLES}:coulombic_efficiency",
        ),
        number(
            "energy_efficiency",
            "1",
            "energy given over energy stored just before",
            f"{_CYCLES}:energy_efficiency",
        ),
        number(
            "mean_charge_voltage_V",
            "V",
            "charge-weighted mean voltage of the charge",
            f"{_CYCLES}:mean_voltage_V",
        ),
        number(
            "mean_discharge_voltage_V",
            "V",
            "charge-weighted mean voltage of the discharge",
            f"{_CYCLES}:mean_voltage_V",
        ),
        number(
            "c_rate", "h-1", "median discharge current over the capacity basis", f"{_CYCLES}:c_rate"
        ),
        text(
            "kind",
            "formation, ageing, check-up, rate test or partial",
            f"{_CYCLES}:kind_of_cycle",
            required=True,
        ),
        count(
            "complete",
            "1 where both half-cycles ran to their end, else 0",
            f"{_CYCLES}:cycles",
            required=True,
        ),
        number(
            "retention",
            "1",
            "discharge capacity over that of the reference cycle",
            f"{_CYCLES}:retention",
        ),
        number(
            "constant_voltage_share",
            "1",
            "share of the charge passed at constant voltage",
            f"{_CYCLES}:constant_voltage_share",
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
        text("electrode", "positive or negative", f"{_ELECTRODES}:electrode_cycles", required=True),
        number(
            "mean_charge_potential_V",
            "V",
            "charge-weighted mean potential of the charge",
            f"{_CYCLES}:mean_voltage_V",
        ),
        number(
            "mean_discharge_potential_V",
            "V",
            "charge-weighted mean potential of the discharge",
            f"{_CYCLES}:mean_voltage_V",
        ),
        number(
            "end_of_charge_potential_V",
            "V",
            "potential at the last charging row",
            f"{_ELECTRODES}:electrode_cycles",
        ),
        number(
            "end_of_discharge_potential_V",
            "V",
            "potential at the last discharging row",
            f"{_ELECTRODES}:electrode_cycles",
        ),
        number(
            "minimum_potential_V",
            "V",
            "lowest potential in the cycle",
            f"{_ELECTRODES}:electrode_cycles",
        ),
        number(
            "hysteresis_V",
            "V",
            "difference of the two mean potentials, positive as a loss",
            f"{_ELECTRODES}:hysteresis_V",
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
        text(
            "trust",
            "trust of the reference over the whole cycle",
            f"{_REFERENCE}:trust_over",
            required=True,
        ),
        count(
            "withheld",
            "1 where values are withheld because the reference is not trusted",
            f"{_REFERENCE}:is_withheld",
            required=True,
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
        number("limit", "", "limit it was held against, in the row's unit", f"{_REFERENCE}:assess"),
        text("trust", "trust that follows from this check", f"{_REFERENCE}:assess", required=True),
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
            f"{_REFERENCE}:trust_timeline",
            required=True,
        ),
        text(
            "state",
            "name of the phase, or trust of the reference",
            f"{_REFERENCE}:trust_timeline",
            required=True,
        ),
        number(
            "start_h",
            "h",
            "hours since the cell's clock start",
            f"{_REFERENCE}:trust_timeline",
            required=True,
        ),
        number(
            "end_h",
            "h",
            "hours since the cell's clock start",
            f"{_REFERENCE}:trust_timeline",
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
        text("half", "charge or discharge", f"{_CYCLES}:half_cycles", required=True),
        number(
            "capacity_mAh",
            "mA.h",
            "charge passed since the start of the half-cycle",
            f"{_CYCLES}:charge_mAh",
            required=True,
        ),
        number("cell_V", "V", "cell voltage", _READ),
        number(
            "positive_V",
            "V",
            "potential of the positive; missing where withheld",
            f"{_REFERENCE}:is_withheld",
        ),
        number(
            "negative_V",
            "V",
            "potential of the negative; missing where withheld",
            f"{_REFERENCE}:is_withheld",
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
)

SPECTRA = Table(
    "spectra",
    "a spectrum and a pair",
    (
        CELL,
        count("spectrum", "number of the measurement within the cell", _POINTS, required=True),
        number("time_h", "h", "hours since the cell's clock start", _POINTS),
        count(
            "cycle",
            "cycle during or after which it was taken; missing before the first",
            "trivet.stages.impedance:run",
        ),
        text("pair", "cell, positive or negative", _POINTS, required=True),
        count("points", "frequencies used", f"{_SPECTRUM}:headline", required=True),
        number(
            "high_frequency_resistance_ohm",
            "Ohm",
            "real part where the imaginary part is zero",
            f"{_SPECTRUM}:headline",
        ),
        number(
            "high_frequency_resistance_se_ohm",
            "Ohm",
            "its standard error from the fit",
            f"{_FIT}:fit",
        ),
        number("polarisation_resistance_ohm", "Ohm", "fitted sum of the arcs", f"{_FIT}:fit"),
        number(
            "polarisation_resistance_se_ohm",
            "Ohm",
            "its standard error from the fit",
            f"{_FIT}:fit",
        ),
        number(
            "polarisation_at_1_hz_ohm",
            "Ohm",
            "real part at 1 Hz less the high-frequency resistance; no model",
            f"{_SPECTRUM}:headline",
        ),
        text("model", "model fitted", f"{_FIT}:fit"),
        text("parameters", "fitted parameters and standard errors, as JSON", f"{_FIT}:fit"),
        number(
            "fit_rms_percent",
            "%",
            "root mean square of the relative residuals of the fit",
            f"{_FIT}:fit",
        ),
        number(
            "kk_rms_percent",
            "%",
            "root mean square of the linear Kramers-Kronig residuals",
            "trivet.science.kramers_kronig:linear_test",
        ),
        number(
            "additivity_percent",
            "%",
            "median over frequency of the misfit of cell = positive + negative",
            f"{_SPECTRUM}:additivity_percent",
        ),
        text("trust", "trusted, suspect or rejected", f"{_SPECTRUM}:verdict", required=True),
        text("reasons", "why it is not trusted; empty otherwise", f"{_SPECTRUM}:verdict"),
        count(
            "withheld",
            "1 for an electrode whose reference was not trusted at the time",
            f"{_REFERENCE}:is_withheld",
            required=True,
        ),
    ),
    key=("cell", "spectrum", "pair"),
)

SPECTRUM_CURVES = Table(
    "spectrum_curves",
    "a frequency of a spectrum and a pair, measured and modelled",
    (
        CELL,
        count("spectrum", "number of the measurement within the cell", _POINTS, required=True),
        text("pair", "cell, positive or negative", _POINTS, required=True),
        number("frequency_Hz", "Hz", "frequency", _POINTS, required=True),
        number("real_ohm", "Ohm", "real part as measured", _POINTS, required=True),
        number("imaginary_ohm", "Ohm", "imaginary part as measured", _POINTS, required=True),
        number("fitted_real_ohm", "Ohm", "real part of the fitted model", f"{_FIT}:fit"),
        number("fitted_imaginary_ohm", "Ohm", "imaginary part of the fitted model", f"{_FIT}:fit"),
        number(
            "kk_residual_real_percent",
            "%",
            "Kramers-Kronig residual of the real part",
            "trivet.science.kramers_kronig:linear_test",
        ),
        number(
            "kk_residual_imaginary_percent",
            "%",
            "Kramers-Kronig residual of the imaginary part",
            "trivet.science.kramers_kronig:linear_test",
        ),
    ),
    key=(),
    unique=False,
)

_FINDING = "trivet.records.findings:finding_columns"
FINDINGS = Table(
    "findings",
    "a finding",
    (
        text("cell", "cell id; empty for the campaign", _FINDING),
        text("file", "raw file; empty where none is meant", _FINDING),
        count("line", "line in the file", _FINDING),
        text("check", "name of the check", _FINDING, required=True),
        text("severity", "note, caution or fault", _FINDING, required=True),
        number("value", "", "what was found, in the row's unit", _FINDING),
        number("limit", "", "limit it was held against, in the row's unit", _FINDING),
        text("unit", "unit of value and limit", _FINDING),
        text("action", "what was done", _FINDING, required=True),
        text("message", "one sentence", _FINDING, required=True),
    ),
    key=("cell", "check", "file", "line"),
    unique=False,
)
