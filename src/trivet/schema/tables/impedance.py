"""Tables of spectra."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text, truth
from trivet.schema.tables.shared import CELL

PAIRS = ("cell", "positive", "negative")
"""What a spectrum is measured between: the whole cell, or an electrode and the reference."""

_POINTS = "trivet.rawfiles.spectra:read_spectra"
_SPECTRUM = "trivet.science.impedance.spectrum"
_FIT = "trivet.science.impedance.model_choice"
_CAPACITANCE = "trivet.science.circuit.effective_capacitance"
_SURROUNDINGS = "trivet.stages.impedance.surroundings:surroundings_of"
_VERDICT = "trivet.science.impedance.verdict"
_SPECTRUM_ROWS = "trivet.stages.impedance.stage:run"
_NUMBERS_OF = "trivet.stages.impedance.tables:numbers_of"
_CURVE_ROWS = "trivet.stages.impedance.tables:curve_of"
_CHECK_ROWS = "trivet.stages.impedance.judged:checks_of"

SPECTRA = Table(
    "spectra",
    "a spectrum and a pair",
    (
        CELL,
        count("spectrum", "number of the measurement within the cell", _POINTS, required=True),
        number("time_h", "h", "hours since the cell's clock start", _SPECTRUM_ROWS),
        count(
            "cycle",
            "cycle during or after which it was taken; missing before the first",
            _SPECTRUM_ROWS,
        ),
        text("pair", "cell, positive or negative", _POINTS, required=True),
        count("points", "frequencies used", f"{_SPECTRUM}:headline", required=True),
        number(
            "high_frequency_resistance_ohm",
            "Ohm",
            "real part where the imaginary part is zero, or its stand-in",
            f"{_SPECTRUM}:headline",
        ),
        text(
            "high_frequency_method",
            "how the high-frequency resistance was found",
            f"{_SPECTRUM}:headline",
        ),
        number(
            "high_frequency_resistance_se_ohm",
            "Ohm",
            "standard error of the fitted R0, which stands among the parameters",
            f"{_FIT}:fit",
        ),
        number("polarisation_resistance_ohm", "Ohm", "fitted sum of the arcs", f"{_FIT}:fit"),
        number(
            "polarisation_resistance_se_ohm",
            "Ohm",
            "its standard error from the fit",
            "trivet.science.impedance.model_choice:with_model_error",
        ),
        number(
            "polarisation_at_1_hz_ohm",
            "Ohm",
            "real part at 1 Hz less the high-frequency resistance; no model",
            f"{_SPECTRUM}:headline",
        ),
        number(
            "characteristic_frequency_Hz",
            "Hz",
            "where -Z'' has its largest peak; no model",
            f"{_SPECTRUM}:characteristic_frequency_Hz",
        ),
        text(
            "moduli",
            "modulus in ohm at the frequencies of the settings in Hz, as JSON; no model",
            _NUMBERS_OF,
        ),
        text("model", "model fitted", _NUMBERS_OF),
        text(
            "parameters",
            "fitted parameters, each with value and standard error, as JSON",
            _NUMBERS_OF,
        ),
        text(
            "split_refused",
            "why the arcs may not be read one by one; empty where they may",
            _NUMBERS_OF,
        ),
        number(
            "resistance_correlation",
            "1",
            "largest correlation between the widths of neighbouring arcs",
            f"{_FIT}:fit",
        ),
        number(
            "effective_capacitance_F",
            "F",
            "effective capacitance of the widest arc",
            f"{_CAPACITANCE}:effective_capacitances_F",
        ),
        text(
            "effective_capacitances",
            "effective capacitance of every arc in farad, as JSON",
            _NUMBERS_OF,
        ),
        text(
            "effective_capacitance_formula",
            "its formula: Hsu-Mansfeld or Brug",
            _NUMBERS_OF,
        ),
        number("aicc", "1", "corrected information criterion of Akaike", f"{_FIT}:fit"),
        number(
            "bic", "1", "information criterion of Schwarz, which chose the model", f"{_FIT}:fit"
        ),
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
            "trivet.science.impedance.kramers_kronig:linear_test",
        ),
        number(
            "additivity_percent",
            "%",
            "median over frequency of the misfit of cell = positive + negative",
            f"{_SPECTRUM}:additivity_percent",
        ),
        number(
            "potential_V",
            "V",
            "voltage or potential of the pair at rest before the sweep, from the cycling rows",
            _SURROUNDINGS,
        ),
        number("rest_h", "h", "rest before the sweep", _SURROUNDINGS),
        number("temperature_degC", "Cel", "temperature before the sweep", _SURROUNDINGS),
        text("trust", "trusted, suspect or rejected", f"{_VERDICT}:verdict", required=True),
        text("reasons", "why it is not trusted; empty otherwise", _SPECTRUM_ROWS),
        truth(
            "withheld",
            "1 where the numbers of an electrode are withheld: the reference does not serve",
            _SPECTRUM_ROWS,
            required=True,
        ),
        truth(
            "misplaced",
            "1 where shapes or shares speak against the place of the reference",
            "trivet.stages.impedance.judged:is_misplaced",
        ),
        text(
            "placed_by",
            "time, or cycle where the file states only that; empty where it has no place",
            _SPECTRUM_ROWS,
        ),
    ),
    key=("cell", "spectrum", "pair"),
)


SPECTRUM_CHECKS = Table(
    "spectrum_checks",
    "a check of a spectrum and a pair",
    (
        CELL,
        count("spectrum", "number of the measurement within the cell", _POINTS, required=True),
        text("pair", "cell, positive or negative", _POINTS, required=True),
        text("check", "name of the check", _CHECK_ROWS, required=True),
        text(
            "outcome",
            "trusted where it passes, suspect, rejected, or not testable",
            _CHECK_ROWS,
            required=True,
        ),
        number("value", "", "what was found, in the row's unit", _CHECK_ROWS),
        number("limit", "", "what it was held against, in the row's unit", _CHECK_ROWS),
        text("unit", "unit of value and limit", _CHECK_ROWS),
        text("note", "the reason, or why it could not be tested", _CHECK_ROWS),
    ),
    key=("cell", "spectrum", "pair", "check"),
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
        number("fitted_real_ohm", "Ohm", "real part of the fitted model", _CURVE_ROWS),
        number("fitted_imaginary_ohm", "Ohm", "imaginary part of the fitted model", _CURVE_ROWS),
        number(
            "kk_residual_real_percent",
            "%",
            "Kramers-Kronig residual of the real part",
            "trivet.science.impedance.kramers_kronig:linear_test",
        ),
        number(
            "kk_residual_imaginary_percent",
            "%",
            "Kramers-Kronig residual of the imaginary part",
            "trivet.science.impedance.kramers_kronig:linear_test",
        ),
    ),
    key=(),
    unique=False,
    points=True,
)
