"""Findings of the stage cycling in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from trivet.reasons import AnchorKind
from trivet.reference_checks import CHECKS, CheckEntry, ReferenceCheck
from trivet.schema.findings.finding import Finding, Severity
from trivet.schema.settings.science import Reference


@dataclass(frozen=True)
class BadCheck:
    """A reference check beyond a limit: when [h], value, unit, limit, trust that follows."""

    time_h: float
    check: ReferenceCheck
    value: float
    unit: str
    limit: float
    trust: str


def hours_from_first_row(cell: str) -> Finding:
    """Say that the hours of a cell count from its first row."""
    return Finding(
        cell,
        "start of the hours",
        "caution",
        "The rows can't be placed after the cell's clock start (no calendar time, or no start in "
        "the build sheet); hours count from the first row, and so does a plating that can't be "
        "placed either.",
        "hours from the first row",
    )


def first_half_open(cell: str, *, charging: bool) -> Finding:
    """Say that the first cycle does not count since its beginning is not in the rows."""
    what = "charge" if charging else "discharge"
    return Finding(
        cell,
        "beginning of the first cycle",
        "caution",
        f"The first row already carries current, and nothing shows that the {what} began there: "
        "it starts at no voltage limit, no time says that the cell was fresh, and it does not "
        "start where later charges start. Its cycle is partial, has no efficiency, and later "
        "cycles are compared with the next complete one. An export from the start of the test, or "
        "the file before this one, would settle it.",
        "first cycle partial",
    )


def first_half_taken(cell: str, *, how: str) -> Finding:
    """Say by what the first cycle counts though no row before it is without current."""
    return Finding(
        cell,
        "beginning of the first cycle",
        "note",
        "The first row already carries current; the first half-cycle counts as seen from its "
        f"beginning: {how}.",
        "first cycle kept",
    )


def moved_rows(cell: str, *, count: int) -> Finding:
    """Say that rows of one time were put in order."""
    return Finding(
        cell,
        "order of rows",
        "note",
        f"{count} row(s) at a switch of the current stood in another order within one time; they "
        "were ordered by how the current goes on from the rows around them.",
        "rows ordered",
        value=float(count),
        unit="1",
    )


def gaps(cell: str, *, count: int, total_h: float, limit_s: float, halves: int) -> Finding:
    """Say what longer gaps in the rows left out."""
    touched = (
        f"in {halves} half-cycle(s) current flowed into a gap: their cycles count as partial"
        if halves
        else "no half-cycle lost charge to them"
    )
    return Finding(
        cell,
        "gap",
        "caution" if halves else "note",
        f"{count} gap(s) longer than {limit_s:g} s in the rows, {total_h:.2f} h together; "
        f"{touched}.",
        "not integrated across",
        value=total_h,
        limit=limit_s / 3600.0,
        unit="h",
    )


def missing_values(cell: str, *, what: str, count: int, action: str) -> Finding:
    """Say that rows lack a value."""
    return Finding(
        cell,
        f"missing {what}",
        "caution",
        f"{count} row(s) have no {what}; nothing was put in their place.",
        action,
        value=float(count),
        unit="1",
    )


def open_switches(cell: str, *, halves: int, worst_share: float, limit: float) -> Finding:
    """Say how much charge is open for want of rows at switches of the current."""
    return Finding(
        cell,
        "rows missing at a switch",
        "caution",
        f"{halves} half-cycle(s) lack a row at the moment the current was switched; their charge "
        f"is known to within {100 * worst_share:.2f} % at worst.",
        "current taken as a straight line between the rows",
        value=worst_share,
        limit=limit,
        unit="1",
    )


def stated_capacities(cell: str, *, count: int) -> Finding:
    """Say that the cycles of a cell come from capacities that a raw file states."""
    return Finding(
        cell,
        "stated capacities",
        "note",
        f"No rows to integrate: {count} cycles have the capacity that a raw file states, and no "
        "times; retention is against the first of them.",
        "taken as ageing cycles, whole",
    )


def no_electrodes(cell: str) -> Finding:
    """Say that only the cell voltage was measured."""
    return Finding(
        cell,
        "electrode potentials",
        "note",
        "Only the cell voltage was measured: no results of electrodes and reference.",
        "none",
    )


def closure_not_testable(cell: str, *, derived: str) -> Finding:
    """Say that closure says nothing where one voltage was derived."""
    return Finding(
        cell,
        "closure",
        "note",
        f"Closure is not testable: {derived} was derived from the other two.",
        "none",
    )


def wrong_leads(cell: str, *, fault: str, reason: str, when: str) -> Finding:
    """Propose, not apply, to exchange leads or to turn the sign of a potential.

    `when` is the time of the line that would mend exchanged leads, as the bench log writes it.
    """
    action = "values of electrodes withheld; nothing was "
    if fault == "exchanged":
        return Finding(
            cell,
            "swapped leads",
            "fault",
            f"The leads of positive and negative look exchanged: {reason}. If so, this line in the "
            f"bench log (columns time, cell, event) puts right all rows and spectra of the cell: "
            f"{when},{cell},leads exchanged",
            action + "exchanged",
        )
    return Finding(
        cell,
        "reversed lead",
        "fault",
        f"Leads look reversed ({fault}): {reason}. If so, correct the channel, or have the sign "
        "turned when the file is exported.",
        action + "turned",
    )


def leads_turned(cell: str) -> Finding:
    """Say that a line of the bench log turned the leads of a cell."""
    return Finding(
        cell,
        "swapped leads",
        "note",
        "The bench log says that the leads of positive and negative were exchanged.",
        "potentials of all rows and pairs of all spectra exchanged",
    )


def deposition(cell: str, *, cycles: Sequence[int], lowest_V: float) -> Finding:
    """Say that lithium could have deposited on the negative."""
    return Finding(
        cell,
        "lithium deposition",
        "caution",
        f"The negative went below 0 V against lithium in {len(cycles)} cycle(s), first in cycle "
        f"{min(cycles)}, down to {1000.0 * lowest_V:.1f} mV: lithium deposition was possible, "
        "which does not prove it.",
        "none",
        value=lowest_V,
        limit=0.0,
        unit="V",
    )


def no_anchor(cell: str, *, why: str, named: bool) -> Finding:
    """Say that no check could give trust: no anchor is named, or it was never seen."""
    return Finding(
        cell,
        "anchor not seen" if named else "no anchor",
        "caution",
        f"The reference could not be held against a known potential: {why}.",
        "trust unknown, absolute potentials of electrodes withheld; differences within a cycle, "
        "shapes and impedances stay",
    )


def rest_needed(reference: Reference, kind: AnchorKind) -> str:
    """Say what the anchor needs, where nothing was of that kind."""
    if kind is AnchorKind.GRAPHITE_PLATEAU:
        return (
            f"no complete slow cycle shows the plateau of graphite, which the anchor '{kind}' needs"
        )
    share = ""
    if kind is AnchorKind.POSITIVE_PLATEAU:
        share = (
            f" between {reference.anchor_state_of_charge_from:g} and "
            f"{reference.anchor_state_of_charge_to:g} of the charge"
        )
    return (
        f"no rest of {reference.anchor_rest_s:g} s or more{share}, which the setting "
        f"reference.anchor ({kind}) needs"
    )


def plating_not_logged(cell: str, *, file: str, placed: bool) -> Finding:
    """Say that a plating file has no entry in the log; without calendar time it can't count."""
    return Finding(
        cell,
        "plating not logged",
        "note" if placed else "caution",
        "The bench log has no entry for the plating that this file shows"
        + ("." if placed else ", and the file has no calendar time."),
        "plating counted from the end of the file" if placed else "file not used: log the plating",
        file=file,
    )


def plating_unlike(cell: str, *, file: str, log_mAh: float, file_mAh: float) -> Finding:
    """Say that bench log and file state unlike charges of one plating."""
    return Finding(
        cell,
        "plating charge",
        "caution",
        f"The bench log states {log_mAh:.4g} mAh for this plating, its file gives "
        f"{file_mAh:.4g} mAh.",
        "charge of the bench log used",
        file=file,
        value=file_mAh,
        limit=log_mAh,
        unit="mAh",
    )


def not_plated(cell: str) -> Finding:
    """Say that neither the bench log nor a file has a plating."""
    return Finding(
        cell,
        "not plated",
        "caution",
        "Neither the bench log nor a file has a plating of this cell's reference.",
        "values of electrodes withheld",
    )


def bad_checks(cell: str, checks: Sequence[BadCheck]) -> list[Finding]:
    """One finding for each check and outcome: the first time, how often, the worst value."""
    out = []
    for name, entry in CHECKS.items():
        if not entry.words:
            continue
        for trust in ("suspect", "lost"):
            mine = [check for check in checks if check.check == name and check.trust == trust]
            if mine:
                out.append(_bad(cell, entry, mine))
    return out


def _bad(cell: str, entry: CheckEntry, checks: Sequence[BadCheck]) -> Finding:
    """Checks of one name and outcome as one finding."""
    first = min(checks, key=lambda check: check.time_h)
    words, falls = entry.words, entry.falls
    pick = min if falls else max
    worst = pick(checks, key=lambda check: check.value if falls else abs(check.value))
    severity: Severity = "fault" if first.trust == "lost" else "caution"
    often = "once" if len(checks) == 1 else f"{len(checks)} times"
    side: Literal["below", "beyond"] = "below" if falls else "beyond"
    return Finding(
        cell,
        words,
        severity,
        f"{words[0].upper()}{words[1:]} {side} its limit {often}, first at {first.time_h:.1f} h, "
        f"at worst {worst.value:.4g} {worst.unit} (limit {worst.limit:g} {worst.unit}): reference "
        f"{first.trust}.",
        "values that need it withheld, by purpose: see the table fitness",
        value=worst.value,
        limit=worst.limit,
        unit=worst.unit,
    )
