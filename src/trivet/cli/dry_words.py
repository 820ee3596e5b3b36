"""What a dry read found, in words for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from trivet.cli.dry_read import CellRead
from trivet.cli.without_data import excused, first_few, unlooked
from trivet.rawfiles.reading.excerpt import WHOLE_BYTES
from trivet.rawfiles.reading.raw_read import plural
from trivet.schema.cell_facts import LEADS_EXCHANGED
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.campaign import Settings

_CELLS_NAMED = 12
_BEYOND_V = 0.02
"""So far beyond its limits a voltage may be read; common practice, no source."""


def dry_lines(cells: Sequence[CellRead], settings: Settings) -> Iterator[str]:
    """Lines on what the raw files say: columns, every cell, what was noticed.

    Parameters
    ----------
    cells : sequence of CellRead
        What the raw files of all cells say.
    settings : Settings
        Settings of the campaign.
    """
    cut = any(cell.excerpts for cell in cells)
    how = f" (of files over {WHOLE_BYTES / 1e6:g} MB head and tail; --all reads all)" if cut else ""
    yield f"What the files say{how}:"
    yield from _columns(cells)
    zone = ZoneInfo(settings.campaign.time_zone)
    for cell in cells:
        if cell.files:
            yield f"  {cell.facts.cell}: {_of_cell(cell, settings, zone)}"
            if cell.aside:
                reasons = ", ".join(f"{why} {count}" for why, count in cell.aside.items())
                count = sum(cell.aside.values())
                yield f"    would be set aside: {plural(count, 'row')} ({reasons})"
    yield from _noticed(cells)
    yield from _turned(cells)
    free = excused(cells)
    for cell in cells:
        if not cell.files and (why := free.get(cell.facts.cell)):
            yield f"  {cell.facts.cell}: no raw file; {why}"
    if without := list(unlooked(cells, "impedance")):
        yield f"  cells without spectra: {_named(without)}"


def _columns(cells: Sequence[CellRead]) -> Iterator[str]:
    """Which column was taken for which quantity, and in which cells."""
    where: dict[tuple[str, str], list[str]] = {}
    for cell in cells:
        for taken in cell.taken:
            where.setdefault(taken, []).append(cell.facts.cell)
    for (layout, columns), names in where.items():
        yield f"  layout '{layout}' ({_named(names)}): {columns}"


def _of_cell(cell: CellRead, settings: Settings, zone: ZoneInfo) -> str:
    """One cell in a line."""
    files = sum(file.content == "cycling" for file in cell.files)
    parts = []
    if cell.has("cycling"):
        part = "head and tail of " if cell.excerpts else ""
        parts.append(f"{part}{plural(files, 'cycling file')}, {plural(cell.rows, 'row')}")
    if cell.times_s is not None:
        first, last = (_time(value, cell, zone) for value in cell.times_s)
        parts.append(f"{first} to {last}")
    if cell.voltage_V is not None:
        parts.append(_voltage(cell.voltage_V, cell.driven_V or cell.voltage_V, settings))
    if cell.current_mA is not None:
        low, high = cell.current_mA
        rate = max(abs(low), abs(high)) / settings.cycling.capacity_basis_mAh
        parts.append(f"{low:.4g} to {high:.4g} mA (up to {rate:.2g} C)")
        parts.append(_sign(cell))
    if cell.has("impedance"):
        each = ", ".join(f"{pair} {count}" for pair, count in cell.spectra.items())
        parts.append(f"spectra: {each or 'none that can be used'}")
    return "; ".join(parts)


def _time(value: float, cell: CellRead, zone: ZoneInfo) -> str:
    """A time of the calendar, or hours since the first row."""
    if not cell.absolute:
        return f"{value / 3600.0:.4g} h"
    return datetime.fromtimestamp(value, zone).strftime("%Y-%m-%d %H:%M")


def _voltage(span_V: tuple[float, float], driven_V: tuple[float, float], settings: Settings) -> str:
    """Range of the cell voltage; what is driven beyond its limits is said, a rest may lie there."""
    lower, upper = settings.cycling.lower_voltage_V, settings.cycling.upper_voltage_V
    beyond = []
    if driven_V[0] < lower - _BEYOND_V:
        beyond.append(f"discharged {lower - driven_V[0]:.3f} V below")
    if driven_V[1] > upper + _BEYOND_V:
        beyond.append(f"charged {driven_V[1] - upper:.3f} V above")
    verdict = " and ".join(beyond)
    limits = f"{verdict} its limits of" if verdict else "limits"
    return f"{span_V[0]:.4g} to {span_V[1]:.4g} V ({limits} {lower:g} to {upper:g} V)"


def _sign(cell: CellRead) -> str:
    """What the sign of the current rests on."""
    agreeing, against = cell.proof_mAh
    if not agreeing and not against:
        return "sign of current as declared, not proved"
    return f"sign of current proved by the voltage ({agreeing:.4g} mAh for it, {against:.4g} not)"


def _noticed(cells: Sequence[CellRead]) -> Iterator[str]:
    """What was noticed, one line a check."""
    by_check: dict[tuple[str, str], list[Finding]] = {}
    for cell in cells:
        names = {file.relative for file in cell.files if file.content not in cell.used}
        for one in cell.findings:
            # The others are causes, which are said behind everything else.
            if one.severity != "fault" or one.file not in names:
                by_check.setdefault((one.severity, one.check), []).append(one)
    for severity in ("fault", "caution", "note"):
        for (found, check), findings in by_check.items():
            if found == severity:
                whose = list(dict.fromkeys(one.cell for one in findings))
                others = len({(one.message, one.file) for one in findings}) - 1
                more = f" (and {others} more of the kind)" if others else ""
                yield f"  {severity}, {check} ({_named(whose)}): {_told(findings[0])}{more}"


def _turned(cells: Sequence[CellRead]) -> Iterator[str]:
    """Cells whose potentials are exchanged, and whose bench log does not say so."""
    whose = [cell.facts.cell for cell in cells if cell.exchanged and not cell.facts.leads_exchanged]
    if whose:
        yield (
            f"  caution, potentials exchanged ({_named(whose)}): the negative less the positive "
            f"potential is the cell voltage; if the leads were exchanged, write "
            f"'{LEADS_EXCHANGED}' in the bench log, which turns spectra too; else declare the "
            "two columns the other way round"
        )


def _told(finding: Finding) -> str:
    """One finding with its place and what is done about it."""
    line = "" if finding.line is None else f", line {finding.line}"
    named = (
        f"{finding.file}{line}: " if finding.file and finding.file not in finding.message else ""
    )
    done = f"; {finding.action}" if finding.action != "none" else ""
    return f"{named}{finding.message}{done}"


def _named(names: Sequence[str]) -> str:
    """Cells by name, the first of many."""
    return first_few(names, _CELLS_NAMED)
