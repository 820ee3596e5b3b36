"""Platings of one cell's reference: which there were, and what became of them."""

from __future__ import annotations

import pyarrow as pa

from trivet.schema.cell_facts import PLATINGS
from trivet.schema.findings import cycling as cycling_findings
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.science import Reference
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.reference.plating import Deposit, deposit, wire_area_cm2
from trivet.science.reference.plating_sources import Agreed, Source, agree, plated_charge_mAh
from trivet.science.reference.record import Plating
from trivet.science.reference.trust import TrustSpans
from trivet.stages.cycling.cell import Cell, measured
from trivet.store.tables import arrays


def agreed_platings(
    cell: Cell, rows: pa.Table | None, ledger: pa.Table
) -> tuple[Agreed, list[Finding]]:
    """Platings by the bench log and by plating files, and where these do not agree.

    Parameters
    ----------
    cell : Cell
        The cell.
    rows : pyarrow.Table or None
        Table `plating_series` of the cell.
    ledger : pyarrow.Table
        Table `ledger` of the cell.
    """
    log = [
        Source(entry.time_s, entry.charge_mAh, logged=True)
        for entry in cell.facts.log
        if entry.event in PLATINGS
    ]
    found = agree(log, _files(cell, rows, ledger))
    notes = [
        cycling_findings.plating_not_logged(
            cell.name, file=file.file, placed=file.time_s is not None
        )
        for file in found.alone
    ]
    notes += [
        cycling_findings.plating_unlike(
            cell.name, file=file.file, log_mAh=entry.charge_mAh, file_mAh=file.charge_mAh
        )
        for entry, file in found.unlike
        if entry.charge_mAh is not None and file.charge_mAh is not None
    ]
    return found, notes


def _files(cell: Cell, rows: pa.Table | None, ledger: pa.Table) -> list[Source]:
    """One source for each plating file."""
    if rows is None or not rows.num_rows:
        return []
    absolute = {row["file"]: row["absolute_time"] == "yes" for row in ledger.to_pylist()}
    columns = arrays(rows)
    out = []
    for file in dict.fromkeys(columns["file"]):
        own = columns["file"] == file
        time_s = columns["time_s"][own]
        charge = plated_charge_mAh(
            time_s, columns["current_mA"][own], longest_gap_s=cell.cycling.longest_gap_s
        )
        out.append(Source(float(time_s[-1]) if absolute[file] else None, charge, str(file)))
    return out


def platings(cell: Cell, agreed: Agreed) -> tuple[Plating, ...]:
    """Platings on the cell's clock; from the first row where none is needed.

    A plating that can't be placed between the rows counts from the first row.
    """
    first_h = float(cell.record.time_s[0]) / SECONDS_PER_HOUR
    efficiency = cell.reference.plating_efficiency
    found = []
    for source in agreed.platings:
        placed = cell.zero_s is not None and source.time_s is not None
        time_h = (source.time_s - cell.zero_s) / SECONDS_PER_HOUR if placed else first_h  # type: ignore[operator]
        usable = source.charge_mAh * efficiency if source.charge_mAh else None
        found.append(
            Plating(
                time_h, usable, source.charge_mAh, known=True, file=source.file,
                logged=source.logged,
            )
        )  # fmt: skip
    if not cell.reference.plating_required and not any(p.time_h <= first_h for p in found):
        found.append(Plating(first_h))
    # Platings that can't be placed share the first row: the last one of them is the one that holds.
    return tuple(sorted({p.time_h: p for p in found}.values(), key=lambda p: p.time_h))


def plated_area_cm2(reference: Reference) -> float:
    """Surface that is plated: as declared, else of the mesh; NaN where neither is known [cm2]."""
    sizes = reference.disc_diameter_mm, reference.wire_width_um, reference.wire_pitch_um
    if reference.wire_area_cm2 is not None:
        return reference.wire_area_cm2
    if sizes[0] is None or sizes[1] is None or sizes[2] is None:
        return float("nan")
    return wire_area_cm2(disc_diameter_mm=sizes[0], wire_width_um=sizes[1], wire_pitch_um=sizes[2])


def deposits(cell: Cell, plated: tuple[Plating, ...], trust: TrustSpans) -> list[Deposit]:
    """What became of every known plating, in order of time."""
    given, record = cell.reference, cell.record
    last_h = float(record.time_s[-1]) / SECONDS_PER_HOUR
    known = [plating for plating in plated if plating.known]
    stops = [*(plating.time_h for plating in known), last_h][1:]
    none = float("nan")
    return [
        deposit(
            record.time_s,
            measured(cell, record),
            trust,
            plated_h=plating.time_h,
            stop_h=stop_h,
            charge_mAh=none if plating.charge_mAh is None else plating.charge_mAh,
            efficiency=given.plating_efficiency,
            area_cm2=plated_area_cm2(given),
            resistance_ohm=given.channel_resistance_ohm or none,
        )
        for plating, stop_h in zip(known, stops, strict=True)
    ]
