"""Tables of what needs the spectra of the whole campaign: second pass, trends, relaxation."""

from __future__ import annotations

from trivet.schema.tables.columns import Table, count, number, text, truth
from trivet.schema.tables.shared import CELL

_SPECTRUM_ROWS = "trivet.stages.impedance.stage:run"
_POINTS = "trivet.rawfiles.spectra:read_spectra"
_FIXED = "trivet.science.impedance.fixed_exponents:fit_fixed"
_SLOPE = "trivet.science.impedance.trend:robust_slope"
_WITHIN = "trivet.science.impedance.trend:per_unit_within"
_RELAXATION = "trivet.science.impedance.relaxation:distribution"
_PEAKS = "trivet.science.impedance.relaxation:peaks"
_PASS = "trivet.stages.trends.second_pass:second_pass"
_TRENDS = "trivet.stages.trends.rows:trend_rows"
_AREA = "trivet.science.electrodes.mass:disc_area_cm2"
_RELAXATION_ROWS = "trivet.stages.trends.relaxation:relaxation_rows"

_SPECTRUM = count("spectrum", "number of the measurement within the cell", _POINTS, required=True)
_HOURS = number("time_h", "h", "hours since the cell's clock start", _SPECTRUM_ROWS)
_PAIR = text("pair", "cell, positive or negative", _POINTS, required=True)

SPECTRA_SECOND_PASS = Table(
    "spectra_second_pass",
    "a spectrum and a pair, fitted again with the exponents of the campaign",
    (
        CELL,
        _SPECTRUM,
        _HOURS,
        count("cycle", "cycle during or after which it was taken", _SPECTRUM_ROWS),
        _PAIR,
        text("model", "model fitted: the commonest of the first pass for the pair", _PASS),
        text("exponents", "exponents held, as JSON: medians of the campaign", _PASS),
        count("pooled_spectra", "spectra that the medians were taken over", _PASS),
        number("ohmic_resistance_ohm", "Ohm", "fitted series resistance", _FIXED),
        number("ohmic_resistance_se_ohm", "Ohm", "its standard error from the fit", _FIXED),
        number("polarisation_resistance_ohm", "Ohm", "fitted sum of the arcs", _FIXED),
        number("polarisation_resistance_se_ohm", "Ohm", "its standard error from the fit", _FIXED),
        text(
            "basis",
            "what the resistances come from: second pass, with an exponent held at its bound or "
            "not, or first pass where the second can't fit; empty where there is none",
            _PASS,
        ),
        text(
            "parameters",
            "fitted parameters, each with value and standard error, as JSON; an exponent that was "
            "held has no error",
            _PASS,
        ),
        truth("split", "1 where the arcs may be read one by one", _PASS),
        text("split_refused", "why they may not; empty where they may, or for one arc", _FIXED),
        number(
            "fit_rms_percent", "%", "root mean square of the relative residuals of the fit", _FIXED
        ),
        truth(
            "alike",
            "1 where the potential is like that of the cell's other spectra of the pair; missing "
            "where it is not known",
            "trivet.science.impedance.trend:alike",
        ),
        number(
            "ohmic_share",
            "1",
            "share of the electrode in the ohmic resistance of both",
            "trivet.science.impedance.trend:share",
        ),
        number(
            "polarisation_share",
            "1",
            "share of the electrode in the polarisation resistance of both",
            "trivet.science.impedance.trend:share",
        ),
        text("reason", "why it was not fitted again; empty otherwise", _PASS),
    ),
    key=("cell", "spectrum", "pair"),
)

RESISTANCE_TRENDS = Table(
    "resistance_trends",
    "a cell, a pair, a resistance and a clock",
    (
        CELL,
        _PAIR,
        text("quantity", "ohmic or polarisation", _TRENDS, required=True),
        text("clock", "hours or cycles", _TRENDS, required=True),
        text("unit", "unit of the slope: per 100 h or per 100 cycles", _TRENDS, required=True),
        count("spectra", "spectra that the slope rests on", _SLOPE, required=True),
        count(
            "left_out",
            "spectra of the cell and pair that it does not rest on: rejected, withheld, not at "
            "like potential, without a time",
            _TRENDS,
            required=True,
        ),
        number("first", "", "first hour or cycle", _TRENDS),
        number("last", "", "last hour or cycle", _TRENDS),
        number("start_ohm", "Ohm", "resistance of the line at its first point", _SLOPE),
        number("slope", "", "median of the slopes between all pairs of spectra", _SLOPE),
        number(
            "slope_standard_error",
            "",
            "larger of two: from the scatter about the line, from the errors of the fits",
            _SLOPE,
        ),
        number("slope_lower", "", "lower limit, Student's t for two spectra fewer", _SLOPE),
        number("slope_upper", "", "upper limit", _SLOPE),
        number("rank_correlation", "1", "Spearman's correlation with the clock", _SLOPE),
        number("area_cm2", "cm2", "facing area: that of the smaller disc", _AREA),
        number("areal_slope", "", "slope times area, in the unit of the slope times cm2", _TRENDS),
        number("areal_slope_lower", "", "lower limit times area", _TRENDS),
        number("areal_slope_upper", "", "upper limit times area", _TRENDS),
        text(
            "basis",
            "what the resistances come from: second pass (an exponent held at its bound or not), "
            "first pass",
            _PASS,
        ),
        text("reason", "why there is no slope; empty otherwise", _TRENDS),
    ),
    key=("cell", "pair", "quantity", "clock"),
)

SEPARATOR_RESISTANCE = Table(
    "separator_resistance",
    "a pair: what one more separator adds to the ohmic resistance at the first check-up",
    (
        _PAIR,
        count("cells", "cells of batches in which the number differs", _WITHIN, required=True),
        count("batches", "such batches", _WITHIN, required=True),
        number("per_separator_ohm", "Ohm", "rise per separator, batches apart", _WITHIN),
        number("per_separator_se_ohm", "Ohm", "its standard error", _WITHIN),
        number("lower_ohm", "Ohm", "lower limit", _WITHIN),
        number("upper_ohm", "Ohm", "upper limit", _WITHIN),
        number("areal_per_separator_ohm_cm2", "Ohm.cm2", "the same with areal resistance", _WITHIN),
        number("areal_lower_ohm_cm2", "Ohm.cm2", "lower limit", _WITHIN),
        number("areal_upper_ohm_cm2", "Ohm.cm2", "upper limit", _WITHIN),
        text("reason", "why a value is missing; empty otherwise", _WITHIN),
    ),
    key=("pair",),
)

RELAXATION_TIMES = Table(
    "relaxation_times",
    "a time constant of the distribution of a spectrum and a pair; few spectra a cell",
    (
        CELL,
        _SPECTRUM,
        _HOURS,
        _PAIR,
        number("time_constant_s", "s", "time constant", _RELAXATION, required=True),
        number(
            "density_ohm",
            "Ohm",
            "resistance per unit of the natural logarithm of the time constant",
            _RELAXATION,
            required=True,
        ),
    ),
    key=("cell", "spectrum", "pair", "time_constant_s"),
    points=True,
)

RELAXATION_PEAKS = Table(
    "relaxation_peaks",
    "a peak of the distribution of relaxation times of a spectrum and a pair",
    (
        CELL,
        _SPECTRUM,
        _HOURS,
        _PAIR,
        count("peak", "its number, from the fastest", _RELAXATION_ROWS, required=True),
        number("resistance_ohm", "Ohm", "its area", _PEAKS, required=True),
        number("time_constant_s", "s", "its position", _PEAKS, required=True),
        number("from_s", "s", "the valley before it", _PEAKS, required=True),
        number("to_s", "s", "the valley after it", _PEAKS, required=True),
        number("regularisation", "1", "regularisation, one for the pair", _RELAXATION),
        number("fit_rms_percent", "%", "misfit of the whole distribution", _RELAXATION),
    ),
    key=("cell", "spectrum", "pair", "peak"),
)
