"""Decisions made after something was reported that they bear on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trivet.campaign.register.differences import INCLUDED, Difference, differences
from trivet.campaign.register.entry import contrast_of
from trivet.reasons import Kept, Seen, Step
from trivet.schema.settings.block import BOTH
from trivet.schema.settings.marked import endpoints_of
from trivet.store.register_file import ISSUED, Entry

_DEFINES = ("comparison.factors", "comparison.primary_endpoint")
"""Settings that say which contrasts there are."""
_NOTHING_SEEN = "not estimable"
"""A verdict that tells nothing of the groups."""
_OF_EVENT: dict[str, tuple[str, ...]] = {
    "stopped": BOTH,
    "paused": BOTH,
    "resumed": BOTH,
    "removed": BOTH,
    "failed": BOTH,
    "plated": ("reference",),
    "re-plated": ("reference",),
    "contact fault": ("reference",),
    "reference checked": ("reference",),
    "leads exchanged": BOTH,
}
"""Endpoints that an event of the bench log may turn."""
Contrast = tuple[str, str, str, str]
"""Endpoint, factor, group, control."""


@dataclass(frozen=True)
class LateDecision:
    """A decision that bears on a contrast, made after something of it was reported.

    Attributes
    ----------
    contrast : tuple of str
        Endpoint, factor, group, control.
    difference : Difference
        What was decided otherwise, against the report that first told.
    seen : Seen
        What that report had told.
    reported : str
        The verdict or the cause of the end that it told.
    report : int
        Its number, from 1 on.
    """

    contrast: Contrast
    difference: Difference
    seen: Seen
    reported: str
    report: int


def late_decisions(entries: Sequence[Entry], now: Entry) -> list[LateDecision]:
    """Find what was decided otherwise since the verdict of a contrast was first reported.

    Parameters
    ----------
    entries : sequence of dict
        Reports issued before, the oldest first.
    now : dict
        The entry of the report that is made.

    Returns
    -------
    list of LateDecision
        By contrast of `now`. Where the end of the cell in question had been reported, that is
        said instead of the verdict. What was turned back since is none.
    """
    known = [differences(entry, now) for entry in entries]
    found = []
    for row in now["verdicts"]:
        mine: dict[object, LateDecision] = {}
        contrast = contrast_of(row)
        for late in _of_contrast(entries, now, contrast, known):
            what = late.difference
            mine.setdefault((what.kept, what.name, what.cell, what.time_s), late)
        found += sorted(mine.values(), key=lambda late: late.report)
    return found


def _of_contrast(
    entries: Sequence[Entry], now: Entry, contrast: Contrast, known: Sequence[list[Difference]]
) -> Iterator[LateDecision]:
    """Decisions on one contrast, those after the end of their cell first."""
    told: set[str] = set()
    for number, entry in enumerate(entries):
        ends = {end["cell"]: end for end in entry["ends"] if end["endpoint"] == contrast[0]}
        for what in known[number]:
            if what.cell in ends and what.cell not in told and _bears(what, contrast, entry, now):
                cause = ends[what.cell]["cause"]
                yield LateDecision(contrast, what, Seen.END, cause, number + 1)
        told |= set(ends)
    for number, entry in enumerate(entries):
        verdict, own = _verdict(entry, contrast)
        for what in known[number] if verdict else ():
            if _bears(what, contrast, entry, now) and (own or what.name in _DEFINES):
                yield LateDecision(contrast, what, Seen.VERDICT, verdict, number + 1)
        if own:
            return


def _verdict(entry: Entry, contrast: Contrast) -> tuple[str, bool]:
    """Verdict that an entry tells of a contrast, and True; else one of the same lives, and False.

    Where a report told only of other contrasts of these lives, a contrast made since was chosen
    with them in view.
    """
    told = [row for row in entry["verdicts"] if row["verdict"] != _NOTHING_SEEN]
    for row in told:
        if contrast_of(row) == contrast:
            return str(row["verdict"]), True
    alike = [str(row["verdict"]) for row in told if row["endpoint"] == contrast[0]]
    return (alike[0] if alike else ""), False


def _bears(what: Difference, contrast: Contrast, then: Entry, now: Entry) -> bool:
    """Whether something can turn the verdict of a contrast, and was not in the ordinary course."""
    endpoint, factor, group, control = contrast
    if what.kept is Kept.SETTINGS:
        return endpoint in endpoints_of(what.name)
    rows = [entry["cells"].get(what.cell, {}) for entry in (then, now)]
    if not {group, control} & {row.get(factor, "") for row in rows}:
        return False
    if what.kept is Kept.LOG:
        return endpoint in _OF_EVENT.get(what.name, ()) and not _ordinary(what, then)
    if not what.name:
        return what.step is Step.REMOVED
    return what.name in (INCLUDED, "batch", *then["columns"], *now["columns"])


def _ordinary(what: Difference, then: Entry) -> bool:
    """Whether an entry of the bench log is about what happened after the report's data cut."""
    cut_s = then["data_cut_s"]
    if what.step is not Step.ADDED:
        return False
    return cut_s is None or what.time_s is None or what.time_s > cut_s


def issued_on(entry: Entry) -> str:
    """Time of issue of an entry."""
    return str(entry[ISSUED])
