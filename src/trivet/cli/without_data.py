"""What would leave a cell without data: every cause by its name, and whom it concerns."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence

from trivet.campaign.paths import SETTINGS_FILE
from trivet.cli.dry_read import CellRead
from trivet.errors import Problem
from trivet.rawfiles.layout.file_names import composed, pattern_regex
from trivet.rawfiles.layout.pair_words import meant_pair, own_words
from trivet.rawfiles.layout.patterns import raw_folders_files
from trivet.schema.findings.finding import Finding
from trivet.schema.settings.raw import Raw
from trivet.schema.tables.impedance import PAIRS
from trivet.workflow.run import Workflow

PAIR_HINT = (
    "List other words for pairs under 'pair_words' of the layout, or give one line a pair, "
    "each with 'pair:'."
)
_ENDINGS = ("failed", "stopped", "removed")
"""Entries of the bench log after which a cell need not have any data."""
_LOOKED_AT = 500
"""Files without a pattern that are held against the patterns with other words for pairs."""


def idle_files(work: Workflow) -> list[str]:
    """Files in the raw folders that no pattern takes for any cell, by path below the campaign."""
    used = {file.relative for files in work.raw.values() for file in files}
    raw = work.campaign.settings.raw
    found = raw_folders_files(work.folder, raw)
    paths = (path.relative_to(work.folder).as_posix() for path in found)
    return [path for path in paths if path not in used]


def excused(cells: Sequence[CellRead]) -> dict[str, str]:
    """Cells that need not have data, with what build sheet or bench log say of them.

    Parameters
    ----------
    cells : sequence of CellRead
        All cells.
    """
    begun = any(cell.facts.cycling_started_s is not None for cell in cells)
    why = {}
    for facts in (cell.facts for cell in cells):
        ended = next((entry.event for entry in facts.log if entry.event in _ENDINGS), "")
        if not facts.included:
            why[facts.cell] = f"excluded: {facts.exclusion_reason}"
        elif ended:
            why[facts.cell] = f"{ended} in the bench log"
        elif begun and facts.cycling_started_s is None:
            why[facts.cell] = "no 'cycling_started_at' in the build sheet"
    return why


def causes(work: Workflow, cells: Sequence[CellRead], idle: Sequence[str]) -> list[Problem]:
    """Everything that would leave a cell without cycling data, or without its spectra.

    Parameters
    ----------
    work : Workflow
        The campaign.
    cells : sequence of CellRead
        What its raw files say.
    idle : sequence of str
        Files that no pattern takes.

    Returns
    -------
    list of Problem
        The place is the cell, or several that share one cause.
    """
    raw = work.campaign.settings.raw
    words = _unknown_pairs(raw, [cell.facts.cell for cell in cells], idle)
    free, cut = excused(cells), work.campaign.settings.campaign.data_cut is not None
    shared: dict[str, list[tuple[str, str]]] = {}
    for cell in cells:
        name = cell.facts.cell
        found = [*_of_files(cell, "cycling", cut=cut), *_of_files(cell, "impedance", cut=cut)]
        if name not in free and not cell.has("cycling"):
            found.append((_no_cycling(cell, raw, idle), ""))
        if name in words:
            found.append((words[name], PAIR_HINT))
        for message, hint in dict(found).items():
            shared.setdefault(message, []).append((name, hint))
    problems = [
        Problem(", ".join(name for name, _ in whose), message, hint=whose[0][1])
        for message, whose in shared.items()
    ]
    spectra = any(cell.has("impedance") for cell in cells)
    if raw.impedance and idle and not spectra and not words:
        message = f"no file matches raw.impedance: {patterns_of(raw, 'impedance')}; there are "
        message += f"{_listed(idle)} that no pattern takes."
        problems.append(Problem(SETTINGS_FILE, message))
    return problems


def _of_files(cell: CellRead, content: str, *, cut: bool) -> list[tuple[str, str]]:
    """Why a cell's files of a content give no row, and where; empty where they do, or are none.

    Rows after a data cut count as not written yet, which is no fault.
    """
    if content in cell.used or not cell.has(content):
        return []
    names = {file.relative for file in cell.files if file.content == content}
    faults = [one for one in cell.findings if one.severity == "fault" and one.file in names]
    if faults:
        return [(f"{one.message}.", _place(one)) for one in reversed(faults)]
    if cut and not cell.aside:
        return []
    reasons = ", ".join(f"{reason}: {count} rows" for reason, count in cell.aside.items())
    because = f" ({reasons})" if reasons else ""
    return [(f"no row of its {len(names)} {content} files can be used{because}.", "")]


def _place(fault: Finding) -> str:
    """Where a fault is seen, where its message does not name the file."""
    if fault.file in fault.message:
        return ""
    return f"See {fault.file}{'' if fault.line is None else f', line {fault.line}'}."


def _no_cycling(cell: CellRead, raw: Raw, idle: Sequence[str]) -> str:
    """Say that no cycling file is found for a cell, and which may be meant."""
    spectra = "has spectra, but " if cell.has("impedance") else ""
    message = f"{spectra}no cycling file: none matches {patterns_of(raw, 'cycling')}."
    own = _plain(cell.facts.cell)
    near = [path for path in idle if own in _plain(path.rpartition("/")[2])]
    return f"{message} Is {_listed(near)} meant?" if near else message


def _plain(text: str) -> str:
    """Letters and digits of a name, in small letters."""
    return re.sub(r"[\W_]+", "", unicodedata.normalize("NFKC", text)).casefold()


def _unknown_pairs(raw: Raw, cells: Sequence[str], idle: Sequence[str]) -> dict[str, str]:
    """By cell, the words that stand in names of files where the pair should."""
    found: dict[str, dict[str, str]] = {}
    for entry in (entry for entry in raw.impedance if "{pair}" in entry.files):
        own = own_words(raw.layouts.get(entry.layout))
        for cell in cells:
            regex = pattern_regex(composed(entry.files), cell, any_pair=True)
            for path in idle[:_LOOKED_AT]:
                match = regex.fullmatch(composed(path))
                if match and not meant_pair(match["pair"], own):
                    found.setdefault(cell, {}).setdefault(match["pair"], path)
    return {
        cell: f"names of its files have {', '.join(map(repr, words))} where {{pair}} stands "
        f"({next(iter(words.values()))}), which is none of {', '.join(PAIRS)}."
        for cell, words in found.items()
    }


def patterns_of(raw: Raw, content: str) -> str:
    """Patterns of a content, for a message."""
    return ", ".join(f"'{entry.files}'" for entry in raw.by_content[content])


def first_few(names: Sequence[str], most: int = 3) -> str:
    """Give the first names, and how many more there are."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def _listed(paths: Sequence[str]) -> str:
    """A few paths, each in quotes."""
    return first_few([f"'{path}'" for path in paths])


def unlooked(cells: Sequence[CellRead], content: str) -> Iterator[str]:
    """Cells that have no file of a content, though others have."""
    if any(cell.has(content) for cell in cells):
        yield from (cell.facts.cell for cell in cells if not cell.has(content))
