"""What is not wrong with a campaign, but would leave results out."""

from __future__ import annotations

from collections.abc import Iterator

from trivet.cli.without_data import idle_files
from trivet.reasons import AnchorKind
from trivet.schema.settings.anchors import chosen_anchor
from trivet.workflow.run import Workflow

_NAMED = 3


def cautions(work: Workflow) -> Iterator[str]:
    """Patterns without files, files without a pattern, and an anchor that does not fit.

    Parameters
    ----------
    work : Workflow
        The campaign, its settings without fault.
    """
    raw = work.campaign.settings.raw
    found = {file.content for files in work.raw.values() for file in files}
    for content, entries in raw.by_content.items():
        if entries and content not in found:
            patterns = ", ".join(f"'{entry.files}'" for entry in entries)
            yield f"no file matches raw.{content}: {patterns}"
    idle = idle_files(work)
    if idle:
        named = ", ".join(idle[:_NAMED]) + (" ..." if len(idle) > _NAMED else "")
        yield f"{len(idle)} files beside them are matched by no pattern and no cell: {named}"
    yield from _anchor(work)


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
