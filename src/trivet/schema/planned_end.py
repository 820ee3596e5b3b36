"""Whether a moment lies before the planned end of a campaign: the one place that decides it."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

_DATE_LENGTH = len("2026-03-01")


def in_zone(text: str, zone: ZoneInfo) -> datetime:
    """Moment of a date or time in ISO 8601, in the zone of the campaign."""
    moment = datetime.fromisoformat(text)
    return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment.astimezone(zone)


def before_planned_end(moment: datetime, *, planned_end: str | None, time_zone: str) -> bool:
    """Whether a data cut is interim.

    Parameters
    ----------
    moment : datetime
        Data cut, with its zone.
    planned_end : str or None
        Planned final cut as set; one without time of day is compared as a date. None: none was
        planned, and no cut is interim.
    time_zone : str
        IANA name of the campaign's zone.
    """
    if planned_end is None:
        return False
    zone = ZoneInfo(time_zone)
    cut, end = moment.astimezone(zone), in_zone(planned_end, zone)
    return cut.date() < end.date() if len(planned_end) <= _DATE_LENGTH else cut < end
