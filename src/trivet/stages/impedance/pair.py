"""One pair of one spectrum of the stage impedance: its rows, what they say, its findings."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from trivet.schema.findings import impedance as words
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.science import Impedance, Trust
from trivet.science.circuit.arcs import Tail
from trivet.science.circuit.fit import SpectrumFit
from trivet.science.circuit.tree import build_circuit
from trivet.science.impedance.analysis import Analysis, Choice, analyse
from trivet.science.impedance.spectrum import Sorted, Trace, sort_rows
from trivet.science.impedance.sweep_drift import amplitude_mV, drift_checks, repeat_drift_percent
from trivet.science.impedance.verdict import Check, Limits, Verdict
from trivet.stages.impedance.surroundings import Surroundings


@dataclass(frozen=True)
class Pair:
    """One pair of one spectrum: its rows as read, what counts of them, and what they say."""

    spectrum: int
    pair: str
    rows: dict[str, np.ndarray]
    order: Sorted
    analysis: Analysis

    @property
    def name(self) -> str:
        """How findings call it."""
        return f"spectrum {self.spectrum}, {self.pair}"

    @property
    def file(self) -> str:
        """The file of its first row."""
        return str(self.rows["file"][0])

    def place(self, row: int) -> tuple[str, int]:
        """File and line of a row."""
        return str(self.rows["file"][row]), int(self.rows["line"][row])


def limits_of(trust: Trust) -> Limits:
    """Thresholds of the checks of spectra, from the settings."""
    return Limits(**{field.name: getattr(trust, field.name) for field in fields(Limits)})


def choice_of(pair: str, impedance: Impedance, *, material: str = "other") -> Choice:
    """Model of a pair: the one written out, or the default of its material."""
    written = getattr(impedance, f"{pair}_model")
    arcs = {"cell": impedance.cell_arcs, "positive": impedance.positive_arcs}
    tail: Tail = "none"
    if impedance.diffusion:
        tail = "free" if pair == "cell" else "warburg"
    return Choice(
        written=None if written is None else build_circuit(written.model_dump()),
        most_arcs=arcs.get(pair, impedance.negative_arcs),
        tail=tail,
        inductance=impedance.inductance,
        starts=impedance.starts,
        cautious=material == "lithium",
    )


def read_pair(
    spectrum: int,
    pair: str,
    columns: dict[str, np.ndarray],
    *,
    impedance: Impedance,
    choice: Choice,
    neighbour: SpectrumFit | None = None,
) -> Pair:
    """Sort, test and fit one pair."""
    rows = {name: values[columns["pair"] == pair] for name, values in columns.items()}
    measured = rows["real_ohm"] + 1j * rows["imaginary_ohm"]
    order = sort_rows(
        rows["frequency_Hz"],
        impedance_ohm=measured,
        lowest_Hz=impedance.lowest_frequency_Hz,
        highest_Hz=impedance.highest_frequency_Hz,
    )
    analysis = analyse(
        Trace(rows["frequency_Hz"][order.used], measured[order.used]),
        may_turn=pair == "negative",
        choice=choice,
        neighbour=neighbour,
    )
    return Pair(spectrum, pair, rows, order, analysis)


def drift_of(
    one: Pair,
    *,
    limits: Limits,
    impedance: Impedance,
    cell: Trace | None,
    around: Surroundings,
) -> tuple[Check, ...]:
    """Checks of what moved during the sweep, and of the amplitude."""
    in_time = np.sort(one.order.used)
    measured = one.rows["real_ohm"][in_time] + 1j * one.rows["imaginary_ohm"][in_time]
    repeat = repeat_drift_percent(one.rows["frequency_Hz"][in_time], impedance_ohm=measured)
    peak = amplitude_mV(
        one.analysis.used,
        current_mA=impedance.excitation_current_mA,
        voltage_mV=impedance.excitation_voltage_mV,
        cell=cell,
    )
    return drift_checks(
        limits=limits,
        repeat_percent=repeat,
        change_mV=around.change_mV.get(one.pair),
        peak_mV=peak,
    )


def findings_of(cell: str, one: Pair, judged: Verdict) -> list[Finding]:
    """What was noticed about one pair."""
    analysis, order = one.analysis, one.order
    found = [
        words.invalid_point(cell, file=file, line=line)
        for file, line in (one.place(row) for row in order.invalid)
    ]
    if len(order.copies):
        file, line = one.place(order.copies[0])
        found.append(
            words.copied_points(cell, name=one.name, count=len(order.copies), file=file, line=line)
        )
    if analysis.turned:
        found.append(words.turned(cell, name=one.name, file=one.file))
    for index, residual, limit in analysis.screened.outliers if analysis.screened else ():
        found.append(
            words.outlier(
                cell,
                name=one.name,
                frequency_Hz=float(analysis.trace.frequency_Hz[index]),
                residual=residual,
                limit=limit,
                place=one.place(order.used[index]),
            )
        )
    if analysis.not_fitted_because:
        because = analysis.not_fitted_because
        found.append(words.not_fitted(cell, name=one.name, file=one.file, reason=because))
    found += [
        words.distrusted(
            cell,
            name=one.name,
            file=one.file,
            trust=reason.outcome,
            text=reason.text,
            value=reason.value,
            limit=reason.limit,
            unit=reason.unit,
        )
        for reason in judged.reasons
    ]
    return found
