"""One signed current of files that have a column for charge and one for discharge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trivet.rawfiles.reading.raw_read import BOTH_CURRENTS as BOTH
from trivet.rawfiles.reading.raw_read import RawRead, plural

CHARGE, DISCHARGE = "charge current", "discharge current"
_NEGATIVE = "negative charge current"
_TURNING = "discharge current of both signs"
_HALF = "half of the current"
_NOISE_mA = 0.002
_NOISE_SHARE = 0.001
"""Below this, and below this share of the largest current, is the offset of an idle column; common
practice, no source."""
_RULE = 0.5
"""Where both columns bear current in so many of the rows with any, they are something else."""


def with_one_current(read: RawRead) -> RawRead:
    """Give a file the current that its columns of charge and discharge make together.

    Parameters
    ----------
    read : RawRead
        A file; charge and discharge as magnitudes [mA], the discharge with a minus in front where
        the instrument writes it so.

    Returns
    -------
    RawRead
        With `current`, positive in charge [mA], in place of the two. Rows that have both are set
        aside; a file in which that is the rule is refused. A value that stands in one of the two
        columns only is the current.
    """
    given = [name for name in (CHARGE, DISCHARGE) if name in read.values]
    if not given or not len(read.lines):
        return read
    if fault := _no_magnitude(read):
        check, message, row = fault
        return read.refuse(check, message, line=int(read.lines[row]))
    none = np.full(len(read.lines), np.nan)
    charge_mA = read.values.get(CHARGE, none)
    discharge_mA = np.abs(read.values.get(DISCHARGE, none))
    known = np.isfinite(charge_mA) | np.isfinite(discharge_mA)
    signed = np.where(known, np.nan_to_num(charge_mA) - np.nan_to_num(discharge_mA), np.nan)
    noise = _noise_mA(charge_mA, discharge_mA)
    both = (np.nan_to_num(charge_mA) > noise) & (np.nan_to_num(discharge_mA) > noise)
    others = {name: column for name, column in read.values.items() if name not in given}
    joined = replace(read, values={**others, "current": signed}, two_currents=True)
    if len(given) == 1:
        return _about_half(joined, given[0])
    flowing = int(np.sum(np.abs(np.nan_to_num(signed)) > noise) + np.sum(both & (signed == 0)))
    if np.sum(both) > _RULE * max(flowing, 1):
        message = (
            f"{plural(int(both.sum()), 'row')} of {flowing} with a current have one of charge and "
            f"one of discharge, so the two columns are no '{CHARGE}' and '{DISCHARGE}'"
        )
        return joined.refuse(BOTH, message, line=int(read.lines[int(np.argmax(both))]))
    joined = joined.assume("current as charge current less discharge current, charging positive")
    return joined.keep(~both, reason=BOTH)


def _noise_mA(charge_mA: np.ndarray, discharge_mA: np.ndarray) -> float:
    """Current up to which a column counts as idle [mA]."""
    largest = float(np.max(np.nan_to_num(np.concatenate([charge_mA, discharge_mA])), initial=0.0))
    return max(_NOISE_mA, _NOISE_SHARE * largest)


def _no_magnitude(read: RawRead) -> tuple[str, str, int] | None:
    """Check, message and row of a column that has both signs, or a charge below zero."""
    charge, discharge = read.values.get(CHARGE), read.values.get(DISCHARGE)
    hint = "a column that has the sign of the current is declared as 'current'"
    if charge is not None:
        below = np.nan_to_num(charge) < -_noise_mA(np.abs(charge), charge)
        if np.any(below):
            message = f"the {CHARGE} is negative in {plural(int(below.sum()), 'row')}; {hint}"
            return _NEGATIVE, message, int(np.argmax(below))
    if discharge is not None:
        known = np.nan_to_num(discharge)
        noise = _noise_mA(np.abs(known), known)
        if np.any(known < -noise) and np.any(known > noise):
            message = f"the {DISCHARGE} is positive in some rows and negative in others; {hint}"
            return _TURNING, message, int(np.argmax(known > noise))
    return None


def _about_half(read: RawRead, given: str) -> RawRead:
    """Say that only one of the two currents is declared, so the other half is not there."""
    absent = DISCHARGE if given == CHARGE else CHARGE
    return read.note(
        _HALF,
        "caution",
        f"the layout declares '{given}' and no '{absent}', so all {absent} of the file is missing",
        action="other rows count as without current",
    )
