"""Trends of the stage trends: slopes of every cell and pair, and what a separator adds."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from trivet.campaign.typed_values import number_of
from trivet.schema.settings.trends import TrendTrust
from trivet.schema.tables.impedance import PAIRS
from trivet.science.electrodes.mass import Measured, disc_area_cm2
from trivet.science.impedance.trend import (
    FEWEST,
    PerUnit,
    Slope,
    alike,
    per_unit_within,
    robust_slope,
    share,
)
from trivet.stages.trends.second_pass import WITHHELD

Row = dict[str, Any]
Cells = Mapping[str, Mapping[str, str]]

CLOCKS = {
    "hours": ("time_h", "Ohm/(100.h)", "Ohm.cm2/(100.h)"),
    "cycles": ("cycle", "Ohm/(100.{cycle})", "Ohm.cm2/(100.{cycle})"),
}
"""Column and units of the slope by clock."""
QUANTITIES = {"ohmic": "ohmic_resistance", "polarisation": "polarisation_resistance"}
NOT_ALIKE = "state of charge of the spectra not known (trust.spectra_alike says that it is alike)"
_NONE = float("nan")


def numbers(rows: Sequence[Row], name: str) -> np.ndarray:
    """One column of rows as floats, NaN where missing, shape (n_rows,)."""
    found = [row.get(name) for row in rows]
    return np.array([_NONE if value is None else value for value in found], dtype=float)


def mark_alike(
    rows: Sequence[Row], potentials_V: Mapping[tuple[str, int, str], float], trust: TrendTrust
) -> None:
    """Write into the rows of the second pass whether each spectrum was taken at like potential."""
    for own in by_cell_and_pair(rows).values():
        keys = [(row["cell"], row["spectrum"], row["pair"]) for row in own]
        found = np.array([potentials_V.get(key, _NONE) for key in keys], dtype=float)
        near = alike(found, tolerance=trust.alike_potential_mV / 1000.0)
        for row, known, like in zip(own, np.isfinite(found), near, strict=True):
            unknown = 1 if trust.spectra_alike else None
            row["alike"] = int(like) if known else unknown


def mark_shares(rows: Sequence[Row]) -> None:
    """Write into the rows of both electrodes of a spectrum the share of each."""
    both = {(row["cell"], row["spectrum"], row["pair"]): row for row in rows}
    for row in rows:
        beside = {"positive": "negative", "negative": "positive"}.get(row["pair"], "")
        other = both.get((row["cell"], row["spectrum"], beside), {})
        for quantity, column in QUANTITIES.items():
            values = row.get(f"{column}_ohm"), other.get(f"{column}_ohm")
            row[f"{quantity}_share"] = share(*values)


def by_cell_and_pair(rows: Sequence[Row]) -> dict[tuple[str, str], list[Row]]:
    """Rows of every cell and pair in the order of the rows."""
    found: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        found.setdefault((row["cell"], row["pair"]), []).append(row)
    return found


def trend_rows(rows: Sequence[Row], cells: Cells, *, confidence: float) -> list[Row]:
    """Slopes of both resistances of every cell and pair on both clocks.

    The ohmic resistance hardly depends on the state of charge, so it takes every spectrum that
    was fitted; the polarisation resistance takes those at like potential.
    """
    found = []
    for (cell, pair), own in by_cell_and_pair(rows).items():
        area = facing_area_cm2(cells.get(cell, {}))
        for quantity, column in QUANTITIES.items():
            for clock in CLOCKS:
                found.append(
                    {"cell": cell, "pair": pair, "quantity": quantity, "clock": clock}
                    | _trend(own, column, clock, area, confidence)
                )
    return found


def _trend(own: Sequence[Row], column: str, clock: str, area: float, confidence: float) -> Row:
    """One slope with its limits, also per area."""
    time, unit, _ = CLOCKS[clock]
    charge_transfer = column == QUANTITIES["polarisation"]
    fitted = [row for row in own if row.get(f"{column}_ohm") is not None]
    used = [row for row in fitted if row[time] is not None]
    if charge_transfer:
        used = [row for row in used if row["alike"] == 1]
    x = numbers(used, time)
    slope = robust_slope(
        x / 100.0,
        numbers(used, f"{column}_ohm"),
        errors=numbers(used, f"{column}_se_ohm"),
        confidence=confidence,
    )
    return {
        "unit": unit,
        "spectra": slope.points,
        "left_out": len(own) - slope.points,
        "first": float(x.min()) if x.size else None,
        "last": float(x.max()) if x.size else None,
        "start_ohm": slope.start,
        "slope": slope.slope,
        "slope_standard_error": slope.standard_error,
        "slope_lower": slope.lower,
        "slope_upper": slope.upper,
        "rank_correlation": slope.rank_correlation,
        "area_cm2": area,
        "areal_slope": slope.slope * area,
        "areal_slope_lower": slope.lower * area,
        "areal_slope_upper": slope.upper * area,
        "basis": ", ".join(sorted({row["basis"] for row in used})),
        "reason": _why(slope, own, fitted, charge_transfer=charge_transfer),
    }


def _why(slope: Slope, own: Sequence[Row], fitted: Sequence[Row], *, charge_transfer: bool) -> str:
    """Why there is no slope: what is withheld, where that would have been enough, comes first."""
    reasons = [row["reason"] for row in own]
    if not slope.reason:
        return ""
    if slope.points + reasons.count(WITHHELD) >= FEWEST:
        return WITHHELD
    if not fitted and len(set(reasons)) == 1:
        return str(reasons[0])
    if charge_transfer and fitted and all(row["alike"] is None for row in fitted):
        return NOT_ALIKE
    return slope.reason


def facing_area_cm2(sheet: Mapping[str, str]) -> float:
    """Area of the smaller disc of a cell, of the one known, or NaN [cm2]."""
    read = [
        number_of(sheet.get(name, "")) for name in ("positive_diameter_mm", "negative_diameter_mm")
    ]
    sizes = [size for size in read if size is not None and size > 0.0]
    return disc_area_cm2(Measured(min(sizes), _NONE)).value if sizes else _NONE


def separators_of(written: str) -> dict[str, float]:
    """Give the number of separators that each pair spans.

    `2+1` is two beside the positive and one beside the negative; a plain number is the cell's.
    """
    if not re.fullmatch(r"\s*\d+(\s*\+\s*\d+)*\s*", written):
        return {}
    parts = [float(part) for part in written.split("+")]
    sides = {"positive": parts[0], "negative": parts[1]} if len(parts) == 2 else {}
    return {"cell": sum(parts), **sides}


def separator_rows(
    rows: Sequence[Row], cells: Cells, *, batches: Mapping[str, str], confidence: float
) -> list[Row]:
    """What one more separator adds to the ohmic resistance of each pair, batches apart.

    Parameters
    ----------
    rows : sequence of dict
        The second pass; only the first measurement of each cell counts, never a later one in
        its place.
    cells : mapping
        Row of the build sheet of every cell.
    batches : mapping of str to str
        Batch of each cell that counts in the statistics.
    confidence : float
        Confidence of the limits [1].
    """
    first: dict[str, int] = {}
    for row in rows:
        first[row["cell"]] = min(row["spectrum"], first.get(row["cell"], row["spectrum"]))
    found = []
    for pair in PAIRS:
        own = [
            row
            for row in rows
            if row["pair"] == pair
            and row["spectrum"] == first[row["cell"]]
            and row["cell"] in batches
        ]
        count = np.array(
            [
                separators_of(cells[row["cell"]].get("separators", "")).get(pair, _NONE)
                for row in own
            ]
        )
        ohmic = numbers(own, "ohmic_resistance_ohm")
        area = np.array([facing_area_cm2(cells[row["cell"]]) for row in own], dtype=float)
        stratum = np.array([batches[row["cell"]] for row in own], dtype=object)
        plain = per_unit_within(count, ohmic, stratum=stratum, confidence=confidence)
        areal = per_unit_within(count, ohmic * area, stratum=stratum, confidence=confidence)
        found.append({"pair": pair} | _separator_row(plain, areal))
    return found


def _separator_row(plain: PerUnit, areal: PerUnit) -> Row:
    """Columns of one pair."""
    return {
        "cells": plain.cells,
        "batches": plain.strata,
        "per_separator_ohm": plain.estimate,
        "per_separator_se_ohm": plain.standard_error,
        "lower_ohm": plain.lower,
        "upper_ohm": plain.upper,
        "areal_per_separator_ohm_cm2": areal.estimate,
        "areal_lower_ohm_cm2": areal.lower,
        "areal_upper_ohm_cm2": areal.upper,
        "reason": plain.reason,
    }
