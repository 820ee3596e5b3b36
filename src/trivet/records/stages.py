"""Which settings each stage depends on; the workflow passes these and nothing else."""

from __future__ import annotations

STAGE_SETTINGS: dict[str, tuple[str, ...]] = {
    "read": ("raw", "campaign.time_zone", "campaign.data_cut"),
    "cycling": (
        "cycling",
        "electrodes",
        "reference",
        "trust",
        "lifetime.sudden.open_circuit_margin_V",
        "report.cycles_drawn",
    ),
    "impedance": ("impedance", "trust"),
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
    ),
    "measures": ("comparison", "survival", "cycling.ageing_rate"),
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
    "archive": ("archive", "campaign"),
}
"""Paths into the settings by stage; a block, or one setting of a block."""
