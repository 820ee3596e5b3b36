"""An invented campaign as finished tables: what the report reads, without any raw file."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.report.frame.data import ReportData
from trivet.report.frame.rows import TableRows
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import empty, make_table

GROUPS = ("tape", "bead", "sleeve")
BATCHES = ("A", "B")
CUT_S = 1_780_000_000.0
SETTINGS: dict[str, Any] = {
    "campaign": {
        "id": "seal-trial",
        "title": "Sealing the reference lead",
        "question": "Does the way of sealing the lead passage change how long cells live?",
        "people": ["A. Example"],
        "organisation": "Example Laboratory",
        "planned_end": "2026-12-24",
        "invented": True,
    },
    "build_sheet": {"factors": ["seal", "separators"]},
    "electrodes": {"positive": {"material": "LFP"}, "negative": {"material": "graphite"}},
    "cycling": {
        "capacity_basis_mAh": 2.0,
        "ageing_rate": 0.5,
        "upper_voltage_V": 3.65,
        "lower_voltage_V": 2.5,
    },
    "reference": {},
    "trust": {},
    "impedance": {},
    "lifetime": {},
    "survival": {},
    "comparison": {"factors": [{"factor": "seal", "control": "tape"}]},
    "report": {},
}
CAUSES = ("capacity", "internal short", "open circuit", "cut-off at once", "leak")


def as_table(name: str, rows: list[dict[str, Any]], extra: tuple[str, ...] = ()) -> pa.Table:
    """Rows as a table of the dictionary; columns that a row leaves out are missing."""
    names = [*TABLES[name].names, *extra]
    columns = {column: [row.get(column) for row in rows] for column in names}
    return make_table(TABLES[name], columns, extra)


class Cell:
    """One invented cell: its place in the plan decides everything."""

    def __init__(self, place: int, group: str, batch: str) -> None:
        self.name = f"{batch}{place:02d}"
        self.group, self.batch, self.place = group, batch, place
        self.included = place != 5
        self.no_data = place in (5, 7)
        self.ends = place % 3 != 0 and self.included and not self.no_data
        self.cause = CAUSES[place % len(CAUSES)] if self.ends else ""
        self.cycles = 0 if self.no_data else 150 + 13 * (place % 9) + 20 * GROUPS.index(group)
        self.hours = 60.0 + 4.3 * self.cycles
        self.trust_lost_h = {4: 300.0, 8: 700.0}.get(place)
        self.status = self._status()

    def _status(self) -> str:
        if not self.included:
            return "excluded"
        if self.no_data:
            return "no data"
        return f"ended ({self.cause})" if self.ends else "running"


def with_rows(data: ReportData, **rows: list[dict[str, Any]]) -> ReportData:
    """The same campaign with other rows in some tables, whose columns stay as they are."""
    given = {name: pa.Table.from_pylist(own, schema=data.tables[name].schema)
             for name, own in rows.items()}  # fmt: skip
    tables = {**data.tables, **given}
    return replace(data, tables=tables, rows=TableRows(tables))


def plan(per_group: int = 3) -> list[Cell]:
    """Cells of the campaign; place 5 is excluded, place 7 has no data."""
    cells = []
    for turn in range(per_group * len(GROUPS)):
        batch = BATCHES[(turn // len(GROUPS)) % len(BATCHES)]
        cells.append(Cell(turn + 1, GROUPS[turn % len(GROUPS)], batch))
    return cells


def make(per_group: int = 3, hostile: str = "") -> dict[str, pa.Table]:
    """Every archived table; `hostile` is put where users and files bring text."""
    return dict(_made(per_group, hostile))


@cache
def _made(per_group: int, hostile: str) -> dict[str, pa.Table]:
    """The same, made once: tables never change, the mapping is copied."""
    cells = plan(per_group)
    tables = {name: empty(table) for name, table in TABLES.items() if table.archived}
    made = {
        "cycles": [row for cell in cells for row in _cycles(cell)],
        "electrode_cycles": [row for cell in cells for row in _electrode_cycles(cell)],
        "reference_checks": [row for cell in cells for row in _checks(cell)],
        "timeline": [row for cell in cells for row in _timeline(cell)],
        "fitness": [row for cell in cells for row in _fitness(cell)],
        "potential_curves": [row for cell in cells for row in _potentials(cell)],
        "plating": [_plating(cell) for cell in cells if cell.cycles],
        "differential_capacity": [row for cell in cells for row in _differential(cell)],
        "attribution": [row for cell in cells for row in _attribution(cell)],
        "step_resistances": [row for cell in cells for row in _steps(cell)],
        "rate_capability": [row for cell in cells[:2] for row in _rates(cell)],
        "fading": _fading(cells),
        "forecasts": [row for cell in cells for row in _forecasts(cell)],
        "forecast_coverage": _forecast_coverage(),
        "spectra": [row for cell in cells for row in _spectra(cell)],
        "spectrum_curves": [row for cell in cells for row in _curves(cell)],
        "spectra_second_pass": [row for cell in cells for row in _second_pass(cell)],
        "resistance_trends": [row for cell in cells for row in _trends(cell)],
        "separator_resistance": _separators(),
        "relaxation_times": [row for cell in cells for row in _relaxation(cell)],
        "lifetimes": [row for cell in cells for row in _lives(cell)],
        "survival": _survival(cells),
        "at_risk": _at_risk(cells),
        "life_summary": _life_summary(cells),
        "causes": _causes(),
        "comparisons": _comparisons(hostile),
        "measures": _measures(),
        "planning": _planning(),
        "cell_measures": [row for cell in cells for row in _cell_measures(cell)],
        "findings": _findings(hostile),
        "ledger": [row for cell in cells for row in _ledger(cell)],
        "data_cuts": _cuts(),
        "changes": _changes(hostile),
        "checklist": _checklist(hostile),
        "reports_issued": _reports_issued(),
        "input_changes": _input_changes(hostile),
        "late_decisions": _late_decisions(hostile),
        "covariates": _covariates(),
        "covariate_tests": _covariate_tests(),
        "order_trends": _order_trends(),
    }
    tables |= {name: as_table(name, rows) for name, rows in made.items()}
    tables["cells"] = as_table(
        "cells", [_built(cell, hostile) for cell in cells], ("seal", "separators", "assembly_fault")
    )
    return tables


def _built(cell: Cell, hostile: str) -> dict[str, Any]:
    reason = "" if cell.included else f"dropped on the floor {hostile}".strip()
    return {
        "cell": cell.name, "batch": cell.batch, "group": cell.group, "included": int(cell.included),
        "exclusion_reason": reason, "status": cell.status, "seal": cell.group,
        "separators": "1+1" if cell.place % 2 else "2+1",
        "assembly_fault": f"=1+1 {hostile}" if hostile else "",
    }  # fmt: skip


def _cycles(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for cycle in range(1, cell.cycles + 1):
        slow = cycle <= 2 or cycle % 40 == 0
        capacity = 1.95 - 0.0022 * cycle - 0.002 * (cell.place % 4) - (0.0 if slow else 0.08)
        kind = "formation" if cycle <= 2 else "check-up" if slow else "ageing"
        rows.append({
            "cell": cell.name, "cycle": cycle, "start_h": 60.0 + 4.3 * (cycle - 1),
            "end_h": 60.0 + 4.3 * cycle, "charge_capacity_mAh": capacity / 0.999,
            "discharge_capacity_mAh": capacity, "coulombic_efficiency": 0.999, "kind": kind,
            "complete": 1, "retention": capacity / 1.86 if kind == "ageing" else None,
        })  # fmt: skip
    return rows


def trust_of(cell: Cell, time_h: float) -> str:
    """Trust of a cell's reference at a time."""
    return "lost" if cell.trust_lost_h is not None and time_h >= cell.trust_lost_h else "trusted"


def _electrode_cycles(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for cycle in range(1, cell.cycles + 1, 10):
        trust = trust_of(cell, 60.0 + 4.3 * cycle)
        for electrode, mean in (("positive", 3.43), ("negative", 0.13)):
            rows.append({
                "cell": cell.name, "cycle": cycle, "electrode": electrode, "trust": trust,
                "mean_charge_potential_V": mean if trust == "trusted" else None,
                "polarisation_share": 0.6 - 0.0005 * cycle if trust == "trusted" else None,
                "lithium_deposition": "no" if electrode == "negative" else "",
                "ohmic_ohm": 4.2 if electrode == "negative" else None,
                "corrected_minimum_V": 0.08 - 0.0001 * cycle
                if electrode == "negative" and trust == "trusted" else None,
                "corrected_minimum_error_mV": 3.0 if electrode == "negative" else None,
                "withheld": int(trust != "trusted"),
            })  # fmt: skip
    return rows


def _plating(cell: Cell) -> dict[str, Any]:
    return {
        "cell": cell.name, "plating": 1, "file": "", "logged": 1, "time_h": 5.0,
        "charge_mAh": 0.035, "thickness_um": 0.9,
        "charge_per_area_mAh_cm2": 0.19, "usable_mAh": 0.028, "left_share": 0.9,
        "expected_life_h": 8000.0, "observed_life_h": cell.trust_lost_h or cell.hours,
        "lost": int(cell.trust_lost_h is not None),
    }  # fmt: skip


def _differential(cell: Cell) -> list[dict[str, Any]]:
    return [
        {"cell": cell.name, "cycle": cycle, "half": half, "electrode": electrode,
         "potential_V": potential + 0.005 * place, "width_V": 0.005, "narrowest_V": 0.005,
         "charge_mAh": 0.4, "dq_dv_mAh_V": 80.0,
         "trust": "trusted"}
        for cycle in ((1, 40) if cell.cycles and cell.trust_lost_h is None else ())
        for half in ("charge", "discharge")
        for electrode, potential in (("positive", 3.41), ("negative", 0.1))
        for place in range(4)
    ]  # fmt: skip


def _steps(cell: Cell) -> list[dict[str, Any]]:
    return [
        {"cell": cell.name, "cycle": cycle, "half": half, "step": step, "time_h": 60.0 + cycle + at,
         "from_mA": 0.0, "to_mA": 0.2, "delay_s": 10.0, "delay_bound_s": 0.0,
         "state_of_charge": at, "cell_ohm": 60.0 + cycle, "cell_error_ohm": 1.0,
         "positive_ohm": 40.0 + cycle + 20.0 * at, "positive_error_ohm": 0.7,
         "negative_ohm": 20.0 - 20.0 * at + 5.0, "negative_error_ohm": 0.7, "withheld": 0}
        for cycle in ((1, 40) if cell.cycles and cell.trust_lost_h is None else ())
        for half in ("charge", "discharge")
        for step, at in (("beginning", 0.0), ("within", 0.5), ("end", 1.0))
    ]  # fmt: skip


def _rates(cell: Cell) -> list[dict[str, Any]]:
    return [
        {"cell": cell.name, "test": 1, "cycle": 3 + turn, "time_h": 80.0 + turn, "cycles": 1,
         "c_rate": rate, "base_cycle": 3, "base_c_rate": 0.1,
         "discharge_capacity_mAh": 2.0 - 0.2 * turn, "capacity_share": 1.0 - 0.1 * turn,
         "cell_loss_mV": 40.0 * turn if turn else None,
         "positive_loss_mV": 30.0 * turn if turn else None,
         "negative_loss_mV": 10.0 * turn if turn else None,
         "positive_share": 0.75 if turn else None, "loss_error_mV": 0.5 if turn else None,
         "temperature_degC": 25.0, "base_temperature_degC": 25.0,
         "reason": "" if turn else "it is the lowest rate"}
        for turn, rate in enumerate((0.1, 0.5, 1.0))
    ]  # fmt: skip


def _attribution(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for turn, time_h in enumerate(np.arange(268.0, cell.hours, 168.0) if cell.cycles else ()):
        lost = 0.04 * (turn + 1)
        told = cell.trust_lost_h is None or time_h < cell.trust_lost_h
        row = {"cell": cell.name, "cycle": 40 * (turn + 1), "time_h": float(time_h),
               "not_estimable": "", "reason": "" if told else "the reference was lost"}  # fmt: skip
        if told:
            row |= {"base_cycle": 2, "lost_mAh": lost, "lost_to_inventory_mAh": 0.9 * lost,
                    "lost_to_positive_mAh": None, "lost_to_negative_mAh": 0.02 * lost,
                    "lost_to_resistance_mAh": 0.05 * lost}  # fmt: skip
        rows.append(row)
    return rows


def _fading(cells: list[Cell]) -> list[dict[str, Any]]:
    return [
        {"group": group, "cells": 2, "cells_without": 1, "lost_mAh": 0.12, "last_h": 600.0,
         "last_earliest_h": 400.0, "last_latest_h": 800.0, "like_h": 480.0,
         "lost_at_like_mAh": 0.08, "cells_at_like": 2, "share_inventory": 0.9,
         "share_positive": None, "share_negative": 0.02, "share_resistance": 0.05,
         "cells_inventory": 2, "cells_positive": 0, "cells_negative": 1, "cells_resistance": 2,
         "charges_ended_by_positive": 1.0, "charges_ended_by_negative": 0.0,
         "discharges_ended_by_positive": 0.1, "discharges_ended_by_negative": 0.9}
        for group in sorted({cell.group for cell in cells})
    ]  # fmt: skip


def _forecasts(cell: Cell) -> list[dict[str, Any]]:
    if cell.status != "running":
        return []
    told = cell.place != 6
    rows = []
    for clock, now, slope_unit in (
        ("hours", cell.hours, "1/h"),
        ("cycles", cell.cycles, "1/cycle"),
    ):
        left = 0.1 * now
        row = {"cell": cell.name, "clock": clock, "made_at": float(now), "limit": 0.8,
               "confidence": 0.95, "readings": cell.cycles, "effective_readings": 3.0,
               "slope": -2e-4, "slope_unit": slope_unit, "cells_learnt_from": 2,
               "reason": "" if told else "too few ageing cycles"}  # fmt: skip
        if told:
            row |= {"line": now + 2 * left, "estimate": now + left, "lower": now + 0.6 * left,
                    "upper": now + 1.7 * left}  # fmt: skip
        if clock == "hours":
            days = (left / 24.0, 0.6 * left / 24.0, 1.7 * left / 24.0) if told else (None,) * 3
            row |= dict(zip(("estimate_in_d", "lower_in_d", "upper_in_d"), days, strict=True))
            row["soon"] = int(told)
        rows.append(row)
    return rows


def _forecast_coverage() -> list[dict[str, Any]]:
    return [
        {"clock": clock, "week": f"2026-05-{4 + 7 * week:02d}",
         "time_s": CUT_S - 604_800.0 * (3 - week), "forecasts": 5, "ended": 3 - week,
         "inside": 2 if week == 0 else 3 - week, "ended_otherwise": 1 if week == 0 else 0,
         "cells_learnt_from": week}
        for clock in ("hours", "cycles")
        for week in range(3)
    ]  # fmt: skip


def _checks(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for time_h in np.arange(100.0, cell.hours, 168.0) if cell.cycles else ():
        trust = trust_of(cell, time_h)
        value = 0.3 + 0.002 * time_h if trust == "trusted" else 2400.0
        rows.append({"cell": cell.name, "time_h": float(time_h), "check": "offset", "value": value,
                     "unit": "mV", "limit": 20.0, "trust": trust})  # fmt: skip
        rows.append({"cell": cell.name, "time_h": float(time_h), "check": "rest noise",
                     "value": 0.08, "unit": "mV", "limit": 3.0, "trust": "trusted"})  # fmt: skip
    return rows


def _timeline(cell: Cell) -> list[dict[str, Any]]:
    if not cell.cycles:
        return []
    spans = [("phase", "rest", 0.0, 48.0), ("phase", "formation", 48.0, 90.0)]
    start = 90.0
    while start < cell.hours:
        spans.append(("phase", "ageing", start, min(start + 148.0, cell.hours)))
        if start + 148.0 < cell.hours:
            spans.append(("phase", "check-up", start + 148.0, min(start + 168.0, cell.hours)))
        start += 168.0
    lost = cell.trust_lost_h if cell.trust_lost_h is not None else cell.hours
    spans += [("reference", "not plated", 0.0, 20.0), ("reference", "unknown", 20.0, 100.0)]
    spans += [
        ("reference", "trusted", 100.0, lost - 50.0),
        ("reference", "suspect", lost - 50.0, lost),
    ]
    if cell.trust_lost_h is not None:
        spans.append(("reference", "lost", lost, cell.hours))
    return [
        {"cell": cell.name, "track": t, "state": s, "start_h": a, "end_h": b}
        for t, s, a, b in spans
    ]


def _fitness(cell: Cell) -> list[dict[str, Any]]:
    if not cell.cycles:
        return []
    lost = cell.trust_lost_h
    spans = [("fit", "anchored", 20.0, cell.hours if lost is None else lost)]
    if lost is not None:
        spans.append(("not fit", "no lithium on the wire", lost, cell.hours))
    return [
        {"cell": cell.name, "plating": 1, "purpose": purpose, "from_h": a, "to_h": b,
         "fitness": fitness, "reason": reason, "sentence": f"{purpose}: {reason}."}
        for purpose in ("absolute potential", "difference within a cycle", "shape",
                        "impedance of an electrode")
        for fitness, reason, a, b in spans
    ]  # fmt: skip


def _potentials(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for cycle in (3, cell.cycles // 2, cell.cycles) if cell.cycles else ():
        trust = "lost" if cell.trust_lost_h is not None else "trusted"
        for half, sign in (("charge", 1.0), ("discharge", -1.0)):
            for x in np.linspace(0.0, 1.0, 40):
                positive = 3.425 + sign * 0.03 + 0.002 / (1.03 - x) - 0.004 / (0.02 + x)
                negative = 0.09 - sign * 0.02 + 0.4 * np.exp(-12 * x)
                known = trust == "trusted"
                rows.append({
                    "cell": cell.name, "cycle": cycle, "half": half, "capacity_mAh": 1.8 * float(x),
                    "cell_V": positive - negative, "positive_V": positive if known else None,
                    "negative_V": negative if known else None, "trust": trust,
                })  # fmt: skip
    return rows


def _spectra(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for spectrum, time_h in enumerate(np.arange(90.0, cell.hours, 168.0) if cell.cycles else (), 1):
        for pair, ohmic in (("cell", 6.0), ("positive", 3.4), ("negative", 2.6)):
            held = pair != "cell" and trust_of(cell, time_h) != "trusted"
            rows.append({
                "cell": cell.name, "spectrum": spectrum, "time_h": float(time_h), "pair": pair,
                "cycle": spectrum * 40, "points": 48, "trust": "trusted", "reasons": "",
                "high_frequency_resistance_ohm": None if held else ohmic + 0.002 * time_h,
                "high_frequency_resistance_se_ohm": None if held else 0.02,
                "polarisation_resistance_ohm": None if held else 4 * ohmic + 0.004 * time_h,
                "polarisation_resistance_se_ohm": None if held else 0.1, "withheld": int(held),
                "kk_rms_percent": 0.21, "additivity_percent": 0.4, "model": "two arcs",
                "parameters": json.dumps({"R0_ohm": {"value": ohmic, "standard_error": 0.02}}),
            })  # fmt: skip
    return rows


def _curves(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for row in _spectra(cell):
        if row["withheld"]:
            continue
        for f in np.geomspace(1e5, 0.02, 48):
            z = row["high_frequency_resistance_ohm"] + row["polarisation_resistance_ohm"] / (
                1 + (2j * np.pi * f * 0.02) ** 0.8
            )
            rows.append({
                "cell": row["cell"], "spectrum": row["spectrum"], "pair": row["pair"],
                "frequency_Hz": float(f), "real_ohm": z.real, "imaginary_ohm": z.imag,
                "fitted_real_ohm": z.real * 1.002, "fitted_imaginary_ohm": z.imag * 0.998,
            })  # fmt: skip
    return rows


def _second_pass(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for first in _spectra(cell):
        held = bool(first["withheld"])
        head = {name: first[name] for name in ("cell", "spectrum", "time_h", "cycle", "pair")}
        ohmic = first["high_frequency_resistance_ohm"]
        polarisation = first["polarisation_resistance_ohm"]
        share = None if held or first["pair"] == "cell" else 0.5
        rows.append(head | {
            "ohmic_resistance_ohm": ohmic, "polarisation_resistance_ohm": polarisation,
            "ohmic_share": share, "polarisation_share": share, "alike": None if held else 1,
            "reason": "withheld: the reference was not trusted" if held else "",
        })  # fmt: skip
    return rows


def _trends(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for pair in ("cell", "positive", "negative") if cell.cycles else ():
        for quantity, slope in (("ohmic", 0.2), ("polarisation", 0.4)):
            rows.append({
                "cell": cell.name, "pair": pair, "quantity": quantity, "clock": "hours",
                "unit": "Ohm/(100.h)", "spectra": 5, "left_out": 0, "slope": slope,
                "slope_lower": slope - 0.1, "slope_upper": slope + 0.1, "reason": "",
            })  # fmt: skip
    return rows


def _separators() -> list[dict[str, Any]]:
    known = {"cells": 8, "batches": 2, "per_separator_ohm": 2.4, "lower_ohm": 2.1,
             "upper_ohm": 2.7, "areal_per_separator_ohm_cm2": 2.71, "reason": ""}  # fmt: skip
    reason = "not estimable: the cells of no batch differ in the number"
    return [
        {"pair": "cell"} | known,
        {"pair": "positive"} | known,
        {"pair": "negative", "cells": 0, "batches": 0, "reason": reason},
    ]


def _relaxation(cell: Cell) -> list[dict[str, Any]]:
    rows = []
    for spectrum in (1, 2, 3) if cell.cycles else ():
        for pair in ("positive", "negative"):
            for constant in np.geomspace(1e-6, 10, 40):
                height = 5.0 * np.exp(-(np.log10(constant / 1e-2) ** 2))
                rows.append({
                    "cell": cell.name, "spectrum": spectrum, "time_h": 168.0 * spectrum,
                    "pair": pair, "time_constant_s": float(constant),
                    "density_ohm": float(height) * (1 + 0.2 * spectrum),
                })  # fmt: skip
    return rows


def _lives(cell: Cell) -> list[dict[str, Any]]:
    if not cell.included:
        return []
    rows = []
    lost = cell.trust_lost_h
    for clock, life in (("hours", cell.hours), ("cycles", float(cell.cycles))):
        common = {"cell": cell.name, "group": cell.group, "batch": cell.batch, "clock": clock}
        why = "no data" if cell.no_data else "" if cell.ends else "running"
        rows.append(common | {
            "endpoint": "cell", "duration": 0.0 if cell.no_data else life,
            "lower": life - 4 if cell.ends else None, "upper": life if cell.ends else None,
            "observed": int(cell.ends), "cause": cell.cause,
            "censored_because": why, "decided_by": "rule",
            "evidence": f"cycle {cell.cycles}: retention 0.796, limit 0.8",
        })  # fmt: skip
        seen = lost if lost is not None else life
        rows.append(common | {
            "endpoint": "reference", "duration": 0.0 if cell.no_data else seen - 20, "lower": None,
            "upper": seen if lost is not None else None, "observed": int(lost is not None),
            "cause": "reference lost" if lost is not None else "",
            "censored_because": "" if lost is not None else "cell ended first",
            "decided_by": "rule",
            "evidence": "two offsets beyond 20 mV" if lost is not None else "last offset 1.2 mV",
        })  # fmt: skip
    return rows


def _survival(cells: list[Cell]) -> list[dict[str, Any]]:
    rows = []
    for endpoint in ("cell", "reference"):
        for clock in ("hours", "cycles"):
            for group in GROUPS:
                own = [row for cell in cells if cell.group == group for row in _lives(cell)
                       if row["endpoint"] == endpoint and row["clock"] == clock]  # fmt: skip
                left, survival = len(own), 1.0
                for time in sorted({row["duration"] for row in own}):
                    at = [row for row in own if row["duration"] == time]
                    ends = sum(row["observed"] for row in at)
                    survival *= 1 - ends / left
                    known = 0 < survival < 1
                    rows.append({
                        "endpoint": endpoint, "clock": clock, "factor": "seal", "group": group,
                        "time": time, "at_risk": left, "events": ends, "censored": len(at) - ends,
                        "plotting_position": 0.97 * (1 - survival) if ends else None,
                        "survival": survival, "lower": survival * 0.5 if known else None,
                        "upper": min(1.0, survival * 1.4) if known else None,
                    })  # fmt: skip
                    left -= len(at)
    return rows


def _at_risk(cells: list[Cell]) -> list[dict[str, Any]]:
    return [
        {"endpoint": endpoint, "clock": "hours", "factor": "seal", "group": group, "time": time,
         "at_risk": sum(c.group == group and c.included and c.hours >= time for c in cells)}
        for endpoint in ("cell", "reference") for group in GROUPS
        for time in (0.0, 168.0, 336.0, 504.0, 672.0, 840.0, 1008.0, 1176.0)
    ]  # fmt: skip


def _life_summary(cells: list[Cell]) -> list[dict[str, Any]]:
    return [
        {"endpoint": "cell", "clock": clock, "factor": "seal", "group": group,
         "cells": sum(c.group == group and c.included for c in cells),
         "events": sum(c.group == group and c.ends for c in cells),
         "median": 812.0 if group == "tape" else None, "median_lower": 640.0, "median_upper": None,
         "median_beta_lower": 640.0, "median_beta_upper": None,
         "restricted_mean": 760.5, "restricted_mean_se": 41.2, "restriction_time": 900.0,
         "reason": "too few ends for a Weibull description: 1, needed 3"}
        for clock in ("hours", "cycles") for group in GROUPS
    ]  # fmt: skip


def _causes() -> list[dict[str, Any]]:
    return [
        {"endpoint": "cell", "clock": "hours", "factor": "seal", "group": group, "cause": cause,
         "time": 700.0 + 60.0 * place, "incidence": 0.15 * (place + 1), "lower": 0.02, "upper": 0.5}
        for group in GROUPS[:2] for place, cause in enumerate(CAUSES[:3])
    ]  # fmt: skip


def _comparisons(hostile: str) -> list[dict[str, Any]]:
    rows = []
    for endpoint in ("cell", "reference"):
        for clock in ("hours", "cycles"):
            for group, ratio in (("bead", 1.62), ("sleeve", 1.04)):
                common = {"endpoint": endpoint, "clock": clock, "factor": "seal", "group": group,
                          "control": "tape", "stratified_by": "batch", "cells": 3, "events": 2,
                          "control_cells": 3, "control_events": 2}  # fmt: skip
                rows.append(common | {
                    "measure": "exact log-rank", "statistic": 2.3, "p": 0.1, "p_adjusted": 0.2,
                    "smallest_attainable_p": 0.1, "verdict": "inconclusive",
                    "reason": f"With 3 against 3 cells no p below 0.1 can occur. {hostile}".strip(),
                })  # fmt: skip
                rows.append(common | {
                    "measure": "time ratio", "estimate": ratio, "lower": 0.8 * ratio,
                    "upper": 1.3 * ratio, "confidence": 0.95,
                })  # fmt: skip
                rows.append(common | {"measure": "hazard ratio", "reason": "no end in the group"})
    return rows


def _planning() -> list[dict[str, Any]]:
    rows = []
    for group in GROUPS[1:]:
        common = {"endpoint": "cell", "clock": "hours", "factor": "seal", "group": group,
                  "control": "tape", "spread": 0.31, "censored_share": 0.3, "power_wanted": 0.8,
                  "simulations": 1000}  # fmt: skip
        for purpose, ratio in (("difference, cells planned", 1.5),
                               ("equivalence, cells planned", 1.0)):  # fmt: skip
            for cells in (3, 6, 12, 24):
                power = cells / (cells + 6)
                rows.append(common | {
                    "purpose": purpose, "time_ratio": ratio, "cells": cells,
                    "control_cells": cells, "power": power, "lower": power - 0.03,
                    "upper": power + 0.03,
                })  # fmt: skip
        rows.append(common | {
            "purpose": "cells needed for the difference", "time_ratio": 1.5, "cells": 24,
            "control_cells": 24, "power": 0.8, "lower": 0.77, "upper": 0.83,
        })  # fmt: skip
    return rows


def _measures() -> list[dict[str, Any]]:
    return [
        {"measure": "first ageing discharge capacity", "unit": "mA.h", "factor": "seal",
         "group": group, "control": "tape", "cells": 3, "control_cells": 2, "missing_cells": 1,
         "withheld_cells": 0,
         "difference": -0.0021, "p": 0.4, "p_adjusted": 0.8, "smallest_attainable_p": 0.1,
         "reason": "0.95 cannot be reached with 3 against 2 cells"}
        for group in GROUPS[1:]
    ]  # fmt: skip


def _cell_measures(cell: Cell) -> list[dict[str, Any]]:
    known = bool(cell.cycles)
    return [
        {"cell": cell.name, "measure": name, "unit": unit,
         "value": base * (1 + 0.01 * (cell.place % 5)) if known else None,
         "reason": "" if known else "no data"}
        for name, unit, base in (
            ("first ageing discharge capacity", "mA.h", 1.86),
            ("mean coulombic efficiency of the first 20 ageing cycles", "1", 0.997),
            ("reference drift", "mV/d", 0.05),
            ("ohmic resistance of the cell at the first check-up", "Ohm", 6.1),
        )
    ]  # fmt: skip


def _findings(hostile: str) -> list[dict[str, Any]]:
    rows = [
        {"cell": "A04", "check": "offset", "severity": "caution", "value": 2400.0, "limit": 20.0,
         "unit": "mV", "action": "values withheld", "message": "The reference is lost."},
        {"cell": "B05", "check": "no data", "severity": "fault", "action": "none",
         "message": f"No raw file was found. {hostile}".strip(), "file": "raw/B05.csv", "line": 12},
    ]  # fmt: skip
    return rows + [
        {"cell": "A01", "check": f"check {line}", "severity": "note", "action": "none",
         "message": f"Row {line} could not be read.", "file": "raw/A01.csv", "line": line}
        for line in range(1, 50)
    ]  # fmt: skip


def _ledger(cell: Cell) -> list[dict[str, Any]]:
    if cell.no_data:
        return []
    return [{
        "cell": cell.name, "file": f"raw/cycling/{cell.name}.csv", "content": "cycling",
        "layout": "bench", "bytes": 812_345, "sha256": f"{cell.place:064x}", "rows_seen": 10_412,
        "rows_used": 10_411, "rows_set_aside": 1, "set_aside_because": "unfinished last line: 1",
        "assumed": "", "derived": "", "absolute_time": "yes",
        "first_time_s": CUT_S - 3600 * cell.hours, "last_time_s": CUT_S - cell.place,
    }]  # fmt: skip


def _cuts() -> list[dict[str, Any]]:
    return [
        {"cut": "now", "data_cut": "2026-05-28T20:26:40+00:00", "time_s": CUT_S,
         "decided_by": "last row of the data"},
        {"cut": "before", "data_cut": "2026-05-21T20:26:40+00:00", "time_s": CUT_S - 7 * 86400.0,
         "decided_by": "setting report.compare_days"},
    ]  # fmt: skip


def _changes(hostile: str) -> list[dict[str, Any]]:
    return [
        {"what": "event", "cell": "A01", "endpoint": "cell", "before": "running",
         "after": "ended: internal short at 770.5 h"},
        {"what": "trust", "cell": "A04", "endpoint": "reference", "before": "suspect",
         "after": "lost"},
        {"what": "verdict", "endpoint": "cell", "contrast": "seal: bead against tape",
         "before": "different", "after": "inconclusive"},
        {"what": "finding", "cell": "A04", "after": f"offset (caution) {hostile}".strip()},
    ]  # fmt: skip


def _checklist(hostile: str) -> list[dict[str, Any]]:
    return [
        {"item": 1, "topic": "Cells", "source": "build sheet", "answer": f"ids: A01 {hostile}",
         "points": 2, "known": 1, "write_down": "column 'operator'"},
        {"item": 2, "topic": "Safety", "source": "computed", "answer": "note: the cautions",
         "points": 1, "known": 1},
    ]  # fmt: skip


def _reports_issued() -> list[dict[str, Any]]:
    rows = []
    for report, day in ((1, "14"), (2, "21")):
        for group in GROUPS[1:]:
            rows.append({
                "report": report, "issued": f"2026-05-{day}T09:00:00+00:00",
                "data_cut": f"2026-05-{day}", "endpoint": "cell", "factor": "seal", "group": group,
                "control": "tape", "clock": "hours", "verdict": "inconclusive", "p": 0.3,
                "p_adjusted": 0.6, "cells": 3, "events": 1, "control_cells": 3,
                "control_events": 1,
            })  # fmt: skip
    return rows


MARGIN = {
    "kept": "settings", "step": "changed", "name": "comparison.equivalence_margin", "cell": "",
    "at": "", "before": "1.25", "after": "1.5",
}  # fmt: skip


def _excluded(hostile: str) -> dict[str, Any]:
    return {"kept": "build sheet", "step": "changed", "name": "included", "cell": "A05", "at": "",
            "before": "yes", "after": "no", "why": f"dropped {hostile}".strip()}  # fmt: skip


def _input_changes(hostile: str) -> list[dict[str, Any]]:
    first = {"report": 1, "since": "2026-05-14T09:00:00+00:00",
             "until": "2026-05-21T09:00:00+00:00"}  # fmt: skip
    last = {"report": 2, "since": "2026-05-21T09:00:00+00:00", "until": ""}
    stopped = {"kept": "bench log", "step": "added", "name": "stopped", "cell": "B02",
               "at": "2026-05-24 10:00", "before": "", "after": f"planned {hostile}"}  # fmt: skip
    return [
        first | {"place": 1} | MARGIN,
        last | {"place": 1} | _excluded(hostile),
        last | {"place": 2} | stopped,
    ]


def _late_decisions(hostile: str) -> list[dict[str, Any]]:
    about = {"endpoint": "cell", "factor": "seal", "control": "tape", "report": 1,
             "reported_on": "2026-05-14T09:00:00+00:00"}  # fmt: skip
    told = {"seen": "verdict reported", "reported": "inconclusive"}
    ended = {"seen": "end reported", "reported": "leak"}
    return [
        about | {"group": "bead", "place": 1} | MARGIN | told,
        about | {"group": "bead", "place": 2} | _excluded(hostile) | ended,
        about | {"group": "sleeve", "place": 3} | MARGIN | told,
    ]


def _covariates() -> list[dict[str, Any]]:
    return [
        {"covariate": "out_at to sealed_at", "unit": "min", "factor": "seal", "group": group,
         "control": "tape", "cells": 3, "missing_cells": 0, "median": minutes, "lowest": minutes,
         "highest": minutes + 2.0, "aliased": int(group == "bead"),
         "chance_apart": None if group == "tape" else 0.1}
        for group, minutes in zip(GROUPS, (18.0, 66.0, 17.0), strict=True)
    ]  # fmt: skip


def _covariate_tests() -> list[dict[str, Any]]:
    common = {"covariate": "out_at to sealed_at", "unit": "min", "clock": "hours",
              "factor": "seal", "within": "seal and batch", "cells": 8}  # fmt: skip
    return [
        common | {"endpoint": "cell", "events": 5, "correlation": -0.3, "p": 0.4, "p_lower": 0.4,
                  "p_upper": 0.4, "smallest_attainable_p": 0.05, "permutations": 216.0,
                  "draws": 0, "stands_for": "separators"},
        common | {"endpoint": "reference", "events": 0, "reason": "nothing differs"},
    ]  # fmt: skip


def _order_trends() -> list[dict[str, Any]]:
    return [
        {"endpoint": "cell", "clock": clock, "factor": "seal", "order": "tape, bead, sleeve",
         "stratified_by": "batch", "cells": 8, "events": 5, "statistic": -1.1,
         "direction": "longer", "p": 0.3, "p_lower": 0.3, "p_upper": 0.3,
         "smallest_attainable_p": 0.01, "permutations": 1680.0, "draws": 0}
        for clock in ("hours", "cycles")
    ]  # fmt: skip
