"""Rows of the tables that the stage impedance writes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.schema.settings.science import Impedance
from trivet.schema.tables.dictionary import TABLES
from trivet.science.circuit.effective_capacitance import effective_capacitances_F, widest_arc
from trivet.science.circuit.fit import SpectrumFit
from trivet.science.impedance.analysis import Analysis
from trivet.science.impedance.spectrum import modulus_ohm
from trivet.stages.impedance.pair import Pair
from trivet.store.tables import rows_table

Row = dict[str, Any]
_FIT_NUMBERS = (
    "high_frequency_resistance_se_ohm",
    "polarisation_resistance_ohm",
    "polarisation_resistance_se_ohm",
    "resistance_correlation",
    "effective_capacitance_F",
    "aicc",
    "bic",
    "fit_rms_percent",
)
_FIT_WORDS = (
    "parameters",
    "split_refused",
    "effective_capacitances",
    "effective_capacitance_formula",
)


def table_of(name: str, rows: Sequence[Row]) -> pa.Table:
    """Give a table of the dictionary from its rows."""
    return rows_table(TABLES[name], rows)


def numbers_of(
    analysis: Analysis,
    additivity: float | None,
    *,
    impedance: Impedance,
    potential_V: float | None,
    held: bool,
) -> Row:
    """Numbers of a pair; all but the count of points empty where it is withheld."""
    fitted, screened, head = analysis.fitted, analysis.screened, analysis.headline
    moduli = {
        f"{frequency:g}": _nine_digits(modulus_ohm(analysis.used, frequency_Hz=frequency))
        for frequency in impedance.modulus_frequencies_Hz
    }
    numbers: Row = {
        "high_frequency_resistance_ohm": head.high_frequency_resistance_ohm,
        "high_frequency_method": head.method,
        "polarisation_at_1_hz_ohm": head.polarisation_at_1_hz_ohm,
        "characteristic_frequency_Hz": head.characteristic_frequency_Hz,
        "moduli": json.dumps(moduli) if head.points else "",
        "kk_rms_percent": None if screened is None else screened.test.rms_percent,
        "additivity_percent": additivity,
        "potential_V": potential_V,
    } | _fit_numbers(fitted, impedance)
    if held:
        numbers = {name: "" if isinstance(value, str) else None for name, value in numbers.items()}
    return {"points": head.points, "model": fitted.circuit.label if fitted else ""} | numbers


def _fit_numbers(fitted: SpectrumFit | None, impedance: Impedance) -> Row:
    """Columns that come from the model; empty without one."""
    if fitted is None:
        return dict.fromkeys(_FIT_WORDS, "") | dict.fromkeys(_FIT_NUMBERS)
    formula = impedance.capacitance_formula
    capacitances = effective_capacitances_F(fitted, formula=formula)
    widest = widest_arc(fitted)
    has_ohmic = "R0_ohm" in fitted.circuit.names
    return {
        "high_frequency_resistance_se_ohm": fitted.standard_error("R0_ohm") if has_ohmic else None,
        "polarisation_resistance_ohm": fitted.polarisation_resistance_ohm,
        "polarisation_resistance_se_ohm": fitted.polarisation_resistance_se_ohm,
        "resistance_correlation": fitted.resistance_correlation,
        "effective_capacitance_F": capacitances.get(widest or ""),
        "effective_capacitances": _as_json(capacitances) if capacitances else "",
        "effective_capacitance_formula": formula if capacitances else "",
        "aicc": fitted.aicc,
        "bic": fitted.bic,
        "fit_rms_percent": fitted.rms_percent,
        "parameters": _parameters(fitted),
        "split_refused": "; ".join(fitted.split_refused),
    }


def _as_json(values: dict[str, float]) -> str:
    """Numbers by name as JSON, to nine digits."""
    return json.dumps({name: _nine_digits(value) for name, value in values.items()})


def _parameters(fitted: SpectrumFit) -> str:
    """Parameters as JSON, to nine digits."""
    values = {
        name: {
            "value": _nine_digits(fitted.value(name)),
            "standard_error": _nine_digits(fitted.standard_error(name)),
        }
        for name in fitted.circuit.names
    }
    return json.dumps(values)


def _nine_digits(value: float | None) -> float | None:
    """A number without the digits that mean nothing."""
    return None if value is None else float(f"{value:.9g}")


def curve_of(cell: str, one: Pair) -> list[Row]:
    """Measured and modelled points of a pair; an outlier has no residual."""
    analysis, trace = one.analysis, one.analysis.trace
    fitted = np.full(len(trace.frequency_Hz), complex(np.nan, np.nan))
    residual = fitted.copy()
    if analysis.fitted is not None:
        model = analysis.fitted
        fitted = model.circuit.impedance(trace.frequency_Hz, model.parameters)
    if analysis.screened is not None:
        residual[analysis.kept] = 100 * analysis.screened.test.residuals
    return [
        {
            "cell": cell,
            "spectrum": one.spectrum,
            "pair": one.pair,
            "frequency_Hz": float(frequency),
            "real_ohm": measured.real,
            "imaginary_ohm": measured.imag,
            "fitted_real_ohm": model.real,
            "fitted_imaginary_ohm": model.imag,
            "kk_residual_real_percent": misfit.real,
            "kk_residual_imaginary_percent": misfit.imag,
        }
        for frequency, measured, model, misfit in zip(
            trace.frequency_Hz.tolist(),
            trace.impedance_ohm.tolist(),
            fitted.tolist(),
            residual.tolist(),
            strict=True,
        )
    ]
