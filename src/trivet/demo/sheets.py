"""Build sheet and bench log of the invented campaign, as its people would have kept them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping

from trivet.demo.physics import Ageing
from trivet.demo.plan import CellPlan
from trivet.demo.protocol import CellRun

EXCLUSION = "mesh torn while the case was closed"
BARE_CELL_MG = 3412.0
"""Mass of a closed cell [mg]; invented."""


def _local(plan: CellPlan, hours: float) -> str:
    """Local time at `hours` since crimping, without zone, as people write it."""
    return plan.moment(hours).replace(tzinfo=None).isoformat(timespec="seconds")


def _as_text(rows: Iterable[Mapping[str, str]]) -> str:
    """Rows as comma-separated text with a header."""
    listed = list(rows)
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(listed[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(listed)
    return text.getvalue()


def build_sheet(plans: Iterable[CellPlan]) -> str:
    """Build sheet as text, one row a cell."""
    return _as_text(_sheet_row(plan) for plan in plans)


def _sheet_row(plan: CellPlan) -> dict[str, str]:
    """One cell as built; the sealing takes an hour where a bead has to set."""
    excluded = plan.role.fate == "excluded"
    random = plan.random(2)
    return {
        "cell": plan.cell,
        "batch": plan.batch,
        "seal": plan.seal,
        "separators": plan.separators,
        "included": "no" if excluded else "yes",
        "exclusion_reason": EXCLUSION if excluded else "",
        "wetted_at": _local(plan, -0.2),
        "crimped_at": _local(plan, 0.0),
        "out_of_glovebox_at": _local(plan, 2.5),
        "sealed_at": _local(plan, 3.6 if plan.seal == "epoxy" else 2.8),
        "cycling_started_at": "" if excluded else _local(plan, plan.cycling_started_h),
        "positive_active_mass_mg": f"{plan.active_mass_mg:.2f}",
        "positive_mass_uncertainty_mg": "0.05",
        "positive_diameter_mm": "12.0",
        "negative_diameter_mm": "13.0",
        "mesh_diameter_mm": "4.0",
        "lead_wire_um": "50",
        "electrolyte_uL": f"{80.0 + 1.5 * random.standard_normal():.1f}",
        "assembly_fault": "mesh torn" if excluded else "",
    }


def bench_log(runs: Iterable[tuple[CellPlan, CellRun | None]]) -> str:
    """Bench log as text, in order of time."""
    entries = [entry for plan, run in runs if run for entry in _entries(plan, run)]
    return _as_text(sorted(entries, key=lambda entry: (entry["time"], entry["cell"])))


def _entry(plan: CellPlan, hours: float, event: str, **values: str) -> dict[str, str]:
    """One entry; what is not given stays empty."""
    known = {"cause": "", "charge_mAh": "", "mass_mg": "", "reason": "", "note": ""}
    return {"time": _local(plan, hours), "cell": plan.cell, "event": event, **known, **values}


def _entries(plan: CellPlan, run: CellRun) -> list[dict[str, str]]:
    """What people did to one cell."""
    last_h = float(run.time_s[-1]) / 3600.0
    happened = plan.fate_h < plan.horizon_h
    reference = plan.reference
    entries = [
        _entry(plan, reference.plated_h, "plated", charge_mAh=f"{reference.plated_mAh:.4f}"),
        _entry(plan, 3.7, "weighed", mass_mg=_mass_mg(plan, 3.7)),
    ]
    if plan.role.fate == "stopped" and happened:
        entries.append(
            _entry(
                plan,
                plan.fate_h,
                "stopped",
                reason="channel needed",
                note="for the next batch",
            )
        )
    if plan.role.fate == "leak" and happened:
        entries += [
            _entry(plan, plan.fate_h - 70.0, "weighed", mass_mg=_mass_mg(plan, plan.fate_h - 70.0)),
            _entry(plan, plan.fate_h, "weighed", mass_mg=_mass_mg(plan, plan.fate_h)),
            _entry(
                plan,
                plan.fate_h,
                "failed",
                cause="leak",
                note="wet crystals at the lead passage; taken off and bagged",
            ),
        ]
    if plan.role.fate == "open" and happened:
        note = "programme ended by itself; no reading across the cell"
        entries.append(_entry(plan, last_h + 6.0, "note", note=note))
    if reference.exhausted_h < last_h:
        note = "both potentials have fallen, cell voltage unchanged"
        entries.append(_entry(plan, reference.exhausted_h + 20.0, "note", note=note))
    return entries


def _mass_mg(plan: CellPlan, hours: float) -> str:
    """Mass of a cell [mg]; a leaking cell loses a milligram in ten hours."""
    built_mg = BARE_CELL_MG + 6.0 * plan.random(3).standard_normal()
    return f"{built_mg - 0.1 * _leaking_h(plan.ageing, hours):.1f}"


def _leaking_h(ageing: Ageing, hours: float) -> float:
    """Hours for which a cell has been leaking [h]."""
    return 0.0 if ageing.leak_h is None else max(hours - ageing.leak_h, 0.0)
