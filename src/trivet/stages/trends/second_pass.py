"""Second pass of the stage trends: the campaign's model of each pair, and every spectrum again."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.reasons import ResistanceBasis
from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.fit import FitError
from trivet.science.impedance.fixed_exponents import (
    FixedFit,
    arcs_jump,
    circuit_of,
    exponent_names,
    fit_fixed,
    median_exponents,
)
from trivet.science.impedance.reference_geometry import NAME as GEOMETRY
from trivet.store.tables import arrays

Row = dict[str, Any]
Key = tuple[str, int, str]
Points = tuple[np.ndarray, np.ndarray]

WITHHELD = "withheld: the reference was not trusted"
MODEL_MULTIPLE = 3.0
"""A fit this many times worse than the linear test is a wrong model; common practice."""


@dataclass(frozen=True)
class PairModel:
    """What all spectra of a pair are fitted with.

    Attributes
    ----------
    circuit : Circuit or None
        The commonest of the first pass; None where there is none.
    exponents : dict of str to float
        Medians over the spectra that chose it.
    pooled : int
        Number of these.
    at_bound : tuple of str
        Exponents that no spectrum, or fewer than half, has within its bounds: held at the median
        of all, which is the bound.
    reason : str
        Why there is no second pass; empty otherwise.
    """

    circuit: Circuit | None
    exponents: dict[str, float]
    pooled: int
    reason: str
    at_bound: tuple[str, ...] = ()


def points_of(curves: pa.Table) -> dict[Key, Points]:
    """Frequencies and impedances of every spectrum and pair, without the outliers set aside."""
    columns = arrays(curves)
    keys = list(zip(columns["cell"], columns["spectrum"].tolist(), columns["pair"], strict=True))
    starts = [at for at, key in enumerate(keys) if at == 0 or key != keys[at - 1]]
    found = {}
    measured = columns["real_ohm"] + 1j * columns["imaginary_ohm"]
    tested = np.isfinite(columns["kk_residual_real_percent"])
    for first, last in pairwise([*starts, len(keys)]):
        mine = tested[first:last]
        used = mine if mine.any() else np.ones(last - first, dtype=bool)
        found[keys[first]] = (columns["frequency_Hz"][first:last][used], measured[first:last][used])
    return found


def refused(row: Mapping[str, Any]) -> str:
    """Why a spectrum is not fitted again; empty where it is."""
    if row["withheld"]:
        return WITHHELD
    if row["trust"] == "rejected":
        return f"rejected: {row['reasons']}"
    if row["pair"] != "cell" and row.get("misplaced"):
        return GEOMETRY
    return "" if row["parameters"] else "no model was fitted in the first pass"


def pair_models(spectra: Sequence[Row]) -> dict[str, PairModel]:
    """Model and exponents of each pair of the campaign, from its accepted spectra.

    Trusted spectra decide; suspect ones only where no spectrum of the pair is trusted.
    """
    models = {}
    for pair in sorted({row["pair"] for row in spectra}):
        accepted = [row for row in spectra if row["pair"] == pair and not refused(row)]
        trusted = [row for row in accepted if row["trust"] == "trusted"]
        models[pair] = _pair_model(trusted or accepted)
    return models


def _pair_model(rows: Sequence[Row]) -> PairModel:
    """The commonest circuit of these spectra, the smaller one in a tie, and its exponents."""
    found: list[tuple[Circuit, dict[str, float], dict[str, float]]] = []
    for row in rows:
        parameters = json.loads(row["parameters"])
        try:
            circuit = circuit_of(tuple(parameters))
        except FitError:
            continue
        every = {name: parameters[name]["value"] for name in exponent_names(circuit)}
        known = {
            name: value
            for name, value in every.items()
            if parameters[name]["standard_error"] is not None
        }
        found.append((circuit, known, every))
    if not found:
        reason = "no accepted spectrum of this pair has a model of arcs in series"
        return PairModel(None, {}, 0, reason)
    counted = Counter(circuit for circuit, _, _ in found)
    best = min(counted, key=lambda one: (-counted[one], len(one.names), one.label))
    mine = [(known, every) for circuit, known, every in found if circuit == best]
    at_bound = tuple(
        name for name in exponent_names(best) if 2 * sum(name in known for known, _ in mine)
        < len(mine)
    )  # fmt: skip
    pooled = [known | {name: every[name] for name in at_bound} for known, every in mine]
    exponents = median_exponents(pooled, circuit=best)
    return PairModel(best, exponents, len(mine), "", at_bound)


def second_pass(
    spectra: Sequence[Row], points: Mapping[Key, Points], models: Mapping[str, PairModel]
) -> list[tuple[Row, FixedFit | None]]:
    """Fit every accepted spectrum again; a row for each spectrum, with the reason where not."""
    latest: dict[tuple[str, str], FixedFit] = {}
    out: list[tuple[Row, FixedFit | None]] = []
    for row in spectra:
        model = models[row["pair"]]
        reason = refused(row) or model.reason
        key = (row["cell"], row["spectrum"], row["pair"])
        fitted = None
        if not reason and key not in points:
            reason = "its points are not among the curves"
        if not reason and model.circuit is not None:
            try:
                fitted = _fit(points[key], model.circuit, model.exponents, row["parameters"])
            except FitError as error:
                reason = str(error)
        jumps: tuple[str, ...] = ()
        if fitted is not None:
            earlier = latest.get((row["cell"], row["pair"]))
            jumps = arcs_jump(earlier, fitted) if earlier is not None else ()
            latest[row["cell"], row["pair"]] = fitted
        out.append((_row(row, model, fitted, jumps, reason), fitted))
    return out


def _fit(
    points: Points, circuit: Circuit, exponents: Mapping[str, float], parameters: str
) -> FixedFit:
    """Fit one spectrum, from the end of the first pass where it had the same circuit."""
    first = json.loads(parameters)
    known = (
        [np.array([first[name]["value"] for name in circuit.names])]
        if (set(first) == set(circuit.names))
        else []
    )
    return fit_fixed(
        *points,
        circuit=circuit,
        exponents=exponents,
        starts=1 if known else 3,
        known_starts=known,
    )


def _row(
    first: Row, model: PairModel, fitted: FixedFit | None, jumps: tuple[str, ...], reason: str
) -> Row:
    """One row of the table; what is not known is missing."""
    row = {name: first[name] for name in ("cell", "spectrum", "time_h", "cycle", "pair")}
    row |= {"reason": reason, "model": "", "exponents": "", "parameters": "", "split_refused": ""}
    row["basis"] = ""
    if fitted is None:
        return row | ({} if refused(first) and first["parameters"] else _first_pass(first))
    row["basis"] = (
        ResistanceBasis.HELD_AT_BOUND if model.at_bound else ResistanceBasis.SECOND_PASS
    ).value
    refusals = [*fitted.split_refused, *jumps]
    multiple = first["kk_rms_percent"] and fitted.rms_percent / first["kk_rms_percent"]
    if fitted.circuit.arcs > 1 and multiple and multiple > MODEL_MULTIPLE:
        refusals.append(f"fit {multiple:.3g} times as far off as the Kramers-Kronig test")
    return row | {
        "model": fitted.circuit.label,
        "exponents": json.dumps({name: _digits(v) for name, v in model.exponents.items()}),
        "pooled_spectra": model.pooled,
        "ohmic_resistance_ohm": fitted.value("R0_ohm"),
        "ohmic_resistance_se_ohm": fitted.standard_error("R0_ohm"),
        "polarisation_resistance_ohm": fitted.polarisation_resistance_ohm,
        "polarisation_resistance_se_ohm": fitted.polarisation_resistance_se_ohm,
        "parameters": json.dumps(
            {
                name: {
                    "value": _digits(fitted.value(name)),
                    "standard_error": _digits(fitted.standard_error(name)),
                }
                for name in fitted.circuit.names
            }
        ),
        "split": int(fitted.circuit.arcs > 1 and not refusals),
        "split_refused": "; ".join(refusals),
        "fit_rms_percent": fitted.rms_percent,
    }


def _first_pass(first: Row) -> Row:
    """Resistances of the first pass, where the second can't fit a spectrum that is accepted.

    The ohmic part is the one without a model, the polarisation that of the model of the spectrum.
    """
    ohmic = first.get("high_frequency_resistance_ohm")
    if first["withheld"] or first["trust"] == "rejected" or ohmic is None:
        return {}
    return {
        "basis": ResistanceBasis.FIRST_PASS.value,
        "ohmic_resistance_ohm": ohmic,
        "ohmic_resistance_se_ohm": first.get("high_frequency_resistance_se_ohm"),
        "polarisation_resistance_ohm": first.get("polarisation_resistance_ohm"),
        "polarisation_resistance_se_ohm": first.get("polarisation_resistance_se_ohm"),
    }


def _digits(value: float | None) -> float | None:
    """A number without the digits that mean nothing."""
    return None if value is None else float(f"{value:.9g}")
