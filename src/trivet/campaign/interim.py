"""Whether a data cut lies before the planned end of the campaign, so that verdicts are interim."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa

from trivet.schema.findings.finding import Finding
from trivet.store.tables import arrays

_DATE_LENGTH = len("2026-03-01")


def interim_mark(
    *, planned_end: str | None, time_zone: str, data_cut: str | None = None, ledger: pa.Table | None
) -> tuple[str, list[Finding]]:
    """Mark of an interim look.

    Parameters
    ----------
    planned_end : str or None
        Planned final data cut, ISO 8601 in the campaign's zone; None: none was planned.
    time_zone : str
        IANA name of the campaign's zone.
    data_cut : str or None
        Data cut as set; None takes the last time in the ledger.
    ledger : pyarrow.Table or None
        Table of this name, where given.

    Returns
    -------
    tuple
        A sentence without full stop, empty where the look is final; and a finding where that
        can't be told. Dates without time of day are compared as dates.
    """
    if planned_end is None:
        return "", []
    zone = ZoneInfo(time_zone)
    cut = _moment(data_cut, zone) if data_cut is not None else _last(ledger, zone)
    if cut is None:
        return "", [
            Finding(
                cell="",
                check="interim look",
                severity="caution",
                message=f"A planned end ({planned_end}) is set, but no data cut and no calendar "
                "time in the data, so it can't be told whether this is the final look.",
                action="verdicts not marked as interim",
            )
        ]
    end = _moment(planned_end, zone)
    as_dates = len(planned_end) <= _DATE_LENGTH
    before = cut.date() < end.date() if as_dates else cut < end
    if not before:
        return "", []
    return f"Interim: the data cut of {cut.date()} lies before the planned end {planned_end}", []


def _moment(text: str, zone: ZoneInfo) -> datetime:
    """Moment in the campaign's zone."""
    moment = datetime.fromisoformat(text)
    return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment.astimezone(zone)


def _last(ledger: pa.Table | None, zone: ZoneInfo) -> datetime | None:
    """Last calendar time in the data."""
    if ledger is None:
        return None
    files = arrays(ledger)
    times = files["last_time_s"][files["absolute_time"] == "yes"]
    times = times[np.isfinite(times)]
    return datetime.fromtimestamp(float(times.max()), zone) if times.size else None
