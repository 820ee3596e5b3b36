"""Read the raw files of one cell: cycling, impedance and plating, with an account of every row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pyarrow as pa

from trivet.rawfiles.cell_files import read_cell_files
from trivet.rawfiles.layout.patterns import RawFile, match_files
from trivet.rawfiles.ledger import ledger_columns
from trivet.rawfiles.suspicion.fit_to_cell import Expected
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import Finding, finding_columns
from trivet.schema.settings.raw import Raw
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.job import Job
from trivet.store.tables import make_table


@dataclass(frozen=True)
class ReadTables:
    """What the stage writes.

    Attributes
    ----------
    series, spectrum_points, capacity_records, plating_series, ledger, findings : pyarrow.Table
        Tables of the dictionary.
    """

    series: pa.Table
    spectrum_points: pa.Table
    capacity_records: pa.Table
    plating_series: pa.Table
    ledger: pa.Table
    findings: pa.Table


def run(
    *,
    facts: CellFacts,
    files: Sequence[RawFile],
    raw: Raw,
    time_zone: str,
    data_cut: str | None = None,
    expected: Expected | None = None,
) -> ReadTables:
    """Read the raw files of a cell.

    Parameters
    ----------
    facts : CellFacts
        The cell.
    files : sequence of RawFile
        Its files of cycling, impedance and plating; none is possible and gives a finding.
    raw : Raw
        Patterns and layouts.
    time_zone : str
        IANA zone of the campaign.
    data_cut : str or None
        Date or time in ISO 8601 up to which data count; None for all.
    expected : Expected or None
        What the settings say of every cell, by which a file of another cell is known.

    Returns
    -------
    ReadTables
        Current positive in charge [mA], voltages [V], times [s], impedance [Ohm], frequency [Hz].
    """
    found = read_cell_files(
        files, facts=facts, raw=raw, time_zone=time_zone, data_cut=data_cut, expected=expected
    )
    findings = found.findings
    findings += [
        Finding(
            facts.cell,
            "unreachable folder",
            "caution",
            f"the raw data folder '{path}' can't be looked into: {why}",
            "files in it are not known, and not read",
            file=path,
        )
        for path, why in sorted(facts.unreachable.items())
    ]
    if not any(len(read.lines) for read in found.measured):
        findings.append(_no_data(facts.cell, len(found.measured)))
    return ReadTables(
        make_table(TABLES["series"], found.series.columns),
        make_table(TABLES["spectrum_points"], found.spectra.columns),
        make_table(TABLES["capacity_records"], found.spectra.records),
        make_table(TABLES["plating_series"], found.platings.columns),
        make_table(TABLES["ledger"], ledger_columns(found.reads)),
        make_table(TABLES["findings"], finding_columns(findings)),
    )


def _no_data(cell: str, files: int) -> Finding:
    """Say that a cell has nothing that could be read."""
    what = f"none of its {files} raw files could be used" if files else "no raw file was found"
    return Finding(cell, "no data", "fault", what, "cell counted without data")


def work(job: Job) -> dict[str, pa.Table]:
    """Read the files of the cell."""
    raw = Raw.model_validate(job.settings["raw"])
    campaign, cycling = job.settings["campaign"], job.settings["cycling"]
    files = match_files(
        job.raw_files, campaign_folder=job.campaign, raw=raw, cell=job.the_cell.cell
    )
    tables = run(
        facts=job.the_cell,
        files=files,
        raw=raw,
        time_zone=campaign["time_zone"],
        data_cut=campaign["data_cut"],
        expected=Expected(
            lower_V=cycling["lower_voltage_V"],
            upper_V=cycling["upper_voltage_V"],
            capacity_mAh=cycling["capacity_basis_mAh"],
        ),
    )
    return {name: getattr(tables, name) for name in ReadTables.__dataclass_fields__}
