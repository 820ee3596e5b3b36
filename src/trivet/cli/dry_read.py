"""The raw files of each cell read as a run reads them, and what came of it in numbers."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from trivet.rawfiles.cell_files import read_cell_files
from trivet.rawfiles.layout.declared import layout_named
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.excerpt import head_and_tail
from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.suspicion.fit_to_cell import Expected
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.campaign import Settings
from trivet.workflow.run import Workflow

_CLEAR_V, _MOST = 0.1, 0.9
"""A cell voltage near 0 tells no direction; exchanged leads turn nearly all rows."""


@dataclass(frozen=True)
class CellRead:
    """What the raw files of one cell say.

    Attributes
    ----------
    facts : CellFacts
        The cell.
    files : tuple of RawFile
        Its files.
    excerpts : bool
        Whether only head and tail of its large cycling files were read.
    taken : tuple of (str, str)
        Layout, and which column was taken for which quantity, each once.
    rows : int
        Cycling rows that can be used.
    voltage_V, current_mA : tuple of float and float, or None
        Smallest and largest; None without rows.
    driven_V : tuple of float and float, or None
        Smallest in discharge and largest in charge.
    times_s : tuple of float and float, or None
        First and last time [s].
    absolute : bool
        Whether these are Unix times; else seconds since the first row.
    proof_mAh : tuple of float and float
        Charge that speaks for the declared sign of the current, and against it [mA.h].
    spectra : dict of str to int
        Spectra that can be used, by pair.
    aside : dict of str to int
        Rows that would be set aside, by reason.
    findings : tuple of Finding
        What was noticed.
    used : frozenset of str
        Contents of which any row can be used.
    exchanged : bool
        Whether the negative less the positive potential is the cell voltage, as with exchanged
        leads.
    crossed : bool
        Whether a cycling file begins before another one ends.
    """

    facts: CellFacts
    files: tuple[RawFile, ...]
    excerpts: bool = False
    taken: tuple[tuple[str, str], ...] = ()
    rows: int = 0
    voltage_V: tuple[float, float] | None = None
    current_mA: tuple[float, float] | None = None
    driven_V: tuple[float, float] | None = None
    times_s: tuple[float, float] | None = None
    absolute: bool = False
    proof_mAh: tuple[float, float] = (0.0, 0.0)
    spectra: dict[str, int] = field(default_factory=dict)
    aside: dict[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    used: frozenset[str] = frozenset()
    exchanged: bool = False
    crossed: bool = False

    def has(self, content: str) -> bool:
        """Whether the cell has any file of a content."""
        return any(file.content == content for file in self.files)


def read_dry(work: Workflow, *, whole: bool) -> Iterator[CellRead]:
    """Read the raw files of every cell and keep what they say.

    Parameters
    ----------
    work : Workflow
        The campaign, its settings without fault.
    whole : bool
        Whether large cycling files are read to their end too. Without it they are read so only
        where their head and tail show a fault, so that no cut is taken for one.

    Yields
    ------
    CellRead
        Cell by cell in the order of the build sheet.
    """
    settings = work.campaign.settings
    for cell in work.campaign.cells:
        twins, unreachable = work.twins(cell.cell), work.unreachable(cell.cell)
        facts = replace(cell, twins=twins, unreachable=unreachable)
        files = work.raw[cell.cell]
        if whole:
            yield _read(facts, files, files, settings)
            continue
        with tempfile.TemporaryDirectory(prefix="trivet-") as folder:
            cut = _excerpts(files, settings, Path(folder))
            found = _read(facts, files, cut, settings)
        doubtful = any(finding.severity == "fault" for finding in found.findings)
        doubtful = doubtful or "cycling" not in found.used or found.crossed
        yield _read(facts, files, files, settings) if found.excerpts and doubtful else found


def _excerpts(files: Sequence[RawFile], settings: Settings, folder: Path) -> list[RawFile]:
    """Files of a cell, head and tail in place of large ones of cycling."""
    zone, out = settings.campaign.time_zone, list[RawFile]()
    for file in files:
        if file.content != "cycling":
            out.append(file)
            continue
        layout = layout_named(settings.raw, name=file.layout, time_zone=zone)
        out += head_and_tail(file, layout=layout, folder=folder)
    return out


def _read(
    facts: CellFacts, files: Sequence[RawFile], cut: Sequence[RawFile], settings: Settings
) -> CellRead:
    """Read the files of a cell as a run does, or their excerpts."""
    found = read_cell_files(
        cut,
        facts=facts,
        raw=settings.raw,
        time_zone=settings.campaign.time_zone,
        data_cut=settings.campaign.data_cut,
        expected=Expected(
            lower_V=settings.cycling.lower_voltage_V,
            upper_V=settings.cycling.upper_voltage_V,
            capacity_mAh=settings.cycling.capacity_basis_mAh,
        ),
    )
    excerpts = len(cut) != len(files) or any(
        one.path != other.path for one, other in zip(cut, files, strict=False)
    )
    return CellRead(
        facts=facts,
        files=tuple(files),
        excerpts=excerpts,
        taken=_taken(found.reads),
        findings=tuple(_unplaced(found.findings, excerpts=excerpts)),
        aside=_aside(found.reads),
        spectra=_pairs(found.spectra.columns),
        used=frozenset(read.file.content for read in found.reads if len(read.lines)),
        crossed=_crossed(found.series.reads),
        **_ranges(found.series.columns, found.series.reads),
    )


def _unplaced(findings: Sequence[Finding], *, excerpts: bool) -> Iterator[Finding]:
    """Findings, each once; of excerpts without the line, which is not that of the file."""
    yield from dict.fromkeys(
        replace(finding, line=None) if excerpts else finding for finding in findings
    )


def _taken(reads: Sequence[RawRead]) -> tuple[tuple[str, str], ...]:
    """Layout and columns of each file that has a header, each once."""
    named = ((read.file.layout, ", ".join(read.taken)) for read in reads if read.taken)
    return tuple(dict.fromkeys(named))


def _aside(reads: Sequence[RawRead]) -> dict[str, int]:
    """Rows that would be set aside, by reason."""
    counts = Counter[str]()
    for read in reads:
        counts.update(read.counts_aside)
        if read.uncounted:
            counts["whole file"] += read.uncounted
    return dict(counts)


def _pairs(columns: dict[str, np.ndarray]) -> dict[str, int]:
    """Spectra by pair."""
    each = zip(columns["spectrum"].tolist(), columns["pair"].tolist(), strict=True)
    return dict(Counter(str(pair) for _, pair in dict.fromkeys(each)))


def _crossed(reads: Sequence[RawRead]) -> bool:
    """Whether files overlap in time, head and tail of one taken together."""
    spans: dict[str, tuple[float, float]] = {}
    for read in (read for read in reads if len(read.time_s)):
        first, last = spans.get(read.file.relative, (np.inf, -np.inf))
        own = float(read.time_s[0]), float(read.time_s[-1])
        spans[read.file.relative] = min(first, own[0]), max(last, own[1])
    ordered = sorted(spans.values())
    return any(after[0] < before[1] for before, after in pairwise(ordered))


def _ranges(columns: dict[str, Any], reads: Sequence[RawRead]) -> dict[str, Any]:
    """What the cycling rows that can be used span, and the proof of the sign."""
    voltage, current = columns["cell_V"], columns["current_mA"]
    low, high = _span(voltage[current < 0]), _span(voltage[current > 0])
    proofs = [read.proof_mAh for read in reads if read.proof_mAh is not None]
    used = [read for read in reads if len(read.lines)]
    return {
        "rows": sum(len(read.lines) for read in used),
        "voltage_V": _span(voltage),
        "current_mA": _span(current),
        "driven_V": _driven(low, high),
        "times_s": _span(columns["time_s"]),
        "exchanged": _exchanged(columns),
        "absolute": bool(used) and all(read.absolute for read in used),
        "proof_mAh": (sum(p for p, _ in proofs), sum(p for _, p in proofs)),
    }


def _exchanged(columns: dict[str, Any]) -> bool:
    """Whether most rows have the cell voltage as the negative less the positive potential."""
    cell = columns["cell_V"]
    between = columns["positive_V"] - columns["negative_V"]
    known = np.isfinite(cell) & np.isfinite(between) & (np.abs(cell) > _CLEAR_V)
    if not np.any(known):
        return False
    turned = np.abs(cell + between)[known] < np.abs(cell - between)[known]
    return float(np.mean(turned)) > _MOST


def _span(values: np.ndarray) -> tuple[float, float] | None:
    """Smallest and largest number; None without any."""
    known = values[np.isfinite(values)]
    return (float(known.min()), float(known.max())) if len(known) else None


def _driven(
    low: tuple[float, float] | None, high: tuple[float, float] | None
) -> tuple[float, float] | None:
    """Smallest value in discharge, largest in charge; of the other where one is not there."""
    discharge, charge = low or high, high or low
    return (discharge[0], charge[1]) if discharge and charge else None
