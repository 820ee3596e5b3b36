"""Whether the first half-cycle of a record was seen from its beginning."""

from __future__ import annotations

import numpy as np

from trivet.reasons import Beginning
from trivet.science.constants import SECONDS_PER_HOUR
from trivet.science.cycling.half_cycle_measures import CycleRules, Halves
from trivet.science.cycling.integrals import Floats

ALIKE_CURRENT = 0.05
"""Currents of two charges differ by so much at most to begin alike; common practice, no source."""


def beginning(
    current_mA: Floats,
    cell_V: Floats,
    halves: Halves,
    rules: CycleRules,
    *,
    since_built_s: float | None,
    since_test_s: float | None,
    open_share: float,
) -> Beginning:
    """Tell whether charge of the first half-cycle may have passed before the first row.

    A row without current before it shows the beginning. Without one, it is shown by the first
    cell voltage where that lies at the limit (or beyond it) from which such a half-cycle starts.
    A charge that gave back no more than it took is also whole where the cell was fresh: the first
    current could not have moved more than a small share of the charge in the time since the cell
    was built or its test began (for the test: unless later charges at the same current begin
    lower); or where it starts no higher than later full charges at the same current, and the
    voltage rises so steeply there that a small share of the charge is passed within the band.

    Parameters
    ----------
    current_mA, cell_V : ndarray, shape (n,)
        Record, charge positive [mA, V].
    halves : Halves
        Its half-cycles.
    rules : CycleRules
        Limits and band of the voltage.
    since_built_s, since_test_s : float or None
        Time from the build of the cell, and by the instrument's clock from the beginning of the
        test, to the first row; None where not known [s].
    open_share : float
        Share of the charge of the half-cycle that may be missing [1].

    Returns
    -------
    Beginning
    """
    rows = halves.rows
    if not rows.sign.size or rows.first_row[0] > 0:
        return Beginning.SEEN
    first_V, charging = float(cell_V[0]), bool(rows.sign[0] > 0)
    band_V = rules.constant_voltage_band_V
    low, high = rules.lower_voltage_V + band_V, rules.upper_voltage_V - band_V
    if (first_V <= low) if charging else (first_V >= high):
        return Beginning.AT_LIMIT
    whole_mAh = halves.charge_mAh[:2]
    allowed_mAh = open_share * float(whole_mAh[0])
    if not charging or (whole_mAh[1:] > whole_mAh[0] + allowed_mAh).any():
        return Beginning.NOT_KNOWN

    def too_short(time_s: float | None) -> bool:
        passed_mAh = abs(float(current_mA[0])) * (time_s or 0.0) / SECONDS_PER_HOUR
        return time_s is not None and 0.0 <= passed_mAh <= allowed_mAh

    later_V = _starts_V(current_mA, cell_V, halves)
    higher = later_V is not None and not first_V <= later_V + band_V
    if too_short(since_built_s) or (too_short(since_test_s) and not higher):
        return Beginning.FRESH
    near_mAh = _charge_below(cell_V, halves, first_V + 2.0 * band_V)
    as_later = later_V is not None and not higher and near_mAh <= allowed_mAh
    return Beginning.AS_LATER if as_later else Beginning.NOT_KNOWN


def _charge_below(cell_V: Floats, halves: Halves, limit_V: float) -> float:
    """Charge of the first charge that passed below a voltage, linear between rows [mAh]."""
    last = int(halves.rows.last_row[0])
    steps_V, room_V = np.diff(cell_V[: last + 1]), limit_V - cell_V[:last]
    share = np.where(steps_V > 0.0, room_V / np.where(steps_V > 0.0, steps_V, 1.0), room_V > 0.0)
    return float(np.nansum(halves.passed[1][:last] * np.clip(share, 0.0, 1.0)))


def _starts_V(current_mA: Floats, cell_V: Floats, halves: Halves) -> float | None:
    """Median voltage at which later charges of the emptied cell begin at the first current."""
    rows = halves.rows
    after_full = np.zeros(rows.sign.size, dtype=bool)
    after_full[1:] = (rows.sign[1:] > 0) & halves.reached_limit[:-1]
    later = rows.first_row[after_full]
    alike = np.abs(current_mA[later] / current_mA[0] - 1.0) <= ALIKE_CURRENT
    known_V = cell_V[later[alike]]
    known_V = known_V[np.isfinite(known_V)]
    return float(np.median(known_V)) if known_V.size else None
