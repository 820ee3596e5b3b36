"""Rate tests: where they are in a record, and what a higher rate costs each electrode."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.integrals import Floats

FEWEST_RATES = 3
"""A rate test has so many rates at least: two are ageing with its check-ups."""
LONGEST_RUN = 10
"""More cycles in a row at one rate are ageing; common practice, no source."""
WINDOW = (0.1, 0.9)
"""Shares of the smaller of two charges between which potentials are compared: ends bend away, and
a current that has just begun still moves them; common practice, no source."""
LEAST_SHARE = 0.1
"""Share of the charge at the lowest rate that must pass for a comparison; common practice, no
source."""
_POINTS = 201


@dataclass(frozen=True)
class RateRun:
    """Cycles in a row at one rate of discharge within a test.

    Attributes
    ----------
    test : int
        Number of the test, from 1.
    places : tuple of int
        Places of its cycles in the record; the last one speaks for it.
    rate_per_h : float
        Median rate of their discharges [1/h].
    """

    test: int
    places: tuple[int, ...]
    rate_per_h: float


def rate_tests(cycles: Cycles, *, rate_tolerance: float) -> list[list[RateRun]]:
    """Find the rate tests of a record.

    A test is an unbroken row of complete cycles in which the rate of discharge changes every few
    cycles and takes three values at least.

    Parameters
    ----------
    cycles : Cycles
        Cycles of the record.
    rate_tolerance : float
        Relative deviation up to which two rates are one [1].

    Returns
    -------
    list of list of RateRun
        Runs of each test in order of time.
    """
    rows: list[list[list[int]]] = [[]]
    before: int | None = None
    for place in np.flatnonzero((cycles.complete == 1) & (cycles.c_rate > 0)):
        follows = before is not None and place == before + 1
        run = rows[-1][-1] if rows[-1] else []
        alike = bool(run) and _alike(cycles.c_rate[place], cycles.c_rate[run[0]], rate_tolerance)
        if follows and alike:
            run.append(int(place))
        elif follows:
            rows[-1].append([int(place)])
        else:
            rows.append([[int(place)]])
        before = int(place)
    found: list[list[RateRun]] = []
    for row in rows:
        for runs in _between_long(row):
            rates = [float(np.median(cycles.c_rate[run])) for run in runs]
            if _distinct(rates, rate_tolerance) >= FEWEST_RATES:
                number = len(found) + 1
                found.append(
                    [RateRun(number, tuple(r), rate) for r, rate in zip(runs, rates, strict=True)]
                )
    return found


def _alike(one: float, other: float, tolerance: float) -> bool:
    """Whether two rates are one."""
    return bool(abs(one / other - 1.0) <= tolerance)


def _distinct(rates: list[float], tolerance: float) -> int:
    """How many rates there are."""
    kinds: list[float] = []
    for rate in sorted(rates):
        if not kinds or not _alike(rate, kinds[-1], tolerance):
            kinds.append(rate)
    return len(kinds)


def _between_long(runs: list[list[int]]) -> list[list[list[int]]]:
    """Rows of runs between those that are too long for a test."""
    parts: list[list[list[int]]] = [[]]
    for run in runs:
        if len(run) > LONGEST_RUN:
            parts.append([])
        else:
            parts[-1].append(run)
    return [part for part in parts if part]


def drift_error_mV(*, limit_mV_per_day: float, apart_h: float) -> float:
    """How far a drift of the reference that nobody noticed moves a loss between two cycles.

    Parameters
    ----------
    limit_mV_per_day : float
        Drift from which on it is noticed [mV/d].
    apart_h : float
        Time between the two cycles [h].

    Returns
    -------
    float
        Standard error of the loss of an electrode, of a drift anywhere within the limit: what it
        adds to one electrode it takes from the other [mV].
    """
    return limit_mV_per_day * abs(apart_h) / 24.0 / float(np.sqrt(3.0))


@dataclass(frozen=True)
class Discharge:
    """A discharge from the top of charge, shape (n,) each: charge passed [mAh], potentials [V]."""

    charge_mAh: Floats
    cell_V: Floats
    positive_V: Floats
    negative_V: Floats


@dataclass(frozen=True)
class VoltageLoss:
    """Mean voltage lost against the lowest rate at the same charge from the top.

    Attributes
    ----------
    cell_mV, positive_mV, negative_mV : float
        Loss [mV]; those of both electrodes add to that of the cell.
    positive_share : float
        Share of the positive in the sum of both [1]; NaN where the sum is not above zero.
    from_mAh, to_mAh : float
        Charge from the top between which potentials were compared [mAh].
    """

    cell_mV: float
    positive_mV: float
    negative_mV: float
    positive_share: float
    from_mAh: float
    to_mAh: float


def voltage_loss(slow: Discharge, fast: Discharge) -> VoltageLoss | None:
    """Compare two discharges at the same charge from the top of charge.

    Parameters
    ----------
    slow, fast : Discharge
        At the lowest rate, and at another.

    Returns
    -------
    VoltageLoss or None
        None where less than `LEAST_SHARE` of the slow charge passed, or nothing is known.
    """
    least_mAh = min(slow.charge_mAh[-1], fast.charge_mAh[-1])
    if not least_mAh >= LEAST_SHARE * slow.charge_mAh[-1]:
        return None
    at_mAh = np.linspace(WINDOW[0] * least_mAh, WINDOW[1] * least_mAh, _POINTS)
    lost = {}
    for name, sign in (("cell_V", 1.0), ("positive_V", 1.0), ("negative_V", -1.0)):
        one, other = (
            np.interp(at_mAh, half.charge_mAh, getattr(half, name)) for half in (slow, fast)
        )
        lost[name] = sign * 1000.0 * float(np.mean(one - other))
    both = lost["positive_V"] + lost["negative_V"]
    return VoltageLoss(
        cell_mV=lost["cell_V"],
        positive_mV=lost["positive_V"],
        negative_mV=lost["negative_V"],
        positive_share=lost["positive_V"] / both if both > 0.0 else float("nan"),
        from_mAh=float(at_mAh[0]),
        to_mAh=float(at_mAh[-1]),
    )
