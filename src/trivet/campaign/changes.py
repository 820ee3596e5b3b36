"""What changed between two data cuts of the same raw files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from trivet.reasons import Censored

Row = Mapping[str, Any]
Change = dict[str, str]


def changes(
    before: Mapping[str, Sequence[Row]], after: Mapping[str, Sequence[Row]], *, clock: str
) -> list[Change]:
    """Compare two states of a campaign.

    Parameters
    ----------
    before, after : mapping of str to sequence of rows
        Rows of lifetimes, timeline, comparisons and findings at each data cut.
    clock : str
        Clock whose verdicts are compared, `hours` or `cycles`.

    Returns
    -------
    list of dict
        Rows of the table `changes`: lives, trust of references, verdicts, kinds of findings.
    """
    return [
        *_lives(_ends(before["lifetimes"]), _ends(after["lifetimes"])),
        *_trust(_last_states(before["timeline"]), _last_states(after["timeline"])),
        *_verdicts(before["comparisons"], after["comparisons"], clock),
        *_findings(before["findings"], after["findings"]),
    ]


def _change(what: str, before: str, after: str, **about: str) -> Change:
    """One row; what is not meant stays empty."""
    empty = {"cell": "", "endpoint": "", "contrast": ""}
    return {"what": what, **empty, **about, "before": before, "after": after}


def _ends(rows: Sequence[Row]) -> dict[tuple[str, str], Row]:
    """Lives in hours by cell and endpoint."""
    return {(r["cell"], r["endpoint"]): r for r in rows if r["clock"] == "hours"}


def _life_words(row: Row | None) -> str:
    """State of a life."""
    if row is None:
        return ""
    if row["observed"]:
        return f"ended: {row['cause']} at {row['duration']:.1f} h"
    return str(row["censored_because"])


def _lives(before: Mapping[Any, Row], after: Mapping[Any, Row]) -> list[Change]:
    """Lives that ended, were censored otherwise, or are judged otherwise."""
    found = []
    for (cell, endpoint), now in after.items():
        then = before.get((cell, endpoint))
        what = _what_happened(then, now)
        if what:
            about = {"cell": cell, "endpoint": endpoint}
            found.append(_change(what, _life_words(then), _life_words(now), **about))
    return found


def _what_happened(then: Row | None, now: Row) -> str:
    """Name of the change of one life; empty where there is none."""
    was_seen = then is not None and bool(then["observed"])
    if now["observed"] or was_seen:
        if now["observed"] and not was_seen:
            return "event"
        if not now["observed"]:
            return "event withdrawn"
        moved = then is not None and then["duration"] != now["duration"]
        return "cause" if moved or (then and then["cause"] != now["cause"]) else ""
    reason = "" if then is None else then["censored_because"]
    if reason == now["censored_because"]:
        return ""
    return "start" if reason in ("", Censored.NO_DATA, Censored.NO_CHECK) else "censoring"


def _last_states(rows: Sequence[Row]) -> dict[str, str]:
    """Last state of the reference of each cell."""
    own = [row for row in rows if row["track"] == "reference"]
    return {r["cell"]: str(r["state"]) for r in sorted(own, key=lambda row: row["start_h"])}


def _trust(before: Mapping[str, str], after: Mapping[str, str]) -> list[Change]:
    """References whose last state is another one."""
    return [
        _change("trust", before.get(cell, ""), state, cell=cell, endpoint="reference")
        for cell, state in after.items()
        if before.get(cell, "") != state
    ]


def _contrasts(rows: Sequence[Row], clock: str) -> dict[tuple[str, str], str]:
    """Verdicts by endpoint and contrast."""
    return {
        (r["endpoint"], f"{r['factor']}: {r['group']} against {r['control']}"): r["verdict"]
        for r in rows
        if r["clock"] == clock and r["verdict"]
    }


def _verdicts(before: Sequence[Row], after: Sequence[Row], clock: str) -> list[Change]:
    """Contrasts whose verdict is another one."""
    then = _contrasts(before, clock)
    return [
        _change("verdict", then.get(key, ""), now, endpoint=key[0], contrast=key[1])
        for key, now in _contrasts(after, clock).items()
        if then.get(key, "") != now
    ]


def _findings(before: Sequence[Row], after: Sequence[Row]) -> list[Change]:
    """Kinds of findings that a cell did not have at the earlier cut."""
    known = {(r["cell"], r["check"], r["severity"]) for r in before}
    new = dict.fromkeys((r["cell"], r["check"], r["severity"]) for r in after)
    return [
        _change("finding", "", f"{check} ({severity})", cell=cell)
        for cell, check, severity in new
        if (cell, check, severity) not in known
    ]
