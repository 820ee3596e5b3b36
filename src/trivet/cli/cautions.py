"""What is not wrong with a campaign, but would leave results out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from trivet.campaign.paths import SETTINGS_FILE
from trivet.cli.without_data import first_few, patterns_of
from trivet.errors import printable
from trivet.rawfiles.layout.file_names import Pattern, nearest_misfit
from trivet.rawfiles.layout.pair_words import own_words
from trivet.rawfiles.reading.raw_read import plural
from trivet.reasons import AnchorKind
from trivet.schema.settings.anchors import chosen_anchor
from trivet.workflow.run import Workflow

_FOLDERS = 12
_LINES = 12
_MARK = re.compile(r"#\s*decide\b")


def cautions(work: Workflow, idle: Sequence[str]) -> Iterator[str]:
    """Patterns without files, files without a pattern, and an anchor that does not fit.

    Parameters
    ----------
    work : Workflow
        The campaign, its settings without fault.
    idle : sequence of str
        Files that no pattern takes.
    """
    raw = work.campaign.settings.raw
    found = {file.content for files in work.raw.values() for file in files}
    for content, entries in raw.by_content.items():
        if entries and content not in found:
            yield f"no file matches raw.{content}: {patterns_of(raw, content)}"
    yield from idle_lines(work, idle)
    yield from _open_comments(work)
    yield from _anchor(work)


def idle_lines(work: Workflow, idle: Sequence[str]) -> Iterator[str]:
    """Files that no pattern takes, counted by folder, with an example and where a pattern fails.

    Parameters
    ----------
    work : Workflow
        The campaign.
    idle : sequence of str
        The files, by path below the campaign.
    """
    raw = work.campaign.settings.raw
    patterns = [
        Pattern(content, entry, own_words(raw.layouts.get(entry.layout)))
        for content, entries in raw.by_content.items()
        for entry in entries
    ]
    cells = [cell.cell for cell in work.campaign.cells]
    folders: dict[str, list[str]] = {}
    for path in idle:
        folders.setdefault(path.rpartition("/")[0], []).append(path)
    for folder, paths in list(folders.items())[:_FOLDERS]:
        example = printable(paths[0].rpartition("/")[2])
        yield (
            f"{plural(len(paths), 'file')} in '{printable(folder)}' matched by no pattern and no "
            f"cell, such as '{example}'{_why(paths[0], patterns, cells)}"
        )
    others = [len(paths) for paths in list(folders.values())[_FOLDERS:]]
    if others:
        yield f"{sum(others)} more files in {len(others)} more folders matched by no pattern"


def _why(path: str, patterns: Sequence[Pattern], cells: Sequence[str]) -> str:
    """Which piece of the nearest pattern does not fit; empty where none fits at all."""
    near = nearest_misfit(path, patterns, cells)
    if near is None or len(near.fits) <= len(path.partition("/")[0]) + 1:
        return ""
    wanted = f"wants '{near.piece}'" if near.piece else "ends"
    rest = printable(near.rest)
    return f": '{near.pattern}' fits up to '{printable(near.fits)}' and {wanted} before '{rest}'"


def _open_comments(work: Workflow) -> Iterator[str]:
    """Lines of the settings that a comment marks as still to be decided."""
    lines = (work.folder / SETTINGS_FILE).read_text(encoding="utf-8").splitlines()
    marked = [str(at) for at, line in enumerate(lines, start=1) if _MARK.search(line)]
    if marked:
        named = first_few(marked, _LINES)
        yield f"{SETTINGS_FILE} has comments with 'decide' on line {named}; delete what is decided"


def _anchor(work: Workflow) -> Iterator[str]:
    """No known potential to hold a reference against."""
    settings = work.campaign.settings
    if settings.electrodes is None:
        return
    if chosen_anchor(settings.reference, settings.electrodes).kind is AnchorKind.NONE:
        yield (
            "no known potential is chosen: potentials against lithium stay unknown unless the "
            "bench log has 'reference checked'; what needs no known offset is shown"
        )
