"""All raw files of one cell: read together, since each kind helps to judge the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.ledger import file_findings
from trivet.rawfiles.plating import PlatingRead, read_platings
from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.series import SeriesRead, read_series
from trivet.rawfiles.spectra import SpectraRead, read_spectra
from trivet.rawfiles.suspicion.fit_to_cell import Expected
from trivet.rawfiles.text.clock import cut_time_s
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.raw import Raw


@dataclass(frozen=True)
class CellFiles:
    """Raw files of a cell, read.

    Attributes
    ----------
    series : SeriesRead
        Its cycling.
    spectra : SpectraRead
        Its impedance.
    platings : PlatingRead
        The plating of its reference.
    """

    series: SeriesRead
    spectra: SpectraRead
    platings: PlatingRead

    @property
    def measured(self) -> tuple[RawRead, ...]:
        """Files of the cell itself: cycling and impedance."""
        return (*self.series.reads, *self.spectra.reads)

    @property
    def reads(self) -> tuple[RawRead, ...]:
        """All files."""
        return (*self.measured, *self.platings.reads)

    @property
    def findings(self) -> list[Finding]:
        """What was noticed in reading, of the cell first, then file by file."""
        return [*self.series.findings, *self.spectra.findings, *file_findings(self.reads)]


def read_cell_files(
    files: Sequence[RawFile],
    *,
    facts: CellFacts,
    raw: Raw,
    time_zone: str,
    data_cut: str | None = None,
    expected: Expected | None = None,
) -> CellFiles:
    """Read the raw files of a cell.

    Parameters
    ----------
    files : sequence of RawFile
        Its files of cycling, impedance and plating.
    facts : CellFacts
        The cell.
    raw : Raw
        Patterns and layouts.
    time_zone : str
        IANA zone of the campaign.
    data_cut : str or None
        Date or time in ISO 8601 up to which data count; None for all.
    expected : Expected or None
        What the settings say of every cell, by which a file of another cell is known.
    """
    by_content = {
        content: [file for file in files if file.content == content] for content in raw.by_content
    }
    cut_s = cut_time_s(data_cut, time_zone=time_zone)
    series = read_series(
        by_content["cycling"],
        facts=facts,
        raw=raw,
        time_zone=time_zone,
        data_cut_s=cut_s,
        expected=expected,
    )
    spectra = read_spectra(
        by_content["impedance"],
        cell=facts.cell,
        raw=raw,
        time_zone=time_zone,
        data_cut_s=cut_s,
        twins=facts.twins,
        known_s=(facts.clock_start_s, facts.cycling_started_s, *_ends_s(series.reads)),
    )
    platings = read_platings(
        by_content["plating"],
        cell=facts.cell,
        raw=raw,
        time_zone=time_zone,
        data_cut_s=cut_s,
    )
    return CellFiles(series, spectra, platings)


def _ends_s(reads: Sequence[RawRead]) -> list[float]:
    """Unix times of the last rows of files with times of the calendar [s]."""
    return [float(read.time_s[-1]) for read in reads if read.absolute and len(read.lines)]
