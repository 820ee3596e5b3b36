"""Compare per-cell numbers between groups: capacity, efficiency, drift, resistances.

Settings
--------
comparison, survival (enumeration_limit, monte_carlo_draws, seed), cycling (ageing_rate).

Reads
-----
cells, cycles, electrode_cycles, reference_checks, spectra.

Writes
------
cell_measures, measures.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.io.by_cell import Columns, split_by_cell
from trivet.io.store import arrays, make_table, read_table, write_table
from trivet.records.inference_settings import Comparison, Survival
from trivet.records.tables import TABLES
from trivet.science.cell_measures import first_value, mean_of_first, rise_per_100_h
from trivet.science.comparison import holm
from trivet.science.measures import Difference, permutation_difference
from trivet.stages.command import parse, spare_pandas

INPUTS = ("cells", "cycles", "electrode_cycles", "reference_checks", "spectra")
EFFICIENCY_CYCLES = 20
DRIFT_CHECK = "drift"
_WITHHELD = "withheld: the reference was not trusted"

Rows = list[dict[str, Any]]


@dataclass(frozen=True)
class MeasureTables:
    """What the stage gives.

    Attributes
    ----------
    cell_measures, measures : pyarrow.Table
        Tables of these names.
    """

    cell_measures: pa.Table
    measures: pa.Table


def run(
    *,
    inputs: Mapping[str, pa.Table],
    comparison: Comparison,
    survival: Survival,
    ageing_rate: float,
) -> MeasureTables:
    """Take the numbers of every cell and compare them between the groups of every factor.

    Parameters
    ----------
    inputs : mapping of str to pyarrow.Table
        Tables of the campaign by name, see `INPUTS`.
    comparison, survival : Comparison, Survival
        Settings.
    ageing_rate : float
        Rate of the ageing cycles, named where there is none [1/h].

    Notes
    -----
    Every cell has its numbers; those that the build sheet excludes enter no comparison. Measures
    of the reference itself are not withheld where it is not trusted.
    """
    cells = arrays(inputs["cells"])
    split = {name: split_by_cell(inputs[name]) for name in INPUTS if name != "cells"}
    rows: Rows = []
    for cell in cells["cell"]:
        own = {name: parts.of(cell) for name, parts in split.items()}
        numbers = [
            *_cycling_numbers(own["cycles"], ageing_rate),
            *_electrode_numbers(own["cycles"], own["electrode_cycles"]),
            _drift(own["reference_checks"]),
            *_impedance_numbers(own["spectra"]),
        ]
        rows += [{"cell": cell, **number} for number in numbers]
    contrasts = _contrasts(cells, rows, comparison, survival)
    return MeasureTables(
        cell_measures=_table("cell_measures", rows), measures=_table("measures", contrasts)
    )


def _table(name: str, rows: Rows) -> pa.Table:
    """Rows as the table of this name."""
    return make_table(TABLES[name], {key: [r[key] for r in rows] for key in TABLES[name].names})


def _number(measure: str, unit: str, value: float, reason: str) -> dict[str, Any]:
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


def _cycling_numbers(cycles: Columns, ageing_rate: float) -> Rows:
    """Capacity and efficiency of the first ageing cycles."""
    ageing = _ageing(cycles)
    capacity = first_value(cycles["discharge_capacity_mAh"][ageing])
    efficiencies = cycles["coulombic_efficiency"][ageing]
    efficiency = mean_of_first(efficiencies, number=EFFICIENCY_CYCLES)
    found = int(np.isfinite(efficiencies).sum())
    return [
        _number(
            "first ageing discharge capacity",
            "mA.h",
            capacity,
            f"no complete ageing cycle at {ageing_rate:g} 1/h",
        ),
        _number(
            f"mean coulombic efficiency of the first {EFFICIENCY_CYCLES} ageing cycles",
            "1",
            efficiency,
            f"{found} complete ageing cycles with an efficiency, {EFFICIENCY_CYCLES} needed",
        ),
    ]


def _electrode_numbers(cycles: Columns, electrodes: Columns) -> Rows:
    """Dc resistance of each electrode in the first ageing cycle."""
    first = first_value(cycles["cycle"][_ageing(cycles)])
    rows = []
    for electrode in ("positive", "negative"):
        own = (electrodes["electrode"] == electrode) & (electrodes["cycle"] == first)
        reason = "no complete ageing cycle" if np.isnan(first) else "no row near the stated delay"
        if not np.isnan(first) and not own.any():
            reason = "no electrode potentials"
        elif electrodes["withheld"][own].any():
            reason = _WITHHELD
        rows.append(
            _number(
                f"dc resistance of the {electrode}, first ageing cycle",
                "Ohm",
                first_value(electrodes["dc_resistance_ohm"][own]),
                reason,
            )
        )
    return rows


def _drift(checks: Columns) -> dict[str, Any]:
    """Last drift of the reference."""
    own = (checks["check"] == DRIFT_CHECK) & np.isfinite(checks["value"])
    drift = first_value(checks["value"][own][::-1])
    return _number("reference drift", "mV/d", drift, "drift could not be assessed")


def _impedance_numbers(spectra: Columns) -> Rows:
    """Resistances at the first check-up, and the rise of the ohmic one."""
    of_cell = spectra["pair"] == "cell"
    usable = of_cell & (spectra["trust"] != "rejected")
    rise = rise_per_100_h(
        spectra["high_frequency_resistance_ohm"][usable], time_h=spectra["time_h"][usable]
    )
    return [
        _first_spectrum(
            spectra, "cell", "high_frequency_resistance_ohm", "ohmic resistance, first check-up"
        ),
        _number(
            "rise of the ohmic resistance",
            "Ohm/(100.h)",
            rise,
            "fewer than two usable spectra of the cell at known times",
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


def _first_spectrum(spectra: Columns, pair: str, column: str, measure: str) -> dict[str, Any]:
    """One number of the first spectrum of a pair; never of a later one in its place."""
    first = spectra["spectrum"].min() if spectra["spectrum"].size else 0
    own = (spectra["pair"] == pair) & (spectra["spectrum"] == first)
    value, reason = first_value(spectra[column][own]), "no value from the spectrum"
    if not own.any():
        reason = f"no spectrum of the {pair}" + (" at the first check-up" if first else "")
    elif spectra["withheld"][own].any():
        reason = _WITHHELD
    elif (spectra["trust"][own] == "rejected").any():
        value, reason = float("nan"), "the spectrum was rejected"
    return _number(measure, "Ohm", value, reason)


def _contrasts(cells: Columns, rows: Rows, comparison: Comparison, survival: Survival) -> Rows:
    """Every group of every factor against its control, in every measure."""
    counted = cells["included"] == 1
    units = {row["measure"]: row["unit"] for row in rows}
    values = {(row["measure"], row["cell"]): row["value"] for row in rows}
    alone = np.full(int(counted.sum()), "all", dtype=object)
    contrasts: Rows = []
    for factor in comparison.factors:
        groups = cells[factor.factor][counted]
        by_batch = comparison.stratify_by == "batch" and factor.factor != "batch"
        stratum = cells["batch"][counted] if by_batch else alone
        for measure, unit in units.items():
            all_values = np.array(
                [values[measure, cell] for cell in cells["cell"][counted]], dtype=float
            )
            family = {}
            for group in sorted(set(groups) - {factor.control}):
                both = np.isin(groups, [group, factor.control])
                family[group] = permutation_difference(
                    all_values[both],
                    in_group=groups[both] == group,
                    stratum=stratum[both],
                    confidence=comparison.confidence,
                    enumeration_limit=survival.enumeration_limit,
                    draws=survival.monte_carlo_draws,
                    seed=survival.seed,
                )
            head = {"measure": measure, "unit": unit, "factor": factor.factor}
            contrasts += _family_rows(family, head | {"control": factor.control})
    return contrasts


def _family_rows(family: Mapping[str, Difference], head: Mapping[str, str]) -> Rows:
    """Rows of the contrasts of one measure and factor, their p adjusted together."""
    adjusted = holm(np.array([difference.p for difference in family.values()], dtype=float))
    return [
        {
            **head,
            "group": group,
            "p_adjusted": p_adjusted,
            **{name: getattr(difference, name) for name in Difference.__dataclass_fields__},
        }
        for (group, difference), p_adjusted in zip(family.items(), adjusted, strict=True)
    ]


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, "Compare per-cell numbers between groups.")
    tables = run(
        inputs={
            name: read_table(TABLES[name], path)
            for name, path in zip(INPUTS, command.inputs, strict=True)
        },
        comparison=Comparison.model_validate(command.settings["comparison"]),
        survival=Survival.model_validate(command.settings["survival"]),
        ageing_rate=command.settings["cycling"]["ageing_rate"],
    )
    for name in ("cell_measures", "measures"):
        write_table(TABLES[name], getattr(tables, name), command.out / f"{name}.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
