"""Offset of a reference from the features of curves: its change without any known potential."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trivet.reasons import Trust
from trivet.reference_checks import ReferenceCheck
from trivet.science.constants import HOURS_PER_DAY
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.cycling.integrals import Floats
from trivet.science.cycling.robust_slope import robust_slope
from trivet.science.electrodes.registration import Curve, CycleCurves, register
from trivet.science.reference.checks.slow_curves import curves_of, same_rate, slow_places
from trivet.science.reference.checks.watched import Z95, PlatedSpan, Watch, Watched
from trivet.science.reference.fitness import no_lithium_h
from trivet.science.reference.record import Record, TrustLimits
from trivet.science.reference.trust import Check, assess

OWN_SCATTER_mV = 0.5
"""Scatter of one registration that its own error does not know; the size of what sound references
gave on simulated porous electrodes over 13 days."""
FLATTEST_SHARE = 0.1
"""Share of the capacity over which a plateau of graphite is looked for."""
FLATTEST_mV = 5.0
"""A plateau changes by less than this over that share; common practice, no source."""


@dataclass(frozen=True)
class Moves:
    """Change of the offset since the base cycle, shape (k,) each; the base itself is the first.

    Attributes
    ----------
    time_h : ndarray
        Middle of each cycle [h].
    value_mV, error_mV : ndarray
        Change of the measured potentials, and its standard error [mV]; both 0 for the base.
    """

    time_h: Floats
    value_mV: Floats
    error_mV: Floats


def watch(cell: Watched) -> Watch:
    """Register every slow cycle on the first; nothing where leads are at the wrong place."""
    moves = Moves(np.zeros(0), np.zeros(0), np.zeros(0))
    if not cell.wrong_leads:
        moves = feature_moves(
            cell.record, cell.halves, cell.cycles, zero_current_mA=cell.zero_current_mA
        )

    def checks(span: PlatedSpan) -> Iterator[Check]:
        # A wire without lithium has no offset, and curves against it are no curves.
        lithium_h = no_lithium_h(span.found, limit_mV=cell.limits["no_lithium_mV"])
        stop_h = min(span.stop_h, max(lithium_h, span.start_h))
        keep = (moves.time_h >= span.start_h) & (moves.time_h < stop_h)
        mine = Moves(moves.time_h[keep], moves.value_mV[keep], moves.error_mV[keep])
        jumps = (check for check in span.found if check.check is ReferenceCheck.JUMP)
        jumps_h = [check.time_h for check in jumps if check.trust != Trust.UNKNOWN]
        return _feature_checks(mine, cell.limits, jumps_h)

    return checks


def _feature_checks(
    moves: Moves, limits: TrustLimits, jumps_h: Sequence[float] = ()
) -> Iterator[Check]:
    """Change of the offset by features in every slow cycle, and its drift since the last jump.

    They tell how far the reference moved, not where it stands: they give no trust and take none.
    """
    for index, (time_h, value, error) in enumerate(
        zip(moves.time_h, moves.value_mV, moves.error_mV, strict=True)
    ):
        check = assess(
            ReferenceCheck.FEATURES, float(time_h), float(value), limits=(np.inf, np.inf)
        )
        width = Z95 * float(error)
        yield replace(
            check, lower=float(value) - width, upper=float(value) + width,
            uncertainty=float(error), limit=limits["offset_suspect_mV"],
        )  # fmt: skip
        since_h = max((at for at in jumps_h if at < time_h), default=-np.inf)
        part = slice(int(np.searchsorted(moves.time_h, since_h)), index + 1)
        so_far = Moves(moves.time_h[part], moves.value_mV[part], moves.error_mV[part])
        drift, error_of_drift = feature_drift(so_far)
        if np.isfinite(drift):
            found = assess(
                ReferenceCheck.FEATURE_DRIFT, float(time_h), drift, limits=(np.inf, np.inf)
            )
            width = Z95 * error_of_drift
            yield replace(
                found, lower=drift - width, upper=drift + width, uncertainty=error_of_drift,
                limit=limits["drift_suspect_mV_per_day"],
            )  # fmt: skip


def feature_moves(
    record: Record,
    halves: Halves,
    cycles: Cycles,
    *,
    zero_current_mA: float,
) -> Moves:
    """Register both electrodes in every slow cycle on those of the first at the same rate.

    Parameters
    ----------
    record, halves, cycles : Record, Halves, Cycles
        The cell.
    zero_current_mA : float
        Half width of the zero band [mA].

    Returns
    -------
    Moves
        Cycles that can't be registered are left out; empty where nothing can be compared.
    """
    places = same_rate(record, halves, cycles, slow_places(cycles))
    found: list[tuple[float, float, float]] = []
    base: CycleCurves | None = None
    for place in places:
        curves = curves_of(record, halves, cycles, int(place), zero_current_mA=zero_current_mA)
        middle_h = float((cycles.start_h[place] + cycles.end_h[place]) / 2.0)
        if curves is None:
            continue
        if base is None:
            base = curves
            found.append((middle_h, 0.0, 0.0))
            continue
        seen = register(base, curves)
        value, error = seen.values["offset_mV"], seen.errors["offset_mV"]
        if np.isfinite(value):
            found.append((middle_h, value, float(np.hypot(error, OWN_SCATTER_mV))))
    columns = np.array(found if len(found) > 1 else [], dtype=np.float64).reshape(-1, 3).T
    return Moves(*columns)


def feature_drift(moves: Moves) -> tuple[float, float]:
    """Drift of the offset by its features, and its standard error.

    Parameters
    ----------
    moves : Moves
        Changes of one plating, at least three over a day.

    Returns
    -------
    drift, error : float
        Median of the slopes between all pairs [mV/d], and the standard error of the slope by
        weighted least squares, widened where the values scatter more than their errors [mV/d];
        NaN both where there are too few.

    References
    ----------
    Theil (1950), Sen (1968), as in `robust_slope`; slope of a weighted straight line, any handbook.
    """
    days = moves.time_h / HOURS_PER_DAY
    if days.size < 3 or days[-1] - days[0] < 1.0:
        return float("nan"), float("nan")
    # The base has no error against itself, but its curves have the scatter of any other.
    error = np.maximum(moves.error_mV, OWN_SCATTER_mV)
    weight = 1.0 / error**2
    middle = float(np.sum(weight * days) / np.sum(weight))
    spread = float(np.sum(weight * (days - middle) ** 2))
    level = float(np.sum(weight * moves.value_mV) / np.sum(weight))
    slope = float(np.sum(weight * (days - middle) * (moves.value_mV - level))) / spread
    left = moves.value_mV - level - slope * (days - middle)
    excess = float(np.sum(weight * left**2)) / (days.size - 2)
    return robust_slope(days, moves.value_mV), float((max(excess, 1.0) / spread) ** 0.5)


@dataclass(frozen=True)
class PlateauOffsets:
    """Offset by the plateau of graphite in the slow cycles that show it, shape (k,) each."""

    time_h: Floats
    value_mV: Floats


def graphite_offsets(
    record: Record,
    halves: Halves,
    cycles: Cycles,
    *,
    anchor_V: float,
    zero_current_mA: float,
) -> PlateauOffsets:
    """Offset of the reference by the lowest flat part of a graphite negative at low rate.

    Mean of charge and discharge at the same charge, so that polarisation cancels.

    Parameters
    ----------
    record, halves, cycles : Record, Halves, Cycles
        The cell.
    anchor_V : float
        Potential of the plateau against lithium [V].
    zero_current_mA : float
        Half width of the zero band [mA].

    Returns
    -------
    PlateauOffsets
        Measured less known potential; slow cycles without a flat part are left out.
    """
    found: list[tuple[float, float]] = []
    for place in slow_places(cycles):
        curves = curves_of(record, halves, cycles, int(place), zero_current_mA=zero_current_mA)
        if curves is None:
            continue
        level_V = flattest_V(curves.negative_charge, curves.negative_discharge)
        if np.isfinite(level_V):
            middle_h = float((cycles.start_h[place] + cycles.end_h[place]) / 2.0)
            found.append((middle_h, (level_V - anchor_V) * 1000.0))
    return PlateauOffsets(*np.array(found, dtype=np.float64).reshape(-1, 2).T)


def flattest_V(charge: Curve, discharge: Curve) -> float:
    """Mean potential of the lowest flat part that charge and discharge share [V].

    Parameters
    ----------
    charge, discharge : Curve
        Negative, against the charge from the top.

    Returns
    -------
    float
        NaN where no part of `FLATTEST_SHARE` of the charge is flat in the mean of both.
    """
    low = max(charge.charge_mAh.min(), discharge.charge_mAh.min())
    high = min(charge.charge_mAh.max(), discharge.charge_mAh.max())
    if high <= low:
        return float("nan")
    grid = np.linspace(low, high, 201)
    both = np.zeros(grid.size)
    for curve in (charge, discharge):
        order = np.argsort(curve.charge_mAh, kind="stable")
        both += np.interp(grid, curve.charge_mAh[order], curve.potential_V[order]) / 2.0
    width = int(FLATTEST_SHARE * (grid.size - 1))
    windows = np.lib.stride_tricks.sliding_window_view(both, width + 1)
    change_mV = np.ptp(windows, axis=1) * 1000.0
    means = windows.mean(axis=1)
    flat = change_mV <= FLATTEST_mV
    if not flat.any():
        return float("nan")
    # Of several plateaus the lowest is that of the fullest graphite; within it the flattest part.
    lowest = flat & (means <= means[flat].min() + 2.0 * FLATTEST_mV / 1000.0)
    return float(means[lowest][np.argmin(change_mV[lowest])])
