"""What is not wrong with a campaign, but would leave results out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trivet.cli.without_data import first_few, patterns_of
from trivet.reasons import AnchorKind
from trivet.schema.settings.anchors import chosen_anchor
from trivet.workflow.run import Workflow


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
    if idle:
        named = first_few(idle)
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
