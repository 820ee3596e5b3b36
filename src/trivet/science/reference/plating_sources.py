"""Which platings of a reference there were, from the bench log and from files of their current."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trivet.science.cycling.integrals import Floats, charge_mAh
from trivet.science.lives.cell_life import BenchEvent

SAME_PLATING_S = 86_400.0
"""A file that ends within this of an entry of the log shows the same plating; common practice,
no source."""

UNLIKE_SHARE = 0.05
"""Charges of log and file that differ by more than this share are told; common practice, no
source."""


@dataclass(frozen=True)
class Source:
    """What one source says of a plating.

    Attributes
    ----------
    time_s : float or None
        Unix time, for a file of its end [s]; None where unknown.
    charge_mAh : float or None
        Charge passed [mAh]; None where unknown.
    file : str
        The file; empty for the bench log.
    logged : bool
        Whether the bench log shows it.
    """

    time_s: float | None
    charge_mAh: float | None
    file: str = ""
    logged: bool = False


@dataclass(frozen=True)
class Agreed:
    """Platings of a cell from all sources.

    Attributes
    ----------
    platings : tuple of Source
        In order of time, those without a time first. Where log and file show the same plating:
        time of the log, charge of the log where it has one, name of the file.
    alone : tuple of Source
        Files that no entry of the log belongs to; with a time they count as platings.
    unlike : tuple of tuple of Source
        Log and file of one plating that state unlike charges.
    """

    platings: tuple[Source, ...]
    alone: tuple[Source, ...]
    unlike: tuple[tuple[Source, Source], ...]


def plated_charge_mAh(time_s: Floats, current_mA: Floats, *, longest_gap_s: float) -> float:
    """Charge that a plating left: what passed one way less what passed the other way.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time, not falling [s].
    current_mA : ndarray, shape (n,)
        Current of either sign [mA].
    longest_gap_s : float
        Longer intervals give nothing [s].

    Returns
    -------
    float
        Charge, not negative [mAh]; cleaning of the wire before it counts against it.

    References
    ----------
    Trapezoidal rule, see `trivet.science.cycling.integrals.charge_mAh`.
    """
    one_way, other_way = (
        float(np.sum(charge_mAh(time_s, current_mA, sign=sign, longest_gap_s=longest_gap_s)))
        for sign in (1, -1)
    )
    return abs(one_way - other_way)


def agree(log: Sequence[Source], files: Sequence[Source]) -> Agreed:
    """Bring together what the bench log and files say; the log outranks a file.

    Parameters
    ----------
    log, files : sequence of Source
        Entries of the log; one source a file.

    Returns
    -------
    Agreed
    """
    entries, alone, unlike = list(log), [], []
    open_entries = set(range(len(entries)))
    for file in sorted(files, key=_place):
        match = _nearest(entries, open_entries, file)
        if match is None:
            alone.append(file)
            continue
        open_entries.discard(match)
        entry = entries[match]
        if _differ(entry.charge_mAh, file.charge_mAh):
            unlike.append((entry, file))
        known = file.charge_mAh if entry.charge_mAh is None else entry.charge_mAh
        entries[match] = replace(entry, charge_mAh=known, file=file.file)
    placed = [file for file in alone if file.time_s is not None]
    return Agreed(tuple(sorted([*entries, *placed], key=_place)), tuple(alone), tuple(unlike))


def _place(source: Source) -> tuple[float, str]:
    """Key that orders sources by time, those without one first."""
    return (-np.inf if source.time_s is None else source.time_s, source.file)


def _nearest(entries: Sequence[Source], still: set[int], file: Source) -> int | None:
    """Entry of the log that a file belongs to; one without a time only where there is one entry."""
    if file.time_s is None:
        return next(iter(still)) if len(entries) == len(still) == 1 else None
    away = {
        place: abs(time_s - file.time_s)
        for place in sorted(still)
        if (time_s := entries[place].time_s) is not None
    }
    best = min(away, key=lambda place: away[place], default=None)
    return best if best is not None and away[best] <= SAME_PLATING_S else None


def _differ(one: float | None, other: float | None) -> bool:
    """Whether two charges, both known, are further apart than the stated share."""
    if one is None or other is None:
        return False
    return abs(one - other) > UNLIKE_SHARE * max(one, other)


def first_platings(
    logged: Sequence[BenchEvent], from_files: Floats
) -> tuple[float | None, float | None]:
    """When a reference was plated first, and when again.

    Parameters
    ----------
    logged : sequence of BenchEvent
        Entries of the bench log in order of time; other events are ignored.
    from_files : ndarray, shape (n,)
        Platings that only files show, in order of time [h].

    Returns
    -------
    plated_h, replated_h : float or None
        Hours of the first plating and of the next [h]; None where there was none. The log
        outranks files.
    """
    first: dict[str, float] = {}
    for entry in logged:
        first.setdefault(entry.event, entry.time_h)
    rest = [float(time_h) for time_h in from_files]
    plated_h = first.get("plated")
    if plated_h is None and rest:
        plated_h = rest.pop(0)
    later = [time_h for time_h in rest if plated_h is not None and time_h > plated_h]
    return plated_h, first.get("re-plated", later[0] if later else None)
