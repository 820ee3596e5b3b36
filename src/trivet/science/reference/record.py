"""What the review of a reference works on: rows, platings, limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trivet.reference_checks import CHECKS, ReferenceCheck
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
    """Limits of the checks.

    Attributes
    ----------
    values : mapping of str to float
        By the name of the setting, in the unit of the name.
    """

    values: Mapping[str, float]

    def __getitem__(self, name: str) -> float:
        """Limit of that name."""
        return self.values[name]

    def of(self, check: ReferenceCheck) -> tuple[float, float]:
        """Limits beyond which a check makes suspect, and lost [unit of the check]."""
        suspect, lost = CHECKS[check].limits
        return self[suspect], self[lost]
