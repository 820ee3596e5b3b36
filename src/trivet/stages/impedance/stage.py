"""Spectra of one cell: validity, headline, fit, trust."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa

from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings import impedance as words
from trivet.schema.findings.finding import Finding, finding_columns
from trivet.schema.settings.science import Impedance, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.schema.tables.impedance import PAIRS
from trivet.science.circuit.fit import SpectrumFit
from trivet.science.impedance.sweep_drift import sweep_duration_s
from trivet.science.impedance.verdict import Verdict
from trivet.stages.impedance.judged import (
    Measurement,
    checks_of,
    first_good_share,
    is_misplaced,
    judge_measurement,
)
from trivet.stages.impedance.pair import Pair, choice_of, findings_of, limits_of, read_pair
from trivet.stages.impedance.place import Place, expected_share, place_of
from trivet.stages.impedance.surroundings import surroundings_of
from trivet.stages.impedance.tables import Row, curve_of, numbers_of, table_of
from trivet.stages.job import Job
from trivet.store.tables import arrays, make_table


@dataclass(frozen=True)
class ImpedanceResult:
    """Tables of one cell by name, and what was noticed."""

    tables: dict[str, pa.Table]
    findings: tuple[Finding, ...]


@dataclass
class _Written:
    """What has been written so far, and what the next spectrum is told of it."""

    spectra: list[Row] = field(default_factory=list)
    checks: list[Row] = field(default_factory=list)
    pairs: list[Pair] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    fits: dict[str, SpectrumFit] = field(default_factory=dict)
    share: float | None = None
    by_cycle: int = 0


def run(
    *,
    facts: CellFacts,
    points: pa.Table,
    cycles: pa.Table,
    fitness: pa.Table,
    ledger: pa.Table,
    series: pa.Table,
    impedance: Impedance,
    trust: Trust,
    materials: Mapping[str, str],
    zero_current_mA: float,
) -> ImpedanceResult:
    """Test and fit every spectrum of a cell.

    Parameters
    ----------
    facts : CellFacts
        The cell.
    points, cycles, fitness, ledger, series : pyarrow.Table
        Its tables of those names (`points` is spectrum_points).
    impedance, trust : Impedance, Trust
        Settings.
    materials : mapping of str to str
        Material of the positive and of the negative.
    zero_current_mA : float
        Currents up to this size are rest [mA].

    Returns
    -------
    ImpedanceResult
        Empty tables for a cell without spectra.
    """
    columns = arrays(points)
    place, findings = place_of(facts, columns["time_s"], cycles, fitness, ledger)
    rows = arrays(series.select(list(_OF_SERIES)))
    derived = {row["file"] for row in ledger.to_pylist() if row["derived"]}
    written = _Written(findings=findings)
    exchanged = facts.leads_exchanged
    if exchanged:
        rows["positive_V"], rows["negative_V"] = rows["negative_V"], rows["positive_V"]
    for spectrum in np.unique(columns["spectrum"]):
        mine = {name: values[columns["spectrum"] == spectrum] for name, values in columns.items()}
        mine["pair"] = _as_connected(mine["pair"], exchanged=exchanged)
        time_s = float(mine["time_s"][0])
        time_h = place.hours(time_s)
        placed = "time"
        if time_h is None:
            time_h = place.hours_of_cycle(float(mine["raw_cycle"][0]))
            placed = "" if time_h is None else "cycle"
            written.by_cycle += time_h is not None
        measured = Measurement(
            pairs=tuple(_pairs(int(spectrum), mine, impedance, materials, written.fits)),
            derived=bool(derived.intersection(mine["file"])),
            trusted_reference=not place.withholds("positive", time_h),
            around=surroundings_of(
                rows,
                time_s=time_s,
                duration_s=sweep_duration_s(mine["frequency_Hz"][mine["pair"] == mine["pair"][0]]),
                zero_mA=zero_current_mA,
            ),
        )
        verdicts = judge_measurement(
            measured,
            limits=limits_of(trust),
            impedance=impedance,
            separators_share=expected_share(facts.values.get("separators", "")),
            first_share=written.share,
        )
        if written.share is None:
            written.share = first_good_share(measured, verdicts)
        _write(facts.cell, measured, verdicts, place, (time_h, placed), impedance, written)
    written.findings += _findings_of_cell(facts.cell, written, impedance)
    return ImpedanceResult(_tables(facts.cell, written), tuple(written.findings))


_OF_SERIES = (
    "time_s",
    "current_mA",
    "cell_V",
    "positive_V",
    "negative_V",
    "temperature_degC",
)


def _as_connected(pair: np.ndarray, *, exchanged: bool) -> np.ndarray:
    """Pairs of a spectrum as the electrodes were, where the log says that leads are exchanged."""
    if not exchanged:
        return pair
    other = {"positive": "negative", "negative": "positive"}
    return np.array([other.get(str(name), name) for name in pair], dtype=object)


def _pairs(
    spectrum: int,
    mine: dict[str, np.ndarray],
    impedance: Impedance,
    materials: Mapping[str, str],
    fits: dict[str, SpectrumFit],
) -> list[Pair]:
    """Read and fit the pairs of a measurement; each fit is a start of the next of its pair."""
    together = []
    for pair in PAIRS:
        if pair not in mine["pair"]:
            continue
        one = read_pair(
            spectrum,
            pair,
            mine,
            impedance=impedance,
            choice=choice_of(pair, impedance, material=materials.get(pair, "other")),
            neighbour=fits.get(pair),
        )
        if one.analysis.fitted is not None:
            fits[pair] = one.analysis.fitted
        together.append(one)
    return together


def _write(
    cell: str,
    measured: Measurement,
    verdicts: Sequence[Verdict],
    place: Place,
    when: tuple[float | None, str],
    impedance: Impedance,
    written: _Written,
) -> None:
    """Add the rows and findings of the pairs of one measurement."""
    additivity, around = measured.additivity, measured.around
    time_h, placed = when
    for one, judged in zip(measured.pairs, verdicts, strict=True):
        held = place.withholds(one.pair, time_h)
        written.findings += findings_of(cell, one, judged)
        written.checks += checks_of(cell, one, judged, held=held)
        written.pairs.append(one)
        written.verdicts.append(judged)
        written.spectra.append(
            {
                "cell": cell,
                "spectrum": one.spectrum,
                "time_h": time_h,
                "placed_by": placed,
                "cycle": place.cycle(time_h, float(one.rows["raw_cycle"][0])),
                "pair": one.pair,
                "rest_h": around.rest_h,
                "temperature_degC": around.temperature_degC,
                "trust": judged.trust,
                "reasons": "; ".join(reason.text for reason in judged.reasons),
                "withheld": int(held),
                "misplaced": int(is_misplaced(judged)),
            }
            | numbers_of(
                one.analysis,
                additivity,
                impedance=impedance,
                potential_V=around.potential_V.get(one.pair),
                held=held,
            )
        )


def _tables(cell: str, written: _Written) -> dict[str, pa.Table]:
    """Tables of everything written; curves of withheld electrodes are left out."""
    both = zip(written.pairs, written.spectra, strict=True)
    shown = [one for one, row in both if not row["withheld"]]
    curves = [row for one in shown for row in curve_of(cell, one)]
    return {
        "spectra": table_of("spectra", written.spectra),
        "spectrum_checks": table_of("spectrum_checks", written.checks),
        "spectrum_curves": table_of("spectrum_curves", curves),
    }


def _findings_of_cell(cell: str, written: _Written, impedance: Impedance) -> list[Finding]:
    """What was noticed about all spectra of the cell together."""
    spectra, pairs = written.spectra, written.pairs
    if not spectra:
        return [words.no_spectra(cell)]
    found = []
    outside = sum(len(one.order.outside) for one in pairs)
    if outside:
        span = (impedance.lowest_frequency_Hz, impedance.highest_frequency_Hz)
        found.append(
            words.outside_window(cell, count=outside, lowest_Hz=span[0], highest_Hz=span[1])
        )
    if written.by_cycle:
        found.append(words.placed_by_cycle(cell, spectra=written.by_cycle))
    unplaced = {row["spectrum"] for row in spectra if row["time_h"] is None}
    if unplaced:
        found.append(words.not_placed(cell, spectra=len(unplaced)))
    # With the cell's voltage only there is nothing to add up, and nothing to say.
    electrodes = {row["spectrum"] for row in spectra if row["pair"] != "cell"}
    tested = {row["spectrum"] for row in spectra if row["additivity_percent"] is not None}
    if electrodes - tested:
        found.append(words.additivity_not_testable(cell, spectra=len(electrodes - tested)))
    held = [one for one, row in zip(pairs, spectra, strict=True) if row["withheld"]]
    if held:
        points = sum(len(one.order.used) for one in held)
        found.append(words.withheld(cell, count=len(held), points=points))
    found += _geometry(cell, written)
    return found


def _geometry(cell: str, written: _Written) -> list[Finding]:
    """Say once for the cell that its reference may sit in the wrong place."""
    electrodes = [
        (row["spectrum"], is_misplaced(judged))
        for row, judged in zip(written.spectra, written.verdicts, strict=True)
        if row["pair"] != "cell" and not row["withheld"]
    ]
    seen = {spectrum for spectrum, misplaced in electrodes if misplaced}
    if not seen:
        return []
    return [words.misplaced(cell, count=len(seen), of=len({number for number, _ in electrodes}))]


def work(job: Job) -> dict[str, pa.Table]:
    """Judge and fit the spectra of the cell."""
    electrodes = job.settings["electrodes"]
    result = run(
        facts=job.the_cell,
        points=job.table("spectrum_points"),
        cycles=job.table("cycles"),
        fitness=job.table("fitness"),
        ledger=job.table("ledger"),
        series=job.table("series"),
        materials={pair: electrodes[pair]["material"] for pair in ("positive", "negative")},
        zero_current_mA=job.settings["cycling"]["zero_current_mA"],
        impedance=Impedance.model_validate(job.settings["impedance"]),
        trust=Trust.model_validate(job.settings["trust"]),
    )
    findings = make_table(TABLES["findings"], finding_columns(list(result.findings)))
    return {**result.tables, "findings": findings}
