"""Numbers of one cycle from its charges and energies: efficiencies, mean voltage, rate, kind."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from trivet.science.cycling.integrals import Booleans, Floats, Integers

Kind = Literal["formation", "ageing", "check-up", "rate test", "partial"]


def _ratio(above: Floats, below: Floats) -> Floats:
    """Quotient, NaN where the divisor is zero or missing."""
    above, below = np.asarray(above, dtype=np.float64), np.asarray(below, dtype=np.float64)
    usable = np.isfinite(below) & (below != 0.0)
    return np.where(usable, above / np.where(usable, below, 1.0), np.nan)


def coulombic_efficiency(*, stored_mAh: Floats, given_mAh: Floats) -> Floats:
    """Charge given over the charge stored just before.

    The half-cycle that stores is the divisor, whatever an instrument calls it: the charge of a
    cell, the lithiation of a graphite electrode against lithium, the plating of lithium on copper.

    Parameters
    ----------
    stored_mAh, given_mAh : ndarray or float
        Charge of the storing half-cycle and of the one that followed it, not negative [mAh].

    Returns
    -------
    ndarray or float
        Efficiency, not clipped at 1 [1]; NaN where nothing was stored.

    References
    ----------
    International Electrotechnical Vocabulary, entry 482-05-39.
    """
    return _ratio(given_mAh, stored_mAh)


def energy_efficiency(*, stored_mWh: Floats, given_mWh: Floats) -> Floats:
    """Energy given over the energy stored just before.

    Parameters
    ----------
    stored_mWh, given_mWh : ndarray or float
        Energy of the storing half-cycle and of the one that followed it [mWh].

    Returns
    -------
    ndarray or float
        Efficiency [1]; equal to the coulombic efficiency times the ratio of the mean voltages.

    References
    ----------
    International Electrotechnical Vocabulary, entry 482-05-53.
    """
    return _ratio(given_mWh, stored_mWh)


def mean_voltage_V(*, energy_mWh: Floats, charge_mAh: Floats) -> Floats:
    """Charge-weighted mean: the voltage that makes energy equal voltage times charge.

    Parameters
    ----------
    energy_mWh, charge_mAh : ndarray or float
        Energy and charge of the same rows [mWh, mAh].

    Returns
    -------
    ndarray or float
        Mean voltage, or mean potential of an electrode [V].
    """
    return _ratio(energy_mWh, charge_mAh)


def c_rate(current_mA: Floats, *, capacity_basis_mAh: float) -> Floats:
    """Size of a current over the capacity basis.

    Parameters
    ----------
    current_mA : ndarray or float
        Current, of either sign [mA].
    capacity_basis_mAh : float
        Capacity that rates refer to [mAh].

    Returns
    -------
    ndarray or float
        Rate [1/h].
    """
    return np.abs(np.asarray(current_mA, dtype=np.float64)) / capacity_basis_mAh


def kind_of_cycle(
    rate_per_h: Floats,
    complete: Booleans,
    *,
    ageing_rate: float,
    check_up_rate: float,
    rate_tolerance: float,
) -> NDArray[np.object_]:
    """Tell formation, ageing, check-up, rate test and partial cycles apart by their rate.

    A cycle that is not complete is `partial`. A cycle at the ageing rate is `ageing`. A cycle at
    the check-up rate is `formation` before the first ageing cycle and `check-up` after it. Any
    other is a `rate test`. Where both rates fit, the relatively nearer one counts.

    Parameters
    ----------
    rate_per_h : ndarray, shape (m,)
        Rate of the discharge of each cycle in order of time [1/h].
    complete : ndarray of bool, shape (m,)
        Whether both half-cycles ran to their end.
    ageing_rate, check_up_rate : float
        The two rates of the protocol [1/h].
    rate_tolerance : float
        Largest relative deviation, itself allowed [1].

    Returns
    -------
    ndarray of str, shape (m,)
    """
    # A hair above the limit absorbs rounding in the quotient of two decimal numbers.
    tolerance = rate_tolerance * (1.0 + 1e-9)
    off_ageing = np.abs(rate_per_h / ageing_rate - 1.0)
    off_check_up = np.abs(rate_per_h / check_up_rate - 1.0)
    ageing = complete & (off_ageing <= tolerance) & (off_ageing <= off_check_up)
    slow = complete & (off_check_up <= tolerance) & ~ageing
    before = np.cumsum(ageing) == 0
    kinds = np.full(rate_per_h.size, "partial", dtype=object)
    kinds[complete] = "rate test"
    kinds[slow & before] = "formation"
    kinds[slow & ~before] = "check-up"
    kinds[ageing] = "ageing"
    return kinds


def retention(discharge_mAh: Floats, kinds: NDArray[np.object_]) -> Floats:
    """Discharge capacity over that of the first ageing cycle, for ageing cycles only.

    Parameters
    ----------
    discharge_mAh : ndarray, shape (m,)
        Discharge capacity of each cycle in order of time [mAh].
    kinds : ndarray of str, shape (m,)
        Kind of each cycle.

    Returns
    -------
    ndarray, shape (m,)
        Retention [1]; NaN for cycles of another kind, which another rate makes incomparable.
    """
    ageing = kinds == "ageing"
    if not ageing.any():
        return np.full(discharge_mAh.size, np.nan)
    reference = np.full(discharge_mAh.size, discharge_mAh[int(np.argmax(ageing))])
    return np.where(ageing, _ratio(discharge_mAh, reference), np.nan)


def endpoint_slippage_mAh(
    charge_capacity_mAh: Floats, discharge_capacity_mAh: Floats
) -> tuple[Floats, Floats]:
    """How far the ends of charge and discharge move on the axis of net charge, cycle by cycle.

    Parameters
    ----------
    charge_capacity_mAh, discharge_capacity_mAh : ndarray, shape (m,)
        Capacities of cycles that follow each other [mAh].

    Returns
    -------
    of_charge_mAh, of_discharge_mAh : ndarray, shape (m - 1,)
        Slippage from one cycle to the next [mAh]; discharge less charge is the fade.
    """
    # The ends differ by what passed between them, so that a cycle without a number spoils only
    # itself and its neighbour.
    of_charge = charge_capacity_mAh[1:] - discharge_capacity_mAh[:-1]
    return of_charge, charge_capacity_mAh[1:] - discharge_capacity_mAh[1:]


def inefficiency_per_h(efficiency: Floats, *, duration_h: Floats) -> Floats:
    """Coulombic inefficiency per hour, which makes cycles of different rates comparable.

    Parameters
    ----------
    efficiency : ndarray or float
        Coulombic efficiency [1].
    duration_h : ndarray or float
        Duration of the cycle [h].

    Returns
    -------
    ndarray or float
        (1 - efficiency) / duration [1/h].
    """
    return _ratio(1.0 - np.asarray(efficiency), duration_h)


def constant_voltage_start(
    current_mA: Floats, cell_V: Floats, *, upper_voltage_V: float, constant_voltage_band_V: float
) -> int:
    """Row of one charge at which the voltage is held and the current begins to fall.

    The end of the charge must lie within the band. Going back from the first row whose current is
    more than 1 % below the constant current (common practice, no source), the fall begins where
    the current stops rising backwards.

    Parameters
    ----------
    current_mA : ndarray, shape (n,)
        Current of the rows of one charge [mA].
    cell_V : ndarray, shape (n,)
        Cell voltage [V].
    upper_voltage_V : float
        Voltage that is held [V].
    constant_voltage_band_V : float
        Largest distance from it, itself inside [V].

    Returns
    -------
    int
        Index of the row; n - 1 where no voltage was held.
    """
    last = current_mA.size - 1
    away = np.flatnonzero(~(np.abs(cell_V - upper_voltage_V) <= constant_voltage_band_V))
    entry = int(away[-1]) + 1 if away.size else 0
    if entry > last:
        return last
    constant_mA = np.nanmedian(current_mA[:entry]) if entry else current_mA[0]
    fallen = np.flatnonzero(current_mA[entry:] < 0.99 * constant_mA)
    if not fallen.size:
        return last
    first: int = entry + int(fallen[0])
    holds: Integers = np.flatnonzero(~(np.diff(current_mA[entry : first + 1]) < 0.0))
    return entry + (int(holds[-1]) + 1 if holds.size else 0)
