"""Whether a data cut lies before the planned end of the campaign, so that verdicts are interim."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa

from trivet.schema.findings.finding import Finding
from trivet.schema.planned_end import before_planned_end, in_zone
from trivet.store.tables import arrays


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
    cut = cut_moment(time_zone=time_zone, data_cut=data_cut, ledger=ledger)
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
    if not before_planned_end(cut, planned_end=planned_end, time_zone=time_zone):
        return "", []
    return f"Interim: the data cut of {cut.date()} lies before the planned end {planned_end}", []


def cut_moment(*, time_zone: str, data_cut: str | None, ledger: pa.Table | None) -> datetime | None:
    """Moment of the data cut: as set, else the last calendar time in the data, if any."""
    zone = ZoneInfo(time_zone)
    return in_zone(data_cut, zone) if data_cut is not None else _last(ledger, zone)


def _last(ledger: pa.Table | None, zone: ZoneInfo) -> datetime | None:
    """Last calendar time in the data."""
    if ledger is None:
        return None
    files = arrays(ledger)
    times = files["last_time_s"][files["absolute_time"] == "yes"]
    times = times[np.isfinite(times)]
    return datetime.fromtimestamp(float(times.max()), zone) if times.size else None
