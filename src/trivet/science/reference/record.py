"""What the review of a reference works on: rows, platings, limits."""

from __future__ import annotations

from dataclasses import dataclass

from trivet.science.cycling.integrals import Booleans, Floats


@dataclass(frozen=True)
class Record:
    """Rows of a cell, shape (n,) each; missing values are NaN, time counts from the cell's start.

    `closable` marks rows whose three voltages were all measured, none derived.
    """

    time_s: Floats
    current_mA: Floats
    cell_V: Floats
    positive_V: Floats
    negative_V: Floats
    closable: Booleans


@dataclass(frozen=True)
class Plating:
    """A plating of the reference: when [h], usable and passed charge [mAh] where known.

    `known` tells a plating that the bench log or a file shows from the first row standing in for
    one; `file` is the plating file, empty where there is none; `logged` tells one of the log.
    """

    time_h: float
    usable_mAh: float | None = None
    charge_mAh: float | None = None
    known: bool = False
    file: str = ""
    logged: bool = False


@dataclass(frozen=True)
class TrustLimits:
    """Limits of the checks, in the unit of each name."""

    offset_suspect_mV: float
    offset_lost_mV: float
    drift_suspect_mV_per_day: float
    drift_lost_mV_per_day: float
    jump_cell_quiet_mV: float
    jump_suspect_mV: float
    jump_lost_mV: float
    closure_suspect_mV: float
    closure_lost_mV: float
    noise_suspect_mV: float
    noise_lost_mV: float
    charge_left_suspect: float
    charge_left_lost: float
    soft_short_near_mV: float
    soft_short_response: float
    soft_short_lasting_h: float
    no_lithium_mV: float = 100.0
