"""Weekly looks at a set of lives, for the stages that compare groups."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.campaign.interim import cut_moment
from trivet.campaign.life_sets import LifeSet
from trivet.campaign.look_times import LookTimes, look_times
from trivet.reasons import AtLooks
from trivet.schema.findings.verdicts import Seen
from trivet.science.comparison.family import Rules
from trivet.science.comparison.sequential import Calendar, Sequential, sequential
from trivet.science.comparison.verdict import Verdict

_HOUR_S = 3600.0


@dataclass(frozen=True)
class Schedule:
    """What was planned of looks, and how far the data have come.

    Attributes
    ----------
    planned_end, time_zone : str
        As set for the campaign.
    cut : datetime
        Data cut, with its zone.
    """

    planned_end: str
    time_zone: str
    cut: datetime


def schedule_of(
    *, planned_end: str | None, time_zone: str, data_cut: str | None = None, ledger: pa.Table | None
) -> Schedule | None:
    """Give the plan of looks; None without a planned end, or without calendar times.

    Parameters
    ----------
    planned_end, time_zone, data_cut : str or None
        Settings of the campaign.
    ledger : pyarrow.Table or None
        Table of this name, whose last time is the data cut by default.
    """
    cut = cut_moment(time_zone=time_zone, data_cut=data_cut, ledger=ledger)
    if planned_end is None or cut is None:
        return None
    return Schedule(planned_end, time_zone, cut)


@dataclass(frozen=True)
class Looked:
    """Looks at the contrasts of one set of lives; none where they do not apply.

    Attributes
    ----------
    times : LookTimes or None
        The looks.
    found : Sequential or None
        What was seen at them.
    """

    times: LookTimes | None = None
    found: Sequential | None = None

    def word(self, verdict: Verdict, place: int, *, longer: bool) -> tuple[Verdict, Seen | None]:
        """Verdict of a contrast with its looks, and what they have to say of it.

        Parameters
        ----------
        verdict : Verdict
            Verdict of the data so far, as if they were looked at once.
        place : int
            Number of the group.
        longer : bool
            Whether the group has fewer ends than expected now.
        """
        if self.times is None:
            return verdict, None
        dates, found = self.times.texts, self.found
        shown = found.shown[place - 1] if found else None
        if shown is not None:
            if shown.longer != longer:
                return "inconclusive", Seen(AtLooks.TURNED_ROUND, dates[shown.look])
            return "different", Seen(AtLooks.SHOWN, dates[shown.look])
        now: Verdict = "inconclusive" if verdict == "different" else verdict
        held = found.held[place - 1] if found else None
        if held is not None:
            return now, Seen(held.how, dates[held.look])
        if verdict == "different":
            own = found.series.get((place,), ()) if found else ()
            level = own[-1].nominal_level if own else float("nan")
            return now, Seen(AtLooks.WAITS, dates[-1] if dates else "", level)
        return verdict, None

    def rows(self, lives: LifeSet) -> list[dict[str, Any]]:
        """Rows of the table `looks`."""
        if self.times is None or self.found is None:
            return []
        return [
            {
                "endpoint": lives.endpoint,
                "clock": lives.clock,
                "factor": lives.factor,
                "groups": " + ".join(lives.groups[place] for place in own),
                "control": lives.groups[0],
                "look": self.times.texts[number],
                "time_s": self.times.times_s[number],
                "fraction": look.fraction,
                "may_spend": look.may_spend,
                "statistic": look.statistic,
                "p": look.p,
                "boundary": look.boundary if np.isfinite(look.boundary) else None,
                "nominal_level": look.nominal_level,
                "spent": look.spent,
                "crossed": int(look.crossed),
            }
            for own, series in self.found.series.items()
            for number, look in enumerate(series)
        ]


def looks_at(lives: LifeSet, schedule: Schedule | None, *, looks: str, rules: Rules) -> Looked:
    """Look at a set of lives at every look so far.

    Parameters
    ----------
    lives : LifeSet
        The lives.
    schedule : Schedule or None
        The plan.
    looks : str
        Setting `comparison.looks`.
    rules : Rules
        As for the comparison itself.

    Returns
    -------
    Looked
        Empty where looks do not apply: without a plan, for lives that are counted in cycles, known
        between checks only or with delayed entry, and where a cell's start is not known.
    """
    plain = lives.clock == "hours" and not lives.between_checks and not lives.delayed
    lived = lives.duration > 0
    if schedule is None or not plain or not np.any(lived):
        return Looked()
    if not np.all(np.isfinite(lives.start_s[lived])):
        return Looked()
    start_s = np.where(np.isfinite(lives.start_s), lives.start_s, np.nanmin(lives.start_s))
    times = look_times(
        looks=looks,
        planned_end=schedule.planned_end,
        time_zone=schedule.time_zone,
        cut=schedule.cut,
        first_s=float(start_s.min()),
    )
    if not times.times_s:
        return Looked(times)
    start_h = start_s / _HOUR_S
    known_h = np.where(np.isfinite(lives.known_h), lives.known_h, lives.duration)
    found = sequential(
        lives,
        groups=len(lives.groups),
        rules=rules,
        calendar=Calendar(
            start_h, start_h + known_h, tuple(t / _HOUR_S for t in times.times_s), times.fractions
        ),
    )
    return Looked(times, found)
