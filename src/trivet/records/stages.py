"""What each stage depends on and writes; the workflow passes these settings and nothing else."""

from __future__ import annotations

from trivet.records.settings import Settings

STAGE_SETTINGS: dict[str, tuple[str, ...]] = {
    "read": (
        "raw",
        "campaign.time_zone",
        "campaign.data_cut",
        "cycling.lower_voltage_V",
        "cycling.upper_voltage_V",
        "cycling.capacity_basis_mAh",
    ),
    "cycling": (
        "cycling",
        "electrodes",
        "reference",
        "trust",
        "lifetime.sudden.open_circuit_margin_V",
        "report.cycles_drawn",
    ),
    "impedance": ("impedance", "trust"),
    "bdf": (),
    "collect": (),
    "lifetime": (
        "lifetime",
        "trust.offset_lost_mV",
        "trust.jump_lost_mV",
        "build_sheet",
        "bench_log",
        "comparison.factors",
        "campaign.time_zone",
        "campaign.data_cut",
    ),
    "survival": (
        "survival",
        "comparison",
        "lifetime.primary_clock",
        "campaign.planned_end",
        "campaign.time_zone",
        "campaign.data_cut",
    ),
    "planning": ("comparison", "survival.seed", "lifetime.primary_clock"),
    "measures": (
        "comparison",
        "survival",
        "cycling.ageing_rate",
        "cycling.efficiency_cycles",
    ),
    "earlier": (
        "cycling",
        "electrodes",
        "reference",
        "trust",
        "lifetime",
        "survival",
        "comparison",
        "build_sheet",
        "bench_log",
        "campaign.time_zone",
        "campaign.data_cut",
        "campaign.planned_end",
        "report.compare_days",
    ),
    "changes": ("lifetime.primary_clock",),
    "checklist": (
        "campaign",
        "electrodes",
        "cycling",
        "reference",
        "trust",
        "lifetime",
        "comparison",
    ),
    "findings": (),
    "report": (
        "campaign",
        "build_sheet",
        "electrodes",
        "cycling",
        "reference",
        "trust",
        "impedance",
        "lifetime",
        "survival",
        "comparison",
        "report",
    ),
    "texts": (),
    "archive": tuple(Settings.model_fields),
}
"""Paths into the settings by stage; a block, or one setting of a block."""

CELL_TABLES: dict[str, tuple[str, ...]] = {
    "read": (
        "series",
        "spectrum_points",
        "capacity_records",
        "plating_series",
        "ledger",
        "findings",
    ),
    "cycling": (
        "cycles",
        "electrode_cycles",
        "reference_checks",
        "timeline",
        "excursions",
        "potential_curves",
        "plating",
        "differential_capacity",
        "findings",
    ),
    "impedance": ("spectra", "spectrum_curves", "findings"),
}
"""Tables that the stages of a cell write."""
