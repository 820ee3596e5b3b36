"""Spectra of one cell: validity, headline, fit, trust.

Settings
--------
impedance, trust.

Reads
-----
spectrum_points, cycles, timeline, ledger of the cell, in this order; facts of the cell.

Writes
------
spectra, spectrum_curves, findings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from trivet.io.store import arrays, make_table, read_table, write_table
from trivet.records import impedance_findings as words
from trivet.records.cell_facts import CellFacts
from trivet.records.findings import Finding, finding_columns
from trivet.records.science_settings import Impedance, Trust
from trivet.records.tables import TABLES
from trivet.science.cell_clock import cell_clock
from trivet.science.reference import is_withheld, trust_at
from trivet.science.spectrum import additivity_percent
from trivet.science.spectrum_analysis import judge
from trivet.science.spectrum_verdict import Limits
from trivet.stages.command import parse, spare_pandas
from trivet.stages.impedance_pair import PAIRS, Pair, findings_of, read_pair
from trivet.stages.impedance_tables import Row, curve_of, numbers_of, table_of


@dataclass(frozen=True)
class ImpedanceResult:
    """Tables of one cell by name, and what was noticed."""

    tables: dict[str, pa.Table]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Place:
    """Where the spectra of a cell lie: zero of its hours, its cycles, trust of the reference."""

    zero_s: float | None
    starts_h: np.ndarray
    cycles: np.ndarray
    spans: tuple[np.ndarray, np.ndarray, list[str]]

    def hours(self, time_s: float) -> float | None:
        """Hours since the clock start [h]; None where unknown."""
        if self.zero_s is None or not np.isfinite(time_s):
            return None
        return (time_s - self.zero_s) / 3600.0

    def cycle(self, time_h: float | None, stated: float) -> int | None:
        """Cycle during which, or last after which, a spectrum was taken; without time as stated."""
        if time_h is None:
            return int(stated) if np.isfinite(stated) else None
        index = int(np.searchsorted(self.starts_h, time_h, side="right")) - 1
        return int(self.cycles[index]) if index >= 0 else None

    def withholds(self, pair: str, time_h: float | None) -> bool:
        """Whether the reference forbids the numbers of a pair."""
        if pair == "cell":
            return False
        return is_withheld("unknown" if time_h is None else trust_at(*self.spans, time_h))


def run(
    *,
    facts: CellFacts,
    points: pa.Table,
    cycles: pa.Table,
    timeline: pa.Table,
    ledger: pa.Table,
    impedance: Impedance,
    trust: Trust,
) -> ImpedanceResult:
    """Test and fit every spectrum of a cell.

    Parameters
    ----------
    facts : CellFacts
        The cell.
    points, cycles, timeline, ledger : pyarrow.Table
        Its tables of those names (`points` is spectrum_points).
    impedance, trust : Impedance, Trust
        Settings.

    Returns
    -------
    ImpedanceResult
        Empty tables for a cell without spectra.
    """
    columns = arrays(points)
    place, findings = _place(facts, columns["time_s"], cycles, timeline, ledger)
    derived = {row["file"] for row in ledger.to_pylist() if row["derived"]}
    spectra: list[Row] = []
    pairs: list[Pair] = []
    for spectrum in np.unique(columns["spectrum"]):
        mine = {name: values[columns["spectrum"] == spectrum] for name, values in columns.items()}
        together = [
            read_pair(int(spectrum), pair, mine, impedance)
            for pair in PAIRS
            if pair in mine["pair"]
        ]
        pairs += together
        time_h = place.hours(float(mine["time_s"][0]))
        void = bool(derived.intersection(mine["file"]))
        rows, found = _judged(
            facts.cell, together, place, time_h, None if void else _additivity(together), trust
        )
        cycle = place.cycle(time_h, float(mine["raw_cycle"][0]))
        spectra += [{**row, "cycle": cycle} for row in rows]
        findings += found
    findings += _findings_of_cell(facts.cell, spectra, pairs, impedance)
    shown = [one for one, row in zip(pairs, spectra, strict=True) if not row["withheld"]]
    curves = [row for one in shown for row in curve_of(facts.cell, one)]
    return ImpedanceResult(
        {
            "spectra": table_of("spectra", spectra),
            "spectrum_curves": table_of("spectrum_curves", curves),
        },
        tuple(findings),
    )


def _judged(
    cell: str,
    together: Sequence[Pair],
    place: _Place,
    time_h: float | None,
    additivity: float | None,
    trust: Trust,
) -> tuple[list[Row], list[Finding]]:
    """Rows and findings of the pairs of one spectrum."""
    limits = Limits(
        kk_suspect_percent=trust.kk_suspect_percent,
        kk_rejected_percent=trust.kk_rejected_percent,
        additivity_suspect_percent=trust.additivity_suspect_percent,
        additivity_rejected_percent=trust.additivity_rejected_percent,
    )
    # Where the reference is lost the sum may fail; that is nothing against the cell's own pair.
    against_cell = None if place.withholds("positive", time_h) else additivity
    rows: list[Row] = []
    findings: list[Finding] = []
    for one in together:
        held = place.withholds(one.pair, time_h)
        judged = judge(
            one.analysis,
            limits=limits,
            is_electrode=one.pair != "cell",
            additivity=against_cell if one.pair == "cell" else additivity,
        )
        findings += findings_of(cell, one, judged)
        rows.append(
            {
                "cell": cell,
                "spectrum": one.spectrum,
                "time_h": time_h,
                "pair": one.pair,
                "trust": judged.trust,
                "reasons": "; ".join(reason.text for reason in judged.reasons),
                "withheld": int(held),
            }
            | numbers_of(one.analysis, additivity, held=held)
        )
    return rows, findings


def _place(
    facts: CellFacts, times_s: np.ndarray, cycles: pa.Table, timeline: pa.Table, ledger: pa.Table
) -> tuple[_Place, list[Finding]]:
    """Where the spectra lie; the same clock as that of the cycles."""
    files = ledger.filter(pc.equal(ledger["content"], "cycling"))
    bounds = arrays(files.select(["first_time_s", "last_time_s"]))
    known = np.isfinite(bounds["first_time_s"]) & np.isfinite(bounds["last_time_s"])
    clock = cell_clock(
        first_time_s=bounds["first_time_s"][known],
        last_time_s=bounds["last_time_s"][known],
        absolute=all(word == "yes" for word in files["absolute_time"].to_pylist()),
        clock_start_s=facts.clock_start_s,
        cut_s=None,
        running_within_h=0.0,
    )
    zero_s, findings = clock.zero_s, []
    if zero_s is None and clock.first_h is None and np.isfinite(times_s).any():
        zero_s = float(np.nanmin(times_s))
        findings = [words.hours_from_first_spectrum(facts.cell)]
    numbered = arrays(cycles.select(["cycle", "start_h"]))
    track = arrays(timeline.filter(pc.equal(timeline["track"], "reference")))
    spans = (track["start_h"], track["end_h"], track["state"].tolist())
    return _Place(zero_s, numbered["start_h"], numbered["cycle"], spans), findings


def _additivity(together: Sequence[Pair]) -> float | None:
    """Misfit of the sum of the electrodes [%]; None where a pair is missing."""
    used = {one.pair: one.analysis.used for one in together}
    if set(used) != set(PAIRS):
        return None
    return additivity_percent(used["cell"], positive=used["positive"], negative=used["negative"])


def _findings_of_cell(
    cell: str, spectra: Sequence[Row], pairs: Sequence[Pair], impedance: Impedance
) -> list[Finding]:
    """What was noticed about all spectra of the cell together."""
    if not spectra:
        return [words.no_spectra(cell)]
    found = []
    outside = sum(len(one.order.outside) for one in pairs)
    if outside:
        span = (impedance.lowest_frequency_Hz, impedance.highest_frequency_Hz)
        found.append(
            words.outside_window(cell, count=outside, lowest_Hz=span[0], highest_Hz=span[1])
        )
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
    return found


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, (__doc__ or "").splitlines()[0])
    if command.cell is None:
        raise SystemExit("the stage impedance works on one cell: give --cell")
    points, cycles, timeline, ledger = command.inputs
    result = run(
        facts=command.cell,
        points=read_table(TABLES["spectrum_points"], points),
        cycles=read_table(TABLES["cycles"], cycles),
        timeline=read_table(TABLES["timeline"], timeline),
        ledger=read_table(TABLES["ledger"], ledger),
        impedance=Impedance.model_validate(command.settings["impedance"]),
        trust=Trust.model_validate(command.settings["trust"]),
    )
    for name, table in result.tables.items():
        write_table(TABLES[name], table, command.out / f"{name}.parquet")
    findings = make_table(TABLES["findings"], finding_columns(list(result.findings)))
    write_table(TABLES["findings"], findings, command.out / "findings.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
