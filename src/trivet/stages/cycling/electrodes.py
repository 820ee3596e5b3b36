"""Electrodes by cycle and by bin of potential, withheld where the reference does not serve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.reasons import Fitness
from trivet.schema.findings import cycling as cycling_findings
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.science import Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.differential import (
    LEAST_SHARE,
    differential_capacity,
    resolution,
)
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.integrals import charge_mAh
from trivet.science.cycling.phases import slow_cycles
from trivet.science.electrodes.electrode_cycles import (
    Electrode,
    ElectrodeCycles,
    electrode_cycles,
    with_shares,
)
from trivet.science.electrodes.polarisation import lithium_deposition, minimum_error_mV
from trivet.stages.cycling.cell import Cell, anchor_of
from trivet.stages.cycling.fitness import ServedCycles
from trivet.stages.cycling.ohmic import Ohmic
from trivet.store.tables import empty, make_table


def measure_electrodes(
    cell: Cell, halves: Halves, found: Cycles, *, ohmic: Ohmic | None
) -> dict[Electrode, ElectrodeCycles]:
    """Both electrodes by cycle, before anything is withheld; `ohmic` corrects the negative.

    Empty for a cell whose electrodes were not measured.
    """
    if not cell.has_electrodes:
        return {}
    record, given, electrodes = cell.record, cell.cycling, cell.electrodes
    potentials: dict[Electrode, np.ndarray] = {
        "positive": record.positive_V,
        "negative": record.negative_V,
    }
    # A negative of lithium is at 0 V by nature: its minimum says nothing of deposition.
    judged = electrodes.negative.material != "lithium"
    ohmic_ohm = {"negative": (ohmic.ohm if ohmic else 0.0) if judged else None}
    both = {
        name: electrode_cycles(
            record.time_s,
            cell.current_mA,
            potential,
            halves=halves,
            cycles=found,
            electrode=name,
            longest_gap_s=given.longest_gap_s,
            dc_delay_s=given.dc_delay_s,
            dc_delay_tolerance_s=given.dc_delay_tolerance_s,
            ohmic_ohm=ohmic_ohm.get(name),
        )
        for name, potential in potentials.items()
    }
    positive, negative = with_shares(both["positive"], both["negative"])
    return {"positive": positive, "negative": negative}


def electrode_table(
    cell: Cell,
    found: Cycles,
    both: Mapping[Electrode, ElectrodeCycles],
    states: Sequence[str],
    trust: Trust,
    *,
    ohmic: Ohmic | None,
    served: ServedCycles,
) -> pa.Table:
    """The table `electrode_cycles`, values that the reference does not serve withheld."""
    table = TABLES["electrode_cycles"]
    withheld = ~served.absolute & ~served.difference
    words = np.where(served.corrected, Fitness.CORRECTED.value, Fitness.FIT.value)
    words = np.where(served.absolute, words, Fitness.NOT_FIT.value)
    error_mV = _minimum_error_mV(cell, found, trust, ohmic=ohmic, served=served)
    parts = [empty(table)]
    for electrode, measured in both.items():
        shown = measured.shown(
            absolute=served.absolute,
            difference=served.difference,
            correction_V=np.nan_to_num(served.correction_mV) / 1000.0,
        )
        columns: dict[str, Any] = dict(vars(shown))
        columns |= {
            "cell": [cell.name] * found.cycle.size,
            "cycle": found.cycle,
            "electrode": [electrode] * found.cycle.size,
            "lithium_deposition": lithium_deposition(
                shown.corrected_minimum_V,
                uncertainty_mV=trust.deposition_uncertainty_mV,
                near_mV=trust.deposition_near_mV,
            ),
            "ohmic_ohm": [ohmic.ohm if ohmic and electrode == "negative" else None]
            * found.cycle.size,
            "corrected_minimum_error_mV": np.where(
                np.isfinite(shown.corrected_minimum_V), error_mV, np.nan
            ),
            "trust": list(states),
            "withheld": withheld.astype(np.int64),
            "absolute_fitness": words.tolist(),
            "difference_fitness": np.where(
                served.difference, Fitness.FIT.value, Fitness.NOT_FIT.value
            ).tolist(),
            "offset_correction_mV": served.correction_mV,
            "offset_correction_error_mV": served.error_mV,
        }
        parts.append(make_table(table, columns))
    joined = pa.concat_tables(parts)
    return make_table(table, {key: joined[key].to_pylist() for key in table.names})


def _minimum_error_mV(
    cell: Cell, found: Cycles, trust: Trust, *, ohmic: Ohmic | None, served: ServedCycles
) -> np.ndarray:
    """Standard error of the lowest corrected potential of the negative by cycle [mV]."""
    # An offset within its limit is not taken off: it lies anywhere between both limits.
    within_mV = np.hypot(trust.offset_suspect_mV / np.sqrt(3.0), anchor_of(cell)[0].uncertainty_mV)
    return minimum_error_mV(
        offset_error_mV=np.where(served.corrected, served.error_mV, within_mV),
        noise_mV=1000.0 * cell.reading_errors_V["negative"],
        ohmic_error_ohm=ohmic.error_ohm if ohmic else 0.0,
        current_mA=found.c_rate * cell.cycling.capacity_basis_mAh,
    )


def deposition_findings(cell: str, electrodes: pa.Table) -> list[Finding]:
    """Cycles in which lithium could have deposited on the negative."""
    rows = [row for row in electrodes.to_pylist() if row["lithium_deposition"] == "possible"]
    if not rows:
        return []
    lowest = min(row["corrected_minimum_V"] for row in rows)
    cycles = [row["cycle"] for row in rows]
    return [cycling_findings.deposition(cell, cycles=cycles, lowest_V=lowest)]


def differential_table(
    cell: Cell, halves: Halves, found: Cycles, states: Sequence[str], served: ServedCycles
) -> pa.Table:
    """The table `differential_capacity`: first and last check-up, electrodes where served."""
    table = TABLES["differential_capacity"]
    parts, places = [empty(table)], slow_cycles(found, served.shape)
    for place in places:
        for half, index in (("charge", found.charge[place]), ("discharge", found.discharge[place])):
            correction_V = float(np.nan_to_num(served.correction_mV[place])) / 1000.0
            for electrode, bins in _bins(cell, halves, int(index), correction_V):
                count = bins["potential_V"].size
                columns: dict[str, Any] = {
                    "cell": [cell.name] * count,
                    "cycle": np.full(count, found.cycle[place]),
                    "half": [half] * count,
                    "electrode": [electrode] * count,
                    "trust": [states[place]] * count,
                }
                parts.append(make_table(table, columns | bins))
    joined = pa.concat_tables(parts)
    return make_table(table, {key: joined[key].to_pylist() for key in table.names})


def _bins(
    cell: Cell, halves: Halves, index: int, correction_V: float
) -> Iterator[tuple[str, dict[str, np.ndarray]]]:
    """Differential capacity of one half-cycle for both electrodes, potentials corrected."""
    record, given, rows = cell.record, cell.cycling, halves.rows
    part = slice(int(rows.from_row[index]), int(rows.to_row[index]) + 1)
    current = cell.current_mA[part]
    passed = charge_mAh(
        record.time_s[part],
        current,
        sign=1 if rows.sign[index] > 0 else -1,
        longest_gap_s=given.longest_gap_s,
    )
    potentials = {"positive": record.positive_V}
    # A negative of lithium has no differential capacity of its own.
    if cell.electrodes.negative.material != "lithium":
        potentials["negative"] = record.negative_V
    for electrode, potential in potentials.items():
        corrected = potential[part] - correction_V
        borne = resolution(corrected[current != 0.0], known_noise_V=cell.noises_V[electrode])
        chosen = given.differential_bin_V
        found = differential_capacity(
            passed,
            corrected,
            bin_V=borne.bin_V if chosen is None else chosen,
            edge_V=borne.edge_V if chosen is None else 0.0,
            least_share=LEAST_SHARE if chosen is None else 0.0,
        )
        count = found.width_V.size
        yield electrode, vars(found) | {"narrowest_V": np.full(count, chosen or borne.bin_V)}
