"""Numbers of one cell for the stage measures, each missing one with its reason."""

from __future__ import annotations

from typing import Any

import numpy as np

from trivet.reasons import Fitness
from trivet.reference_checks import ReferenceCheck
from trivet.schema.tables.impedance import PAIRS
from trivet.science.comparison.cell_measures import first_value, mean_of_first, rise_per_100_h
from trivet.science.impedance.reference_geometry import NAME as GEOMETRY
from trivet.store.group_by_cell import Columns

WITHHELD = "withheld: the reference was not trusted"

Rows = list[dict[str, Any]]


def number(measure: str, unit: str, value: float, reason: str) -> dict[str, Any]:
    """One number of a cell; the reason stands only where the value is missing."""
    missing = not np.isfinite(value)
    return {
        "measure": measure,
        "unit": unit,
        "value": None if missing else value,
        "reason": reason if missing else "",
    }


def _ageing(cycles: Columns) -> np.ndarray:
    """Which cycles are complete ageing cycles."""
    judged: np.ndarray = (cycles["kind"] == "ageing") & (cycles["complete"] == 1)
    return judged


def cycling_numbers(cycles: Columns, ageing_rate: float, window: int) -> Rows:
    """Capacity and efficiency of the first ageing cycles."""
    ageing = _ageing(cycles)
    hours = cycles["start_h"][ageing]
    inefficiency = 1.0 - cycles["coulombic_efficiency"][ageing]
    capacity = first_value(cycles["discharge_capacity_mAh"][ageing])
    efficiencies = cycles["coulombic_efficiency"][ageing]
    efficiency = mean_of_first(efficiencies, number=window)
    found = int(np.isfinite(efficiencies).sum())
    return [
        number(
            "fade of capacity",
            "%/(100.h)",
            -100.0 * rise_per_100_h(cycles["retention"][ageing], time_h=hours),
            "fewer than two complete ageing cycles with a retention",
        ),
        number(
            "coulombic inefficiency, middle of the ageing cycles",
            "1",
            float(np.nanmedian(inefficiency)) if np.isfinite(inefficiency).any() else np.nan,
            "no complete ageing cycle with an efficiency",
        ),
        number(
            "first ageing discharge capacity",
            "mA.h",
            capacity,
            f"no complete ageing cycle at {ageing_rate:g} 1/h",
        ),
        number(
            f"mean coulombic efficiency of the first {window} ageing cycles",
            "1",
            efficiency,
            f"{found} complete ageing cycles with an efficiency, {window} needed",
        ),
        number(
            "growth of the hysteresis of the cell",
            "V/(100.h)",
            rise_per_100_h(_hysteresis_V(cycles)[ageing], time_h=hours),
            "fewer than two complete ageing cycles with both mean voltages",
        ),
    ]


def _hysteresis_V(cycles: Columns) -> np.ndarray:
    """Mean voltage of charge less that of discharge, by cycle."""
    difference: np.ndarray = cycles["mean_charge_voltage_V"] - cycles["mean_discharge_voltage_V"]
    return difference


def _held(electrodes: Columns) -> np.ndarray:
    """Rows whose differences within a cycle are withheld."""
    held: np.ndarray = electrodes["difference_fitness"] == Fitness.NOT_FIT
    return np.asarray(held | (electrodes["withheld"] == 1))


def _growth(cycles: Columns, own: Columns, electrode: str) -> dict[str, Any]:
    """Growth of the hysteresis of an electrode over the ageing cycles that were trusted."""
    place = {cycle: index for index, cycle in enumerate(cycles["cycle"])}
    ageing = set(cycles["cycle"][_ageing(cycles)])
    mine = (own["electrode"] == electrode) & np.isin(own["cycle"], list(ageing))
    hours = np.array([cycles["start_h"][place[cycle]] for cycle in own["cycle"][mine]], dtype=float)
    reason = "fewer than two complete ageing cycles with both mean potentials"
    if mine.any() and _held(own)[mine].all():
        reason = WITHHELD
    return number(
        f"growth of the hysteresis of the {electrode}",
        "V/(100.h)",
        rise_per_100_h(own["hysteresis_V"][mine], time_h=hours),
        reason,
    )


def electrode_numbers(cycles: Columns, electrodes: Columns) -> Rows:
    """Dc resistance of each electrode in the first ageing cycle."""
    first = first_value(cycles["cycle"][_ageing(cycles)])
    rows = []
    for electrode in ("positive", "negative"):
        own = (electrodes["electrode"] == electrode) & (electrodes["cycle"] == first)
        reason = "no complete ageing cycle" if np.isnan(first) else "no row near the stated delay"
        if not np.isnan(first) and not own.any():
            reason = "no electrode potentials"
        elif _held(electrodes)[own].any():
            reason = WITHHELD
        rows.append(
            number(
                f"dc resistance of the {electrode}, first ageing cycle",
                "Ohm",
                first_value(electrodes["dc_resistance_ohm"][own]),
                reason,
            )
        )
        rows.append(_growth(cycles, electrodes, electrode))
    return rows


def drift(checks: Columns) -> dict[str, Any]:
    """Last drift of the reference, by anchors where there are any, else by features."""
    last = np.nan
    for name in (ReferenceCheck.DRIFT, ReferenceCheck.FEATURE_DRIFT):
        own = (checks["check"] == name) & np.isfinite(checks["value"])
        if np.isnan(last):
            last = first_value(checks["value"][own][::-1])
    return number("reference drift", "mV/d", last, "drift could not be assessed")


def impedance_numbers(spectra: Columns) -> Rows:
    """Resistances at the first check-up."""
    return [
        _first_spectrum(
            spectra, "cell", "high_frequency_resistance_ohm", "ohmic resistance, first check-up"
        ),
        *(
            _first_spectrum(
                spectra,
                electrode,
                "polarisation_resistance_ohm",
                f"polarisation resistance of the {electrode}, first check-up",
            )
            for electrode in ("positive", "negative")
        ),
    ]


def ohmic_rises(trends: Columns) -> Rows:
    """Rise of the ohmic resistance of the cell and of each side: a dry one shows on its side."""
    rows = []
    for pair in PAIRS:
        own = (
            (trends["pair"] == pair)
            & (trends["quantity"] == "ohmic")
            & (trends["clock"] == "hours")
        )
        name = "rise of the ohmic resistance" if pair == "cell" else f"ohmic rise, {pair} side"
        reason = str(trends["reason"][own][0]) if own.any() else f"no spectrum of the {pair}"
        rows.append(
            number(
                name,
                "Ohm/(100.h)",
                first_value(trends["slope"][own]),
                reason,
            )
        )
    return rows


def _first_spectrum(spectra: Columns, pair: str, column: str, measure: str) -> dict[str, Any]:
    """One number of the first spectrum of a pair; never of a later one in its place."""
    first = spectra["spectrum"].min() if spectra["spectrum"].size else 0
    own = (spectra["pair"] == pair) & (spectra["spectrum"] == first)
    value, reason = first_value(spectra[column][own]), "no value from the spectrum"
    if not own.any():
        reason = f"no spectrum of the {pair}" + (" at the first check-up" if first else "")
    elif spectra["withheld"][own].any():
        reason = WITHHELD
    elif (spectra["trust"][own] == "rejected").any():
        value, reason = float("nan"), "the spectrum was rejected"
    elif pair != "cell" and (spectra["misplaced"][own] == 1).any():
        # what a misplaced reference gives to one electrode it takes from the other
        value, reason = float("nan"), GEOMETRY
    return number(measure, "Ohm", value, reason)


def fading_numbers(attribution: Columns) -> Rows:
    """Rates at which lithium and the material of each electrode are lost, from check-ups."""
    hours = attribution["time_h"]
    why = "fewer than two check-ups that could be compared with the first"
    lost = {
        "loss of lithium": ("mA.h/(100.h)", attribution["inventory_lost_mAh"]),
        "loss of active positive": ("%/(100.h)", 100.0 * (1.0 - attribution["positive_active"])),
        "loss of active negative": ("%/(100.h)", 100.0 * (1.0 - attribution["negative_active"])),
    }
    return [
        number(name, unit, rise_per_100_h(values, time_h=hours), why)
        for name, (unit, values) in lost.items()
    ]
