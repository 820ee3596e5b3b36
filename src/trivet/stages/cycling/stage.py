"""Cycles, electrodes and the reference of one cell."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import pyarrow as pa

from trivet.campaign.plausibility import implausible
from trivet.reasons import Trust as TrustWord
from trivet.reference_checks import ReferenceCheck
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings import cycling as cycling_findings
from trivet.schema.findings.finding import Finding, finding_columns
from trivet.schema.settings.campaign import Settings
from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import Cycles, cycles, excursions
from trivet.science.cycling.half_cycle_measures import CycleRules, Halves, measure_halves
from trivet.science.cycling.integrals import long_gaps
from trivet.science.cycling.phases import phases
from trivet.science.cycling.stated_capacity import stated_cycles
from trivet.science.electrodes.electrode_cycles import Electrode, ElectrodeCycles
from trivet.science.reference.lead_faults import lead_faults
from trivet.science.reference.record import Plating, TrustLimits
from trivet.science.reference.review import Review, review
from trivet.science.reference.trust import Check
from trivet.stages.contract import STAGES
from trivet.stages.cycling import tables as cycling_tables
from trivet.stages.cycling.beginning import beginning_findings, first_beginning
from trivet.stages.cycling.cell import (
    Cell,
    anchor_of,
    contact_faults_h,
    judged,
    log_time,
    logged_offsets,
    measured,
    placed_cell,
)
from trivet.stages.cycling.electrodes import (
    deposition_findings,
    differential_table,
    electrode_table,
    measure_electrodes,
)
from trivet.stages.cycling.fading import attribution_table, end_point_table
from trivet.stages.cycling.fitness import fitness_table, served_cycles
from trivet.stages.cycling.ohmic import negative_ohmic
from trivet.stages.cycling.plating import agreed_platings, platings
from trivet.stages.cycling.rates import rate_table
from trivet.stages.cycling.steps import step_table
from trivet.stages.job import Job
from trivet.store.tables import arrays, empty, make_table

_WRITTEN = tuple(name for name in STAGES["cycling"].writes if name != "findings")


_OF_ELECTRODES = {
    "attribution": attribution_table,
    "end_points": end_point_table,
    "step_resistances": step_table,
    "rate_capability": rate_table,
}
"""Tables that are made alike from the rows and from what the reference serves."""


@dataclass(frozen=True)
class CyclingResult:
    """Tables of one cell by name, and what was noticed."""

    tables: dict[str, pa.Table]
    findings: tuple[Finding, ...]


def _reference(
    cell: Cell,
    halves: Halves,
    found: Cycles,
    both: Mapping[Electrode, ElectrodeCycles],
    plated: tuple[Plating, ...],
) -> tuple[Review, list[Finding], bool]:
    """Review of the reference, what it found, and whether leads are at the wrong place."""
    trust, margin_V = cell.settings.trust, cell.settings.lifetime.sudden.open_circuit_margin_V
    record, name = judged(cell, margin_V=margin_V), cell.name
    anchor, why = anchor_of(cell)
    leads = lead_faults(
        record.cell_V,
        record.positive_V,
        record.negative_V,
        positive_resistance_ohm=both["positive"].dc_resistance_ohm if both else np.zeros(0),
        measured=not cell.derived,
        closure_limit_mV=trust.closure_lost_mV,
    )
    result = review(
        record,
        halves=halves,
        cycles=found,
        platings=plated,
        anchor=anchor,
        limits=TrustLimits(trust.model_dump()),
        zero_current_mA=cell.cycling.zero_current_mA,
        channel_resistance_ohm=cell.reference.channel_resistance_ohm,
        measured=measured(cell, record),
        wrong_leads=bool(leads.fault),
        logged=logged_offsets(cell),
        contact_faults_h=contact_faults_h(cell),
    )
    notes = [cycling_findings.leads_turned(name)] if cell.facts.leads_exchanged else []
    if leads.fault:
        notes.append(
            cycling_findings.wrong_leads(
                name, fault=leads.fault, reason=leads.reason, when=log_time(cell)
            )
        )
        why = f"the leads look wrong ({leads.fault})"
    if both and not plated:
        notes.append(cycling_findings.not_plated(name))
    elif both and not any(check.check is ReferenceCheck.OFFSET for check in result.checks):
        named = not why
        why = why or cycling_findings.rest_needed(cell.reference, anchor.kind)
        notes.append(cycling_findings.no_anchor(name, why=why, named=named))
    checks = [
        cycling_findings.BadCheck(c.time_h, c.check, c.value, c.unit, c.limit, c.trust)
        for c in result.checks
    ]
    checks += drifts_by_features(result.checks)
    return result, notes + cycling_findings.bad_checks(name, checks), bool(leads.fault)


def drifts_by_features(checks: Sequence[Check]) -> list[cycling_findings.BadCheck]:
    """The last drift by features, where its whole interval is beyond the limit of a drift.

    Only where no known potential tells the drift: it takes no trust, and so stands here alone.
    """
    if any(check.check is ReferenceCheck.OFFSET for check in checks):
        return []
    found = [check for check in checks if check.check is ReferenceCheck.FEATURE_DRIFT]
    if not found or found[-1].lower is None or found[-1].upper is None:
        return []
    last = found[-1]
    nearest = min(abs(found[-1].lower), abs(found[-1].upper))
    beyond = found[-1].lower * found[-1].upper > 0 and nearest > last.limit
    if not beyond:
        return []
    return [
        cycling_findings.BadCheck(
            last.time_h, last.check, last.value, last.unit, last.limit, TrustWord.SUSPECT.value
        )
    ]


def _record_findings(cell: Cell, halves: Halves) -> list[Finding]:
    """What the rows themselves lack: calendar time, rows, currents, voltages."""
    record, given, name = cell.record, cell.cycling, cell.name
    notes = []
    if cell.facts.clock_start_s is None or cell.zero_s is None:
        notes.append(cycling_findings.hours_from_first_row(name))
    if cell.moved:
        notes.append(cycling_findings.moved_rows(name, count=cell.moved))
    holes = long_gaps(record.time_s, longest_gap_s=given.longest_gap_s)
    if holes.any():
        notes.append(
            cycling_findings.gaps(
                name,
                count=int(holes.sum()),
                total_h=float(np.diff(record.time_s)[holes].sum() / 3600.0),
                limit_s=given.longest_gap_s,
                halves=int(halves.broken.sum()),
            )
        )
    for what, values, action in (
        ("current", record.current_mA, "not integrated across; such half-cycles are broken"),
        ("cell voltage", record.cell_V, "energies of the half-cycles concerned are missing"),
    ):
        count = int(np.isnan(values).sum())
        if count:
            notes.append(
                cycling_findings.missing_values(name, what=what, count=count, action=action)
            )
    flowing = halves.charge_mAh > 0
    share = halves.charge_bound_mAh[flowing] / halves.charge_mAh[flowing]
    open_halves = int((share > given.switch_bound_share).sum())
    if open_halves:
        notes.append(
            cycling_findings.open_switches(
                name,
                halves=open_halves,
                worst_share=float(share.max()),
                limit=given.switch_bound_share,
            )
        )
    if not cell.has_electrodes:
        notes.append(cycling_findings.no_electrodes(name))
    elif cell.derived:
        notes.append(cycling_findings.closure_not_testable(name, derived=cell.derived))
    return notes


def run(
    *,
    facts: CellFacts,
    series: pa.Table,
    ledger: pa.Table,
    settings: Settings,
    stated: pa.Table | None = None,
    plating_rows: pa.Table | None = None,
    points: pa.Table | None = None,
    wanted: Collection[str] | None = None,
) -> CyclingResult:
    """Compute the cycles of a cell, its electrodes and the trust of its reference.

    Parameters
    ----------
    facts : CellFacts
        The cell as built, with its bench log.
    series, ledger : pyarrow.Table
        Its rows, and its files.
    settings : Settings
        Those that the contract names, at least.
    stated : pyarrow.Table or None
        Capacities that raw files state; they give the cycles of a cell without rows.
    plating_rows : pyarrow.Table or None
        Rows of its plating files.
    points : pyarrow.Table or None
        Its spectra, of which those of the negative give its ohmic part.
    wanted : collection of str or None
        Names of the tables to make; None: all.

    Returns
    -------
    CyclingResult
        Empty tables for a cell without rows.
    """
    built = tuple(implausible(facts))
    if not series.num_rows:
        return _without_rows(facts.cell, stated, built)
    cell, cycling = placed_cell(facts, series, ledger, settings), settings.cycling
    record = cell.record
    rules = CycleRules(**{key: getattr(cycling, key) for key in CycleRules.__dataclass_fields__})
    halves = measure_halves(record.time_s, record.current_mA, record.cell_V, rules)
    begun = first_beginning(cell, series, halves, rules)
    found = cycles(record.time_s, record.current_mA, record.cell_V, halves, rules, beginning=begun)
    ohmic = negative_ohmic(points, settings.electrodes)
    both = measure_electrodes(cell, halves, found, ohmic=ohmic)
    sources, unlike = agreed_platings(cell, plating_rows, ledger)
    plated = platings(cell, sources)
    result, notes, exchanged = _reference(cell, halves, found, both, plated)
    states = cycling_tables.trust_of_cycles(result.trust, found)
    served = served_cycles(result, found)
    done = phases(record.time_s, found, longest_gap_s=cycling.longest_gap_s)
    beyond = excursions(
        record.time_s,
        record.cell_V,
        upper_voltage_V=cycling.upper_voltage_V,
        lower_voltage_V=cycling.lower_voltage_V,
        margin_V=settings.lifetime.sudden.open_circuit_margin_V,
    )
    of_electrodes = electrode_table(
        cell, found, both, states, settings.trust, ohmic=ohmic, served=served
    )
    makers: dict[str, Callable[[], pa.Table]] = {
        "cycles": lambda: cycling_tables.cycle_table(cell, found),
        "electrode_cycles": lambda: of_electrodes,
        "reference_checks": lambda: cycling_tables.check_table(cell.name, result),
        "timeline": lambda: cycling_tables.timeline_table(cell.name, done, result.trust),
        "excursions": lambda: cycling_tables.excursion_table(cell.name, beyond),
        "potential_curves": lambda: cycling_tables.curve_table(cell, halves, found, states, served),
        "plating": lambda: cycling_tables.plating_table(cell, plated, result),
        "differential_capacity": lambda: differential_table(cell, halves, found, states, served),
        "fitness": lambda: fitness_table(cell.name, result),
    } | {
        name: partial(make, cell, halves, found, served, exchanged=exchanged)
        for name, make in _OF_ELECTRODES.items()
    }
    tables = {name: make() for name, make in makers.items() if wanted is None or name in wanted}
    first = beginning_findings(cell, begun, halves)
    deposits = deposition_findings(cell.name, of_electrodes)
    noticed = (*built, *first, *_record_findings(cell, halves), *unlike, *notes, *deposits)
    return CyclingResult(tables, noticed)


def _without_rows(name: str, stated: pa.Table | None, built: tuple[Finding, ...]) -> CyclingResult:
    """Cycles of a cell without rows, where raw files state capacities; else nothing."""
    tables = {table: empty(TABLES[table]) for table in _WRITTEN}
    if stated is None or not stated.num_rows:
        return CyclingResult(tables, built)
    given = arrays(stated)
    found = stated_cycles(given["cycle"], given["capacity_mAh"])
    tables["cycles"] = cycling_tables.stated_table(name, found)
    return CyclingResult(
        tables, (*built, cycling_findings.stated_capacities(name, count=found.cycle.size))
    )


def work(job: Job) -> dict[str, pa.Table]:
    """Measure the cell."""
    result = run(
        facts=job.the_cell,
        series=job.table("series"),
        ledger=job.table("ledger"),
        settings=job.given,
        stated=job.table("capacity_records"),
        plating_rows=job.table("plating_series"),
        points=job.table("spectrum_points"),
    )
    findings = make_table(TABLES["findings"], finding_columns(list(result.findings)))
    return {**result.tables, "findings": findings}
