"""What a campaign has recorded, as the reporting checklist asks it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trivet.campaign.checklist.points import Point, Row
from trivet.schema.settings.inference import Comparison, Lifetime
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust

Item = tuple[str, str, list[Point]]
"""Topic, who can tell, and the points of an item."""


@dataclass(frozen=True)
class Recorded:
    """What a campaign has recorded.

    Attributes
    ----------
    tables : mapping of str to sequence of rows
        Rows of cells, cycles, spectra, ledger, lifetimes, timeline, plating, cell_measures.
    frequencies_Hz : tuple of float
        Lowest and highest frequency of the spectra; empty where there is none [Hz].
    campaign, licence : str
        Id and licence of the campaign; nothing else of that block, so that a new title does not
        count as a new checklist.
    electrodes, cycling, reference, trust, lifetime, comparison : Block
        Settings.
    version : str
        Version of this program.
    """

    tables: Mapping[str, Sequence[Row]]
    frequencies_Hz: tuple[float, ...]
    campaign: str
    licence: str
    electrodes: Electrodes
    cycling: Cycling
    reference: Reference
    trust: Trust
    lifetime: Lifetime
    comparison: Comparison
    version: str

    @property
    def cells(self) -> list[Row]:
        """Cells that count."""
        return [row for row in self.tables["cells"] if row["included"]]

    def cycles_of(self, kind: str) -> list[Row]:
        """Complete cycles of a kind."""
        return [r for r in self.tables["cycles"] if r["kind"] == kind and r["complete"]]

    def measure(self, start: str) -> list[float | None]:
        """Values of a per-cell measure by the first words of its name."""
        rows = self.tables["cell_measures"]
        return [row["value"] for row in rows if row["measure"].startswith(start)]

    def files(self, content: str) -> list[Row]:
        """Raw files of a kind that were used."""
        rows = self.tables["ledger"]
        return [row for row in rows if row["content"] == content and row["rows_used"]]
