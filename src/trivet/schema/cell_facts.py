"""What is known of a cell before its raw files are read: build sheet row and bench log."""

from __future__ import annotations

from dataclasses import dataclass, field

LOG_EVENTS: tuple[str, ...] = (
    "plated",
    "re-plated",
    "stopped",
    "paused",
    "resumed",
    "removed",
    "failed",
    "contact fault",
    "reference checked",
    "leads exchanged",
    "weighed",
    "note",
)
REFERENCE_CHECKED, CONTACT_FAULT, LEADS_EXCHANGED = (
    "reference checked",
    "contact fault",
    "leads exchanged",
)
"""Events that bear on the reference."""
FAILURE_CAUSES: tuple[str, ...] = (
    "capacity",
    "internal short",
    "open circuit",
    "cut-off at once",
    "leak",
    "lead short",
    "other",
)
"""Causes that end a cell, in the words of the report."""


SEPARATORS = "separators"
"""Column of the build sheet with the number of separators, on each side of the reference as `2+1`;
no number of its own."""
MEASURED_COLUMNS: tuple[str, ...] = (
    "positive_active_mass_mg",
    "positive_mass_uncertainty_mg",
    "positive_disc_mass_mg",
    "positive_disc_mass_uncertainty_mg",
    "positive_foil_mass_mg",
    "positive_foil_mass_uncertainty_mg",
    "positive_active_fraction",
    "positive_diameter_mm",
    "positive_diameter_uncertainty_mm",
    "negative_diameter_mm",
    "mesh_diameter_mm",
    "mesh_thickness_um",
    "lead_wire_um",
    "lead_insulation_um",
)
"""Numbers of the build sheet, all optional, that capacities per mass and area, and what is
plausible, rest on. The mass is that of the active material, or follows from disc, foil and
fraction."""
TOLD: dict[str, tuple[str, ...]] = {
    "cycling": (SEPARATORS, *MEASURED_COLUMNS),
    "impedance": (SEPARATORS,),
}
"""Columns of the build sheet by the stage of a cell that is told them."""
PLATINGS = ("plated", "re-plated")
"""Events that begin a reference."""
HEARD: dict[str, tuple[str, ...]] = {
    "cycling": (*PLATINGS, REFERENCE_CHECKED, CONTACT_FAULT, LEADS_EXCHANGED),
    "impedance": (LEADS_EXCHANGED,),
}
"""Events of the bench log by the stage of a cell that is told them; other events end or pause a
life, which is decided for all cells together."""


@dataclass(frozen=True)
class LogEntry:
    """One entry of the bench log.

    Attributes
    ----------
    cell : str
        Cell id.
    time_s : float
        Unix time of the event [s].
    event : str
        One of `LOG_EVENTS`.
    cause : str
        Cause of a failure, one of `FAILURE_CAUSES`; empty otherwise.
    reason : str
        Why the cell was stopped, one of `trivet.reasons.STATED_REASONS`; empty otherwise.
    note : str
        What the person wrote.
    charge_mAh : float or None
        Charge plated on the reference [mAh].
    mass_mg : float or None
        Mass of the cell [mg].
    offset_mV, uncertainty_mV : float or None
        Of a reference that was checked: potential of a known electrode as measured against it,
        less its potential against lithium, and the standard uncertainty of that [mV].
    line : int
        Line in the bench log.
    """

    cell: str
    time_s: float
    event: str
    cause: str = ""
    note: str = ""
    charge_mAh: float | None = None
    mass_mg: float | None = None
    offset_mV: float | None = None
    uncertainty_mV: float | None = None
    line: int = 0
    reason: str = ""


@dataclass(frozen=True)
class CellFacts:
    """One cell as built, with what people did to it.

    Attributes
    ----------
    cell, batch : str
        Ids as written in the build sheet.
    included : bool
        Whether the cell counts in the statistics.
    exclusion_reason : str
        Why not; empty otherwise.
    clock_start_s : float or None
        Unix time at which its hours start [s]; None where the sheet does not say.
    cycling_started_s : float or None
        Unix time of the first row of files that have elapsed time only [s].
    unreachable : dict of str to str
        Folders of raw data that can't be looked into and may hold files of the cell, with why.
    values : dict of str to str
        The row of the build sheet, as text, in the order of its columns.
    numbers : dict of str to float
        Those of them that were measured, as numbers in the unit that the name of the column ends
        with; none where the sheet has no value.
    log : tuple of LogEntry
        Its entries of the bench log in order of time.
    twins : dict of str to str
        Its raw files that another cell has too, byte by byte, and where.
    """

    cell: str
    batch: str
    included: bool = True
    exclusion_reason: str = ""
    clock_start_s: float | None = None
    cycling_started_s: float | None = None
    values: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, float] = field(default_factory=dict)
    log: tuple[LogEntry, ...] = ()
    twins: dict[str, str] = field(default_factory=dict)

    @property
    def leads_exchanged(self) -> bool:
        """Whether a person logged that the leads of positive and negative are exchanged."""
        return any(entry.event == LEADS_EXCHANGED for entry in self.log)

    unreachable: dict[str, str] = field(default_factory=dict)
