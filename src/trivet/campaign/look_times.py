"""When a campaign is looked at: every week, counted back from its planned end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from trivet.schema.planned_end import before_planned_end, in_zone

WEEKLY = "weekly"
_MOST_LOOKS = 104
"""Beyond as many weeks so many are passed over between two looks."""


@dataclass(frozen=True)
class LookTimes:
    """Looks up to a data cut.

    Attributes
    ----------
    times_s : tuple of float
        Unix times of the looks [s].
    fractions : tuple of float
        Share of the planned time at each [1].
    texts : tuple of str
        Their dates, or times, in the zone of the campaign.
    """

    times_s: tuple[float, ...]
    fractions: tuple[float, ...]
    texts: tuple[str, ...]


def look_times(
    *, looks: str, planned_end: str, time_zone: str, cut: datetime, first_s: float
) -> LookTimes:
    """Give the looks of a campaign up to a data cut.

    Parameters
    ----------
    looks : str
        `weekly`, or any other word for the final look only.
    planned_end : str
        Planned final data cut, ISO 8601 in the campaign's zone.
    time_zone : str
        IANA name of the zone.
    cut : datetime
        Data cut, with its zone.
    first_s : float
        Unix time at which the first cell began [s].

    Returns
    -------
    LookTimes
        None of them depends on the data cut, which only says how many there are yet: so what was
        shown at a look is shown in every later report. The final one is the planned end itself
        (of a date its first moment), whenever a report is made after it: another test at each
        later cut would be one that the level does not pay for.
    """
    zone = ZoneInfo(time_zone)
    end = in_zone(planned_end, zone)
    final = not before_planned_end(cut, planned_end=planned_end, time_zone=time_zone)
    moments = []
    if looks == WEEKLY:
        weeks = max(0, int((end.timestamp() - first_s) // (7 * 86400)))
        every = weeks // _MOST_LOOKS + 1
        earlier = [end - timedelta(weeks=week) for week in range(every, weeks + 1, every)]
        moments = [moment for moment in reversed(earlier) if first_s < moment.timestamp()]
        moments = [moment for moment in moments if moment <= cut]
    planned_s = end.timestamp() - first_s
    fractions = [(moment.timestamp() - first_s) / planned_s for moment in moments]
    if final:
        moments.append(end)
        fractions.append(1.0)
    return LookTimes(
        tuple(moment.timestamp() for moment in moments),
        tuple(fractions),
        tuple(moment.astimezone(zone).date().isoformat() for moment in moments),
    )
