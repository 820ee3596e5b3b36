"""What differs between two states of settings, build sheet and bench log."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from trivet.reasons import Kept, Step
from trivet.store.register_file import Entry

EXCLUSION_REASON = "exclusion_reason"
INCLUDED = "included"


@dataclass(frozen=True)
class Difference:
    """One thing that people keep, and that is other than it was.

    Attributes
    ----------
    kept : Kept
        Where it stands.
    step : Step
        What became of it.
    name : str
        Dotted name of a setting, column of the sheet (empty: the whole row), event of the log.
    cell : str
        Cell id; empty for a setting.
    before, after : str
        Its values; empty where there was or is none.
    time_s : float or None
        Unix time of an entry of the bench log [s].
    why : str
        Reason of an exclusion, as the sheet states it.
    """

    kept: Kept
    step: Step
    name: str
    cell: str = ""
    before: str = ""
    after: str = ""
    time_s: float | None = None
    why: str = ""


def differences(before: Entry, after: Entry) -> list[Difference]:
    """Compare what two reports rest on.

    Parameters
    ----------
    before, after : dict
        Two entries, see `trivet.campaign.register.entry.entry_of`.

    Returns
    -------
    list of Difference
        Settings, then sheet, then log, each in the order of the later state. A setting that one
        of two versions of the program does not have is no difference.
    """
    return [
        *_settings(before, after),
        *_sheet(before["cells"], after["cells"]),
        *_log(before["log"], after["log"]),
    ]


def _settings(before: Entry, after: Entry) -> Iterator[Difference]:
    """Settings with another value."""
    then, now = before["settings"], after["settings"]
    same_version = before["version"] == after["version"]
    for name in dict.fromkeys((*now, *then)):
        if then.get(name) == now.get(name) or not (same_version or (name in then and name in now)):
            continue
        yield Difference(
            Kept.SETTINGS,
            _step(name in then, name in now),
            name,
            before=then.get(name, ""),
            after=now.get(name, ""),
        )


def _step(was: bool, stands: bool) -> Step:
    """What became of something."""
    if was and stands:
        return Step.CHANGED
    return Step.ADDED if stands else Step.REMOVED


def _sheet(
    then: Mapping[str, dict[str, str]], now: Mapping[str, dict[str, str]]
) -> Iterator[Difference]:
    """Rows and values of the build sheet."""
    for cell in dict.fromkeys((*now, *then)):
        was, stands = then.get(cell), now.get(cell)
        if was is None or stands is None:
            yield Difference(Kept.SHEET, _step(was is not None, stands is not None), "", cell)
            continue
        turned = was.get(INCLUDED) != stands.get(INCLUDED)
        for name in dict.fromkeys((*stands, *was)):
            if was.get(name) == stands.get(name) or (turned and name == EXCLUSION_REASON):
                continue
            yield Difference(
                Kept.SHEET,
                _step(name in was, name in stands),
                name,
                cell,
                was.get(name, ""),
                stands.get(name, ""),
                why=stands.get(EXCLUSION_REASON, "") if name == INCLUDED else "",
            )


def _log(then: list[dict[str, Any]], now: list[dict[str, Any]]) -> Iterator[Difference]:
    """Entries of the bench log; one is known by its cell, time and event."""
    was, stands = _by_key(then), _by_key(now)
    for key in dict.fromkeys((*stands, *was)):
        cell, time_s, event = key
        for old, new in zip_longest(was.get(key, ()), stands.get(key, ())):
            if old == new:
                continue
            yield Difference(
                Kept.LOG,
                _step(old is not None, new is not None),
                event,
                cell,
                old or "",
                new or "",
                time_s,
            )


def _by_key(rows: list[dict[str, Any]]) -> dict[tuple[str, float, str], list[str]]:
    """What entries say, by cell, time and event, in a fixed order."""
    found: dict[tuple[str, float, str], list[str]] = {}
    for row in rows:
        key = (row["cell"], float(row["time_s"]), row["event"])
        found.setdefault(key, []).append(row["says"])
    return {key: sorted(says) for key, says in sorted(found.items())}
