"""The stage measures on ten cells in two batches, its p against a general-purpose library.

The numbers of the cells are invented; what is checked is what the stage takes from which table,
and the tests against scipy.stats and statsmodels.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from jobs import run_job
from scipy import stats
from statsmodels.stats.multitest import multipletests

from trivet.schema.settings.inference import Comparison, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.measures.stage import INPUTS, MeasureTables, run
from trivet.store.tables import make_table

CAPACITY = "first ageing discharge capacity"
EFFICIENCY = "mean coulombic efficiency of the first 20 ageing cycles"
OHMIC = "ohmic resistance, first check-up"
RISE = "rise of the ohmic resistance"
POSITIVE = "polarisation resistance of the positive, first check-up"
DC = "dc resistance of the positive, first ageing cycle"
DRIFT = "reference drift"

SEALS = {"plain": 4, "bead": 4, "film": 4}
CAPACITIES = {
    **{f"plain{i}": 2.00 + 0.01 * i for i in range(4)},
    **{f"bead{i}": 2.05 + 0.013 * i for i in range(4)},
    **{f"film{i}": 2.20 + 0.02 * i for i in range(4)},
}
SETTINGS = {
    "factors": [{"factor": "seal", "control": "plain"}],
    "stratify_by": "none",
}


def table(name: str, rows: list[dict[str, Any]], sheet: tuple[str, ...] = ()) -> pa.Table:
    """Rows as a table; what a row does not say is missing."""
    names = (*TABLES[name].names, *sheet)
    return make_table(TABLES[name], {key: [row.get(key) for row in rows] for key in names}, sheet)


def tables(**changes: list[dict[str, Any]]) -> dict[str, pa.Table]:
    """Inputs of a campaign of three seals, four cells each, and an excluded cell."""
    cells = [
        {"cell": f"{seal}{i}", "batch": "AB"[i % 2], "seal": seal, "included": 1}
        for seal, number in SEALS.items()
        for i in range(number)
    ]
    cells.append({"cell": "out", "batch": "A", "seal": "film", "included": 0})
    for row in cells:
        row |= {"group": row["seal"], "status": "running"}
    rows = {
        "cells": cells,
        "cycles": [row for cell in CAPACITIES for row in cycle_rows(cell)]
        + cycle_rows("out", capacity=9.0),
        "electrode_cycles": [
            {
                "cell": "plain0",
                "cycle": 2,
                "electrode": "positive",
                "dc_resistance_ohm": 31.0,
                "trust": "trusted",
                "withheld": 0,
            },
            {
                "cell": "plain1",
                "cycle": 2,
                "electrode": "positive",
                "trust": "lost",
                "withheld": 1,
            },
        ],
        "reference_checks": [
            {
                "cell": "plain0",
                "time_h": hours,
                "check": check,
                "value": value,
                "unit": "mV/d",
                "trust": "trusted",
            }
            for hours, check, value in (
                (10.0, "drift", 0.9),
                (20.0, "drift", 0.4),
                (30.0, "offset", 7.0),
            )
        ],
        "spectra": spectra_rows("plain0"),
        "resistance_trends": trend_rows("plain0"),
        "attribution": [
            {
                "cell": "plain0",
                "cycle": 2 + turn,
                "time_h": 100.0 * turn,
                "inventory_lost_mAh": 0.05 * turn,
                "positive_active": 1.0 - 0.001 * turn,
                "not_estimable": "",
                "reason": "",
            }
            for turn in (1, 2, 3)
        ],
        "lifetimes": [],
    } | changes
    return {name: table(name, rows[name], ("seal",) if name == "cells" else ()) for name in INPUTS}


def cycle_rows(cell: str, capacity: float | None = None, number: int = 22) -> list[dict[str, Any]]:
    """A formation cycle and ageing cycles with falling capacity and rising efficiency."""
    first = CAPACITIES.get(cell, 0.0) if capacity is None else capacity
    return [
        {
            "cell": cell,
            "cycle": i + 1,
            "start_h": 4.0 * i,
            "end_h": 4.0 * i + 3.9,
            "discharge_capacity_mAh": first - 0.001 * (i - 1) if i else 2.5,
            "coulombic_efficiency": 0.98 + 0.0005 * (i - 1) if i else 0.85,
            "kind": "ageing" if i else "formation",
            "complete": 1,
        }
        for i in range(number)
    ]


def spectra_rows(cell: str) -> list[dict[str, Any]]:
    """Three spectra of the cell pair, the second rejected; a withheld and a usable electrode."""
    own = {"cell": cell, "points": 40, "trust": "trusted", "withheld": 0}
    column = "high_frequency_resistance_ohm"
    return [
        own | {"spectrum": 1, "time_h": 20.0, "pair": "cell", column: 9.0},
        own | {"spectrum": 2, "time_h": 190.0, "pair": "cell", column: 70.0, "trust": "rejected"},
        own | {"spectrum": 3, "time_h": 420.0, "pair": "cell", column: 11.0},
        own | {"spectrum": 1, "time_h": 20.0, "pair": "positive", "withheld": 1},
        own
        | {
            "spectrum": 1,
            "time_h": 20.0,
            "pair": "negative",
            "polarisation_resistance_ohm": 18.0,
        },
    ]


def trend_rows(cell: str) -> list[dict[str, Any]]:
    """Slopes of a cell: one of each pair, one withheld, and one that is not asked for."""
    own = {"cell": cell, "clock": "hours", "quantity": "ohmic", "unit": "Ohm/(100.h)"}
    own |= {"spectra": 3, "left_out": 1}
    held = {"slope": None, "reason": "withheld: the reference was not trusted"}
    return [
        own | {"pair": "cell", "slope": 0.5},
        own | {"pair": "cell", "slope": 7.0, "quantity": "polarisation"},
        own | {"pair": "cell", "slope": 8.0, "clock": "cycles"},
        own | {"pair": "positive", "slope": 0.4},
        own | {"pair": "negative"} | held,
    ]


def compare(comparison: dict[str, Any] | None = None, **changes: Any) -> MeasureTables:
    """Run the stage."""
    return run(
        inputs=tables(**changes),
        comparison=Comparison.model_validate(comparison or SETTINGS),
        survival=Survival(),
        ageing_rate=0.5,
        efficiency_cycles=20,
    )


def numbers(found: MeasureTables, cell: str) -> dict[str, dict[str, Any]]:
    """Numbers of one cell by measure."""
    return {row["measure"]: row for row in found.cell_measures.to_pylist() if row["cell"] == cell}


def contrast(found: MeasureTables, measure: str, group: str) -> dict[str, Any]:
    """The only row of a measure and group."""
    (row,) = (
        row
        for row in found.measures.to_pylist()
        if (row["measure"], row["group"]) == (measure, group)
    )
    return dict(row)


def test_numbers_of_a_cell_come_from_its_tables() -> None:
    """Each number is the first, mean, last or slope that its name says."""
    own = numbers(compare(), "plain0")
    assert own[CAPACITY]["value"] == 2.0
    assert own[CAPACITY]["unit"] == "mA.h"
    # Mean of an arithmetic series of 20 terms: first term plus 9.5 steps.
    assert own[EFFICIENCY]["value"] == pytest.approx(0.98 + 9.5 * 0.0005)
    assert own[DRIFT]["value"] == 0.4
    assert own[OHMIC]["value"] == 9.0
    assert own[RISE]["value"] == 0.5
    assert own["ohmic rise, positive side"]["value"] == 0.4
    assert own[DC]["value"] == 31.0
    assert own["polarisation resistance of the negative, first check-up"]["value"] == 18.0


def test_a_missing_number_has_its_reason() -> None:
    """Withheld, rejected, not measured and too few are told apart; no number stands in."""
    found = compare(cycles=cycle_rows("plain0", number=5))
    own = numbers(found, "plain0")
    assert own[POSITIVE]["value"] is None
    assert own[POSITIVE]["reason"] == "withheld: the reference was not trusted"
    assert own[EFFICIENCY]["reason"].startswith("4 complete ageing cycles")
    other = numbers(found, "plain1")
    assert other[CAPACITY]["reason"] == "no complete ageing cycle at 0.5 1/h"
    assert other[OHMIC]["reason"] == "no spectrum of the cell"
    assert other[DRIFT]["reason"] == "drift could not be assessed"
    assert other[RISE]["reason"] == "no spectrum of the cell"
    held = own["ohmic rise, negative side"]
    assert (held["value"], held["reason"]) == (None, "withheld: the reference was not trusted")
    assert numbers(compare(), "plain1")[DC]["reason"] == "withheld: the reference was not trusted"
    assert numbers(compare(), "plain2")[DC]["reason"] == "no electrode potentials"
    assert all((row["value"] is None) == (row["reason"] != "") for row in own.values())


def test_a_rejected_first_spectrum_is_not_replaced_by_a_later_one() -> None:
    """The first check-up is the first check-up; its spectrum rejected, the number is missing."""
    rows = spectra_rows("plain0")
    rows[0] |= {"trust": "rejected"}
    own = numbers(compare(spectra=rows), "plain0")
    assert (own[OHMIC]["value"], own[OHMIC]["reason"]) == (None, "the spectrum was rejected")


def test_a_misplaced_reference_tells_no_electrode_apart() -> None:
    """What it gives to one electrode it takes from the other; the cell keeps its number."""
    rows = [row | {"misplaced": 1} for row in spectra_rows("plain0")]
    own = numbers(compare(spectra=rows), "plain0")
    negative = own["polarisation resistance of the negative, first check-up"]
    assert (negative["value"], negative["reason"]) == (None, "suspect reference geometry")
    assert own[OHMIC]["value"] == 9.0


def test_contrasts_are_those_of_libraries() -> None:
    """The p is that of scipy.stats, its Holm adjustment that of statsmodels."""
    found = compare()
    by_seal = {seal: [CAPACITIES[f"{seal}{i}"] for i in range(4)] for seal in SEALS}
    outside = {
        seal: stats.permutation_test(
            (by_seal[seal], by_seal["plain"]),
            lambda x, y: abs(np.mean(x) - np.mean(y)),
            alternative="greater",
            vectorized=False,
        ).pvalue
        for seal in ("bead", "film")
    }
    adjusted = multipletests(list(outside.values()), method="holm")[1]
    for (seal, p), p_adjusted in zip(outside.items(), adjusted, strict=True):
        row = contrast(found, CAPACITY, seal)
        assert row["p"] == pytest.approx(p, abs=1e-12)
        assert row["p_adjusted"] == pytest.approx(p_adjusted, abs=1e-12)
        pairs = np.subtract.outer(by_seal[seal], by_seal["plain"])
        assert row["difference"] == pytest.approx(np.median(pairs))
        assert row["lower"] < row["difference"] < row["upper"]
        assert (row["cells"], row["control_cells"], row["missing_cells"]) == (4, 4, 0)


def test_excluded_cells_are_listed_and_do_not_count() -> None:
    """The excluded cell has its numbers, and none of them enters a comparison."""
    found = compare()
    assert numbers(found, "out")[CAPACITY]["value"] == 9.0
    assert contrast(found, CAPACITY, "film")["cells"] == 4
    assert contrast(found, CAPACITY, "film")["difference"] < 1.0


def test_two_against_two_in_a_batch_can_show_nothing() -> None:
    """Within batches of two and two the smallest p is 1/18, so that no 95 % interval exists."""
    row = contrast(compare(SETTINGS | {"stratify_by": "batch"}), CAPACITY, "film")
    # 6 * 6 = 36 relabellings, of which the labels at hand and their mirror are most extreme.
    assert row["smallest_attainable_p"] == pytest.approx(2 / 36)
    assert row["lower"] is None
    assert "no 95 % interval" in row["reason"]


def hysteresis_rows() -> dict[str, list[dict[str, Any]]]:
    """Cycles and electrodes of two cells; hysteresis grows by 1 mV a cycle of 4 h."""
    cycles = [
        row | {"mean_charge_voltage_V": 3.4 + 0.001 * row["cycle"], "mean_discharge_voltage_V": 3.3}
        for cell in ("plain0", "bead0", "bead1")
        for row in cycle_rows(cell, number=5)
    ]
    electrodes = [
        {"cell": row["cell"], "cycle": row["cycle"], "electrode": "positive"}
        | (
            {"withheld": 1, "trust": "lost"}
            if row["cell"] == "bead0" or row["cycle"] > 3
            else {"withheld": 0, "trust": "trusted", "hysteresis_V": 0.05 + 0.0005 * row["cycle"]}
        )
        for row in cycles
    ]
    return {"cycles": cycles, "electrode_cycles": electrodes}


def test_hysteresis_grows_per_100_h() -> None:
    """1 mV in 4 h is 25 mV in 100 h; the positive has half of it, from its trusted cycles only."""
    own = numbers(compare(**hysteresis_rows()), "plain0")
    assert own["growth of the hysteresis of the cell"]["value"] == pytest.approx(0.025)
    assert own["growth of the hysteresis of the positive"]["value"] == pytest.approx(0.0125)
    assert own["growth of the hysteresis of the negative"]["value"] is None


def test_withheld_cells_are_counted_with_their_bound() -> None:
    """A cell without a trusted cycle counts as withheld, and its bound spans the values seen."""
    rows = hysteresis_rows()
    measure = "growth of the hysteresis of the positive"
    found = compare(**rows)
    assert numbers(found, "bead0")[measure]["reason"] == "withheld: the reference was not trusted"
    row = contrast(found, measure, "bead")
    assert (row["withheld_cells"], row["missing_cells"]) == (1, 6)
    assert row["bound_lower"] == pytest.approx(row["bound_upper"])
    assert contrast(found, CAPACITY, "bead")["withheld_cells"] == 0


def test_the_spread_of_a_group_is_that_of_numpy() -> None:
    """The spread is the standard deviation with divisor n - 1, of group and control each."""
    row = contrast(compare(), CAPACITY, "film")
    for name, seal in (("group_spread", "film"), ("control_spread", "plain")):
        values = [CAPACITIES[f"{seal}{i}"] for i in range(4)]
        assert row[name] == pytest.approx(np.std(values, ddof=1))


def test_missing_cells_are_counted_in_the_contrast() -> None:
    """One cell of eight has the number: the others are counted, and nothing is estimable."""
    row = contrast(compare(), OHMIC, "bead")
    assert (row["cells"], row["control_cells"], row["missing_cells"]) == (0, 1, 7)
    assert (row["p"], row["difference"]) == (None, None)
    assert row["reason"] == "not estimable: no cell of the group has a value"


def test_the_command_writes_both_tables(tmp_path: Path) -> None:
    """The printed command works on its own and gives what run gives."""
    settings = {
        "comparison": SETTINGS,
        "survival": {},
        "cycling": {"ageing_rate": 0.5, "efficiency_cycles": 20},
    }
    written = run_job(tmp_path, "measures", settings=settings, tables=tables())
    found = compare()
    for name in ("cell_measures", "measures"):
        assert written[name].equals(getattr(found, name))


def test_lithium_and_material_are_lost_at_rates() -> None:
    """Check-ups 100 h apart that each lose 0.05 mAh and 0.1 % of the positive."""
    rates = {row["measure"]: row["value"] for row in values_of("plain0")}
    assert rates["loss of lithium"] == pytest.approx(0.05)
    assert rates["loss of active positive"] == pytest.approx(0.1)
    assert rates["loss of active negative"] is None


def test_measures_stop_at_the_end_of_the_cell() -> None:
    """Cycles after the end of a cell would turn a fade of nothing into a fade of much."""
    cycles = cycle_rows("plain0")
    span = max(row["end_h"] for row in cycles)
    after = [row | {"cycle": row["cycle"] + 100, "start_h": row["start_h"] + span,
                    "end_h": row["end_h"] + span, "retention": 0.1} for row in cycles]  # fmt: skip
    life = {"cell": "plain0", "group": "plain", "batch": "A", "endpoint": "cell",
            "clock": "hours", "duration": span, "observed": 1, "decided_by": "rule",
            "evidence": "x"}  # fmt: skip
    others = [row for cell in CAPACITIES if cell != "plain0" for row in cycle_rows(cell)]
    dead = values_of("plain0", cycles=cycles + after + others, lifetimes=[life])
    alive = values_of("plain0", cycles=cycles + others)
    fade = "fade of capacity"
    assert [r for r in dead if r["measure"] == fade] == [r for r in alive if r["measure"] == fade]


def values_of(cell: str, **changes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Numbers of one cell."""
    found = run(
        inputs=tables(**changes),
        comparison=Comparison.model_validate(SETTINGS),
        survival=Survival(),
        ageing_rate=0.5,
        efficiency_cycles=20,
    )
    return [row for row in found.cell_measures.to_pylist() if row["cell"] == cell]
