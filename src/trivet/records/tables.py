"""Every table of the project by name."""

from __future__ import annotations

from trivet.records.change_tables import CHANGES, CHECKLIST, DATA_CUTS
from trivet.records.columns import Table
from trivet.records.comparison_tables import CELL_MEASURES, COMPARISONS, MEASURES, PLANNING
from trivet.records.cycling_tables import (
    CYCLES,
    ELECTRODE_CYCLES,
    EXCURSIONS,
    POTENTIAL_CURVES,
    REFERENCE_CHECKS,
    TIMELINE,
)
from trivet.records.electrode_tables import DIFFERENTIAL_CAPACITY, PLATING
from trivet.records.impedance_tables import SPECTRA, SPECTRUM_CHECKS, SPECTRUM_CURVES
from trivet.records.lifetime_tables import (
    AT_RISK,
    CAUSES,
    CELLS,
    LIFE_SUMMARY,
    LIFETIMES,
    SURVIVAL,
    SURVIVAL_INTERVALS,
)
from trivet.records.raw_tables import (
    CAPACITY_RECORDS,
    FINDINGS,
    LEDGER,
    LEDGER_BY_CELL,
    PLATING_SERIES,
    SERIES,
    SPECTRUM_POINTS,
)
from trivet.records.trend_tables import (
    RELAXATION_PEAKS,
    RELAXATION_TIMES,
    RESISTANCE_TRENDS,
    SEPARATOR_RESISTANCE,
    SPECTRA_SECOND_PASS,
)

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        CELLS,
        CYCLES,
        ELECTRODE_CYCLES,
        REFERENCE_CHECKS,
        SPECTRA,
        LIFETIMES,
        SURVIVAL,
        SURVIVAL_INTERVALS,
        LIFE_SUMMARY,
        COMPARISONS,
        PLANNING,
        CAUSES,
        MEASURES,
        FINDINGS,
        LEDGER,
        LEDGER_BY_CELL,
        TIMELINE,
        AT_RISK,
        EXCURSIONS,
        CELL_MEASURES,
        POTENTIAL_CURVES,
        PLATING,
        DIFFERENTIAL_CAPACITY,
        SPECTRUM_CHECKS,
        SPECTRUM_CURVES,
        SPECTRA_SECOND_PASS,
        RESISTANCE_TRENDS,
        SEPARATOR_RESISTANCE,
        RELAXATION_TIMES,
        RELAXATION_PEAKS,
        DATA_CUTS,
        CHANGES,
        CHECKLIST,
        SERIES,
        SPECTRUM_POINTS,
        CAPACITY_RECORDS,
        PLATING_SERIES,
    )
}
"""Every table by name; those with `archived` stand under `tables/`."""
