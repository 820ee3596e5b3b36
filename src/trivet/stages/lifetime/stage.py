"""Decide how long each cell and each reference lasted, and what ended or censored it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.campaign.build_sheet import read_cells
from trivet.campaign.lives_file import lives_of
from trivet.campaign.table_lives import TableLife
from trivet.rawfiles.text.clock import cut_time_s
from trivet.reasons import Censored, StopReason
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings import lives as words
from trivet.schema.findings.finding import Finding, finding_columns
from trivet.schema.settings.campaign import BenchLog, BuildSheet
from trivet.schema.settings.inference import Comparison, Lifetime
from trivet.schema.settings.science import Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.science.lives.cell_clock import CellClock, cell_clock, latest_time_s
from trivet.science.lives.cell_life import (
    BENCH_LOG,
    NO_DATA,
    ROW,
    SPECTRUM,
    UNEXPLAINED,
    BenchEvent,
    Life,
    cell_life,
    final_stop,
    status,
)
from trivet.science.lives.cycle_record import CycleRecord, cycle_record
from trivet.science.lives.ends import End, EndRules, rule_end
from trivet.science.lives.reference_life import deciding_checks, reference_life
from trivet.science.reference.plating_sources import first_platings
from trivet.stages.contract import STAGES
from trivet.stages.job import Job
from trivet.stages.lifetime.lives_from_table import lives_from_table
from trivet.stages.lifetime.rows import cells_table, counted_rows, life_rows, seen_by_spectra
from trivet.store.group_by_cell import ByCell, Columns, split_by_cell
from trivet.store.tables import arrays, make_table, rows_table

INPUTS = STAGES["lifetime"].reads
_DECISIVE = ("failed", "stopped", "removed")


@dataclass(frozen=True)
class LifetimeTables:
    """What the stage gives.

    Attributes
    ----------
    cells, lifetimes, findings : pyarrow.Table
        Tables of these names.
    """

    cells: pa.Table
    lifetimes: pa.Table
    findings: pa.Table


@dataclass(frozen=True)
class _Case:
    """One cell that counts: its facts, its rows of each input, its clock and its bench log."""

    facts: CellFacts
    rows: Mapping[str, Columns]
    cycles: CycleRecord
    clock: CellClock
    bench: tuple[BenchEvent, ...]
    spectra_alone: bool


def run(
    *,
    cells: Sequence[CellFacts],
    inputs: Mapping[str, pa.Table],
    lifetime: Lifetime,
    trust: Trust,
    factor: str,
    cut_s: float | None,
) -> LifetimeTables:
    """Decide the lives of all cells.

    Parameters
    ----------
    cells : sequence of CellFacts
        All cells of the build sheet, with their entries of the bench log.
    inputs : mapping of str to pyarrow.Table
        Tables of the campaign by name, see `INPUTS`.
    lifetime, trust : Lifetime, Trust
        Settings.
    factor : str
        Primary factor, whose value is the group.
    cut_s : float or None
        Data cut as Unix time [s]; None takes the last time in the ledger.
    """
    split = {name: split_by_cell(inputs[name]) for name in INPUTS}
    # entries after the last row count: a failure two hours later is one; those after a stated cut
    # do not
    stated_cut_s = cut_s
    if cut_s is None:
        files = arrays(inputs["ledger"])
        cut_s = latest_time_s(files["last_time_s"], absolute=files["absolute_time"] == "yes")
    rows: list[dict[str, Any]] = []
    found: list[Finding] = []
    statuses = []
    for facts in cells:
        if not facts.included:
            statuses.append(status(None, included=False))
            continue
        case, log_findings = _case(facts, split, cut_s, lifetime, stated_cut_s)
        end = _rule_end(case, lifetime)
        life = cell_life(
            case.cycles,
            end=end,
            bench=case.bench,
            last_h=case.clock.last_h,
            running=case.clock.running,
            seen=SPECTRUM if case.spectra_alone else ROW,
        )
        own = life_rows(facts, factor, "cell", life)
        own += life_rows(facts, factor, "reference", _reference(case, life, lifetime, trust))
        rows += seen_by_spectra(own) if case.spectra_alone else own
        found += [*log_findings, *_findings(case, life, end)]
        statuses.append(_status(case, life))
    return _tables(cells, factor, statuses, counted_rows(rows), found, stated_cut_s)


def _status(case: _Case, life: Life) -> str:
    """Status of a cell that counts; one with spectra has data, whether or not they have times."""
    if case.spectra_alone and life.censored_because == NO_DATA:
        return Censored.NO_TIMES
    return status(life, included=True)


def _tables(
    cells: Sequence[CellFacts],
    factor: str,
    statuses: Sequence[str],
    rows: Sequence[dict[str, Any]],
    found: list[Finding],
    cut_s: float | None,
) -> LifetimeTables:
    """Rows as tables."""
    table = TABLES["lifetimes"]
    return LifetimeTables(
        cells=cells_table(cells, factor, statuses, cut_s=cut_s),
        lifetimes=rows_table(table, rows),
        findings=make_table(TABLES["findings"], finding_columns(found)),
    )


def run_table(
    *,
    cells: Sequence[CellFacts],
    lives: Sequence[TableLife],
    factor: str,
    file: str,
    cut_s: float | None,
) -> LifetimeTables:
    """Take the lives of all cells from a table of lives.

    Parameters
    ----------
    cells, factor, cut_s
        As in `run`.
    lives : sequence of TableLife
        Rows of the table.
    file : str
        Its name.
    """
    rows, statuses, found = lives_from_table(cells, lives=lives, factor=factor, file=file)
    return _tables(cells, factor, statuses, rows, found, cut_s)


def _case(
    facts: CellFacts,
    split: Mapping[str, ByCell],
    cut_s: float | None,
    lifetime: Lifetime,
    stated_cut_s: float | None,
) -> tuple[_Case, list[Finding]]:
    """Rows, clock and bench log of one cell."""
    rows = {name: split[name].of(facts.cell) for name in INPUTS}
    ledger, cycles = rows["ledger"], cycle_record(rows["cycles"])
    used = (ledger["content"] == "cycling") & (ledger["rows_used"] > 0)
    spectra = (ledger["content"] == "impedance") & (ledger["rows_used"] > 0)
    spectra_alone = bool(spectra.any() and not used.any() and not cycles.cycle.size)
    if spectra_alone:
        used = _timed(ledger, spectra, cut_s)
    clock = cell_clock(
        first_time_s=ledger["first_time_s"][used],
        last_time_s=ledger["first_time_s" if spectra_alone else "last_time_s"][used],
        absolute=bool(np.all(ledger["absolute_time"][used] == "yes")),
        clock_start_s=facts.clock_start_s,
        cut_s=cut_s,
        running_within_h=lifetime.running_within_h,
    )
    bench, found = _bench(facts, clock, stated_cut_s)
    return _Case(facts, rows, cycles, clock, bench, spectra_alone), found


def _timed(ledger: Columns, spectra: np.ndarray, cut_s: float | None) -> np.ndarray:
    """Files of spectra that say when a cell was seen, up to the data cut [s].

    What of a file lies behind an earlier cut the ledger does not say, so its first row counts.
    """
    first_s = ledger["first_time_s"]
    known = spectra & (ledger["absolute_time"] == "yes") & np.isfinite(first_s)
    return np.asarray(known if cut_s is None else known & (first_s <= cut_s))


def _rule_end(case: _Case, lifetime: Lifetime) -> End | None:
    """Give the end that the rules of the settings see."""
    sudden, spans = lifetime.sudden, case.rows["excursions"]
    return rule_end(
        case.cycles,
        excursion_start_h=spans["start_h"],
        excursion_end_h=spans["end_h"],
        extreme_voltage_V=spans["extreme_voltage_V"],
        rules=EndRules(
            retention_below=lifetime.capacity.retention_below,
            consecutive=lifetime.capacity.consecutive,
            short_efficiency_below=sudden.short_efficiency_below,
            short_consecutive=sudden.short_consecutive,
            open_circuit_lasting_s=sudden.open_circuit_lasting_s,
            cut_off_capacity_below=sudden.cut_off_capacity_below,
            cut_off_consecutive=sudden.cut_off_consecutive,
        ),
    )


def _bench(
    facts: CellFacts, clock: CellClock, cut_s: float | None
) -> tuple[tuple[BenchEvent, ...], list[Finding]]:
    """Entries of the bench log up to the data cut as hours on the cell's clock."""
    events: list[BenchEvent] = []
    found: list[Finding] = []
    for entry in facts.log:
        if cut_s is not None and entry.time_s > cut_s:
            continue
        event, line = entry.event, entry.line
        time_h = clock.hours(entry.time_s)
        if time_h is None:
            # Without calendar time the entry can't be placed; the last row is the nearest truth.
            at_first = event == "plated" or clock.last_h is None
            time_h = 0.0 if at_first or clock.last_h is None else clock.last_h
            taken_at = "the first row" if at_first else "the last row"
            found.append(
                words.log_not_placed(facts.cell, event=event, line=line, taken_at=taken_at)
            )
        elif time_h < 0.0 and event in _DECISIVE:
            found.append(words.log_before_start(facts.cell, event=event, line=line, time_h=time_h))
        events.append(BenchEvent(event, time_h, entry.cause, entry.reason))
    return tuple(events), found


def _reference(case: _Case, life: Life, lifetime: Lifetime, trust: Trust) -> Life:
    """Life of the first plating of a cell's reference."""
    plating = case.rows["plating"]
    plated_h, replated_h = first_platings(case.bench, plating["time_h"][plating["logged"] == 0])
    timeline = case.rows["timeline"]
    return reference_life(
        case.cycles,
        checks=deciding_checks(case.rows["reference_checks"]),
        states=tuple(dict.fromkeys(timeline["state"][timeline["track"] == "reference"])),
        cell=life,
        plated_h=plated_h,
        replated_h=replated_h,
        first_h=0.0 if case.clock.first_h is None else case.clock.first_h,
        offset_limit_mV=trust.offset_lost_mV,
        jump_limit_mV=trust.jump_lost_mV,
        checks_to_lose=lifetime.reference_checks_to_lose,
    )


def _findings(case: _Case, life: Life, end: End | None) -> list[Finding]:
    """What should be known about how the life of a cell was decided."""
    cell, hours, found = case.facts.cell, life.hours.duration, []
    if case.spectra_alone and life.censored_because == NO_DATA:
        found.append(words.spectra_without_times(cell))
    if life.censored_because == UNEXPLAINED:
        found.append(words.data_end(cell, last_h=hours, evidence=life.evidence))
    if life.stop_reason == StopReason.NOT_STATED:
        found.append(_no_reason(case))
    if life.decided_by == BENCH_LOG and end is not None:
        found.append(
            words.log_outranks(cell, log_h=hours, rule_h=end.time_h, evidence=life.evidence)
        )
    has_cycles = bool(case.cycles.cycle.size)
    if has_cycles and not life.observed and case.cycles.reference_capacity_mAh() is None:
        found.append(words.not_judged(cell))
    return found


def _no_reason(case: _Case) -> Finding:
    """Which line of the bench log stops or pauses the cell and does not say why."""
    stop = final_stop(case.bench)
    if stop is None:
        stop = next(event for event in reversed(case.bench) if event.event == "paused")
    # the log is in order of time, so that what lies after the data cut is its end
    entry = case.facts.log[case.bench.index(stop)]
    return words.no_reason(case.facts.cell, event=entry.event, line=entry.line, note=entry.note)


def work(job: Job) -> dict[str, pa.Table]:
    """Decide lives from the tables of the cells, or take them from a table of lives."""
    settings = job.settings
    lifetime = Lifetime.model_validate(settings["lifetime"])
    zone = settings["campaign"]["time_zone"]
    cut_s = cut_time_s(settings["campaign"]["data_cut"], time_zone=zone)
    factor = Comparison.model_validate(settings["comparison"]).factors[0].factor
    cells = read_cells(
        job.campaign,
        build_sheet=BuildSheet.model_validate(settings["build_sheet"]),
        bench_log=BenchLog.model_validate(settings["bench_log"]),
        clock_start=lifetime.clock_start,
        time_zone=zone,
    )
    if lifetime.table is not None:
        names, file = [facts.cell for facts in cells], lifetime.table
        lives = lives_of(job.campaign, file=file, cells=names)
        tables = run_table(cells=cells, lives=lives, factor=factor, file=file, cut_s=cut_s)
    else:
        tables = run(
            cells=cells,
            inputs=job.tables(),
            lifetime=lifetime,
            trust=Trust.model_validate(settings["trust"]),
            factor=factor,
            cut_s=cut_s,
        )
    return {
        "cells": tables.cells,
        "lifetimes": tables.lifetimes,
        "findings_lifetime": tables.findings,
    }
