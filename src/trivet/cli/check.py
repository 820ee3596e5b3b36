"""`trivet check`: a dry read. What a run would be made of, or everything that is wrong with it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from trivet.cli.cautions import cautions
from trivet.cli.dry_read import read_dry
from trivet.cli.dry_words import dry_lines
from trivet.cli.plan_words import plan_lines
from trivet.cli.without_data import causes, idle_files
from trivet.errors import Problem
from trivet.rawfiles.layout.patterns import RawFile
from trivet.reasons import STATED_REASONS, AnchorKind
from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.anchors import allowed_words, chosen_anchor
from trivet.schema.settings.campaign import Settings
from trivet.workflow.plan_power import power_of_plan
from trivet.workflow.run import Workflow

_RIGHT = "Nothing is wrong."
_STOPS = ("stopped", "removed", "paused")
_FAULTY = "Every cell has data, but not all of its files or rows: see the faults above."


def check(folder: Path, *, whole: bool = False) -> tuple[str, list[Problem]]:
    """Check a campaign folder as a run does, and read its raw files as a run does.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    whole : bool
        Whether large cycling files are read whole, in place of their head and tail.

    Returns
    -------
    str
        What was found, for the terminal.
    list of Problem
        Everything that would leave a cell without data.

    Raises
    ------
    InputError
        With every problem of settings, build sheet, bench log and raw files.
    """
    work = Workflow({"campaign": folder}, folder)
    campaign, settings = work.campaign, work.campaign.settings
    included = sum(cell.included for cell in campaign.cells)
    batches = Counter(cell.batch for cell in campaign.cells)
    lines = [
        f"{settings.campaign.title} ({settings.campaign.id})",
        f"  cells: {len(campaign.cells)}, of which {included} count in the statistics",
        f"  batches: {_counts(batches)}",
    ]
    for factor in settings.build_sheet.factors:
        lines.append(f"  {factor}: {_counts(Counter(c.values[factor] for c in campaign.cells))}")
    lines += _log_lines(campaign.cells, settings.bench_log.file)
    lines += plan_lines(power_of_plan(campaign), settings.comparison)
    for one in settings.comparison.earlier:
        lines.append(f"  earlier campaign {one.name}: {one.table or one.archive}")
    if work.from_table:
        lines.append(f"  lives from the table {settings.lifetime.table}")
        return "\n".join([*lines, _RIGHT]), []
    lines += _raw_lines(work.raw)
    lines += _anchor_lines(settings)
    idle = idle_files(work)
    lines += [f"  caution: {text}" for text in cautions(work, idle)]
    cells = list(read_dry(work, whole=whole))
    lines += dry_lines(cells, settings)
    problems = causes(work, cells, idle)
    faulty = any(one.severity == "fault" for cell in cells for one in cell.findings)
    last = [] if problems else [_FAULTY if faulty else _RIGHT]
    return "\n".join([*lines, *last]), problems


def _log_lines(cells: Sequence[CellFacts], file: str | None) -> list[str]:
    """How often each event was heard, with causes and reasons, and which stop has none."""
    if file is None:
        return ["  bench log: none"]
    entries = [entry for facts in cells for entry in facts.log]
    if not entries:
        return ["  bench log: no entry"]
    events = Counter(entry.event for entry in entries)
    more = {
        event: Counter(
            entry.cause or entry.reason
            for entry in entries
            if entry.event == event and (entry.cause or entry.reason)
        )
        for event in events
    }
    heard = ", ".join(
        f"{event} {number}{_within(more[event])}" for event, number in events.most_common()
    )
    without = [
        f"{entry.cell} (line {entry.line})"
        for facts in cells
        for entry in _standing(facts.log)
        if not entry.reason
    ]
    lines = [f"  bench log: {heard}"]
    if without:
        lines.append(
            f"  caution: the bench log gives no reason for the stop of {', '.join(without)}, so "
            "that verdicts must hold whatever became of them. Reasons: "
            f"{', '.join(STATED_REASONS)}."
        )
    return lines


def _standing(log: Sequence[LogEntry]) -> list[LogEntry]:
    """Stops, removals and pauses of a cell that no later entry takes back."""
    resumed_s = max((entry.time_s for entry in log if entry.event == "resumed"), default=-math.inf)
    return [entry for entry in log if entry.event in _STOPS and entry.time_s >= resumed_s]


def _within(words: Counter[str]) -> str:
    """How often which cause or reason was given, in brackets; empty where none was."""
    told = ", ".join(f"{word} {number}" for word, number in words.items())
    return f" ({told})" if told else ""


def _raw_lines(raw: dict[str, list[RawFile]]) -> list[str]:
    """How many raw files there are."""
    files = {file.relative: file.content for found in raw.values() for file in found}
    return [f"  raw files: {_counts(Counter(files.values()))}"]


def _anchor_lines(settings: Settings) -> list[str]:
    """Which known potential the references are held against, and which the materials allow."""
    if settings.electrodes is None:
        return []
    chosen = chosen_anchor(settings.reference, settings.electrodes)
    held = ""
    if chosen.kind is not AnchorKind.NONE:
        held = (
            f" '{chosen.kind}' holds, at {chosen.potential_V:g} V with a standard uncertainty of "
            f"{chosen.uncertainty_mV:g} mV."
        )
    return [f"  known potential of the reference:{held} {allowed_words(settings.electrodes)}"]


def _counts(counter: Counter[str]) -> str:
    """Counts in words, in the order of first sight."""
    return ", ".join(f"{name} {count}" for name, count in counter.items())
