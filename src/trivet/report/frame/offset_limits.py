"""Limits that the offset of a reference is held against, as numbers and in words."""

from __future__ import annotations

from dataclasses import dataclass

from trivet.reference_checks import ANCHOR_ERRORS, ReferenceCheck
from trivet.report.frame.data import ReportData
from trivet.report.frame.wording import as_set
from trivet.schema.settings.anchors import chosen_anchor, offset_limits_mV

_TIMES = {2.0: "twice"}


@dataclass(frozen=True)
class OffsetLimits:
    """Limits of an offset from the anchor of the settings.

    Attributes
    ----------
    suspect_mV, lost_mV : float
        As they are used: settings widened by what the known potential may be off [mV].
    words : str
        Both, and what they are made of.
    """

    suspect_mV: float
    lost_mV: float
    words: str


def offset_limits(data: ReportData) -> OffsetLimits:
    """Limits in use beside those of the settings.

    Parameters
    ----------
    data : ReportData
        Tables and settings.
    """
    trust = data.settings.trust
    error_mV = chosen_anchor(data.settings.reference, data.settings.electrodes).uncertainty_mV
    suspect_mV, lost_mV = offset_limits_mV(trust, error_mV)
    set_to = f"{as_set(trust.offset_suspect_mV)} and {as_set(trust.offset_lost_mV)} mV"
    times = _TIMES.get(ANCHOR_ERRORS, f"{as_set(ANCHOR_ERRORS)} times")
    said = (
        f"suspect beyond {as_set(suspect_mV)} mV, lost beyond {as_set(lost_mV)} mV: the settings "
        f"({set_to}; common practice, no source)"
    )
    if error_mV:
        said += f" and {times} the {as_set(error_mV)} mV that the known potential may be off"
    rows = data.counted("reference_checks", ("uncertainty",), check=ReferenceCheck.OFFSET.value)
    if any(row["uncertainty"] not in (None, error_mV) for row in rows):
        said += (
            f"; an offset from another source has {times} its own uncertainty, and its limit "
            "stands in its row"
        )
    return OffsetLimits(suspect_mV, lost_mV, said)
