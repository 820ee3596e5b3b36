"""Every table of the project by name."""

from __future__ import annotations

from trivet.schema.tables.balance import COVARIATE_TESTS, COVARIATES, ORDER_TRENDS
from trivet.schema.tables.changes import CHANGES, CHECKLIST, DATA_CUTS
from trivet.schema.tables.columns import Table
from trivet.schema.tables.comparison import CELL_MEASURES, COMPARISONS, LOOKS, MEASURES, PLANNING
from trivet.schema.tables.cycling import (
    CYCLES,
    ELECTRODE_CYCLES,
    EXCURSIONS,
    POTENTIAL_CURVES,
    REFERENCE_CHECKS,
    TIMELINE,
)
from trivet.schema.tables.electrodes import DIFFERENTIAL_CAPACITY, FITNESS, PLATING
from trivet.schema.tables.fading import ATTRIBUTION, END_POINTS, FADING
from trivet.schema.tables.forecasts import FORECAST_COVERAGE, FORECASTS
from trivet.schema.tables.impedance import SPECTRA, SPECTRUM_CHECKS, SPECTRUM_CURVES
from trivet.schema.tables.lives import (
    AT_RISK,
    CAUSES,
    CELLS,
    LIFE_SUMMARY,
    LIFETIMES,
    SURVIVAL,
    SURVIVAL_INTERVALS,
)
from trivet.schema.tables.pooled import POOLED
from trivet.schema.tables.rates import RATE_CAPABILITY, STEP_RESISTANCES
from trivet.schema.tables.raw import (
    CAPACITY_RECORDS,
    FINDINGS,
    LEDGER,
    LEDGER_BY_CELL,
    PLATING_SERIES,
    SERIES,
    SPECTRUM_POINTS,
)
from trivet.schema.tables.register import INPUT_CHANGES, LATE_DECISIONS, REPORTS_ISSUED
from trivet.schema.tables.trends import (
    RELAXATION_PEAKS,
    RELAXATION_TIMES,
    RESISTANCE_TRENDS,
    SEPARATOR_RESISTANCE,
    SPECTRA_SECOND_PASS,
)

SCHEMA_VERSION = "2.4"
"""Version of the tables: the first part rises when a column or table is renamed, leaves or changes
its meaning or unit, the second when one comes. CHANGELOG.md says what."""

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        CELLS,
        CYCLES,
        ELECTRODE_CYCLES,
        ATTRIBUTION,
        END_POINTS,
        STEP_RESISTANCES,
        RATE_CAPABILITY,
        FADING,
        FORECASTS,
        FORECAST_COVERAGE,
        REFERENCE_CHECKS,
        SPECTRA,
        LIFETIMES,
        SURVIVAL,
        SURVIVAL_INTERVALS,
        LIFE_SUMMARY,
        COMPARISONS,
        LOOKS,
        POOLED,
        PLANNING,
        COVARIATES,
        COVARIATE_TESTS,
        ORDER_TRENDS,
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
        FITNESS,
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
        REPORTS_ISSUED,
        INPUT_CHANGES,
        LATE_DECISIONS,
        SERIES,
        SPECTRUM_POINTS,
        CAPACITY_RECORDS,
        PLATING_SERIES,
    )
}
"""Every table by name; those with `archived` stand under `tables/`."""
