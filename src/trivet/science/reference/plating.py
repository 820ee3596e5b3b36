"""What a plating put on the reference, and how long it should last.

The charge left and the life expected from it are upper bounds: corrosion and water take more
lithium than the measuring channels do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trivet.science.constants import SECONDS_PER_HOUR, lithium_thickness_um
from trivet.science.cycling.integrals import Floats
from trivet.science.reference.trust import TrustSpans

_NONE = float("nan")


@dataclass(frozen=True)
class Deposit:
    """One plating of a reference; NaN where not known. Fields as the columns of `platings`.

    Attributes
    ----------
    time_h : float
        When [h].
    charge_mAh, area_cm2 : float
        Charge that was passed, and the surface that it plated [mAh, cm2].
    charge_per_area_mAh_cm2, thickness_um : float
        Charge on the surface [mAh/cm2], and thickness if it were all dense lithium [um].
    usable_mAh, drained_mAh, left_share : float
        Charge times efficiency [mAh], what the channels took until it was lost or replaced
        [mAh], and the share left, an upper bound [1].
    expected_life_h : float
        Usable charge over the mean drain, an upper bound [h].
    observed_life_h : float
        From plating to loss; to the next plating or the last row where it was not lost [h].
    lost : int
        1 where the loss was seen.
    implied_drain_nA : float
        Of a lost one: the current that would have used up its lithium in that life, which the
        channels, corrosion and water share [nA].
    """

    time_h: float
    charge_mAh: float
    area_cm2: float
    charge_per_area_mAh_cm2: float
    thickness_um: float
    usable_mAh: float
    drained_mAh: float
    left_share: float
    expected_life_h: float
    observed_life_h: float
    lost: int
    implied_drain_nA: float = _NONE


def wire_area_cm2(*, disc_diameter_mm: float, wire_width_um: float, wire_pitch_um: float) -> float:
    """Surface of the wires of a woven mesh disc, both sets of wires.

    Parameters
    ----------
    disc_diameter_mm, wire_width_um, wire_pitch_um : float
        Diameter of the disc [mm], diameter of the wire and distance of neighbours [um].

    Returns
    -------
    float
        Surface [cm2]: 2 pi w / p for each cm2 of disc; what wires cover of each other is left in.
    """
    disc_cm2 = np.pi / 4.0 * (disc_diameter_mm / 10.0) ** 2
    return float(disc_cm2 * 2.0 * np.pi * wire_width_um / wire_pitch_um)


def drained_mAh(
    time_s: Floats, potentials_V: tuple[Floats, ...], *, resistance_ohm: float
) -> Floats:
    """Charge that the measuring channels have taken from the reference since the first row.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time from the plating on [s].
    potentials_V : tuple of ndarray, shape (n,)
        Potentials that were measured against the reference [V].
    resistance_ohm : float
        Input resistance of each channel [ohm].

    Returns
    -------
    ndarray, shape (n,)
        Charge [mAh].

    References
    ----------
    Ohm's law, integrated by the trapezoidal rule; a missing potential drains nothing.
    """
    drain_mA = sum((np.nan_to_num(np.maximum(part, 0.0)) for part in potentials_V), 0.0 * time_s)
    drain_mA = drain_mA / resistance_ohm * 1000.0
    each = 0.5 * (drain_mA[1:] + drain_mA[:-1]) * np.diff(time_s) / SECONDS_PER_HOUR
    return np.concatenate([[0.0], np.cumsum(each)])


def observed_life(trust: TrustSpans, *, plated_h: float, stop_h: float) -> tuple[float, bool]:
    """How long a plating held, by the timeline of trust.

    Parameters
    ----------
    trust : TrustSpans
        Trust of the reference.
    plated_h, stop_h : float
        Plating; next plating or last row [h].

    Returns
    -------
    life_h : float
        To the begin of `lost`, or to the stop [h].
    lost : bool
        Whether the loss was seen.
    """
    # A span that runs on from the plating before begins, for this one, when it was plated.
    gone = [
        max(float(start), plated_h)
        for start, end, state in zip(trust.starts_h, trust.ends_h, trust.states, strict=True)
        if state == "lost" and end > plated_h and start < stop_h
    ]
    return (min(gone) - plated_h, True) if gone else (max(stop_h - plated_h, 0.0), False)


def deposit(
    time_s: Floats,
    potentials_V: tuple[Floats, ...],
    trust: TrustSpans,
    *,
    plated_h: float,
    stop_h: float,
    charge_mAh: float,
    efficiency: float,
    area_cm2: float,
    resistance_ohm: float,
) -> Deposit:
    """Work out one plating.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Record [s].
    potentials_V : tuple of ndarray, shape (n,)
        Potentials that were measured against the reference [V].
    trust : TrustSpans
        Trust of the reference.
    plated_h, stop_h : float
        Plating; next plating or last row [h].
    charge_mAh, efficiency, area_cm2, resistance_ohm : float
        Charge passed [mAh], usable share [1], plated surface [cm2], channel [ohm]; NaN where not
        known.

    Returns
    -------
    Deposit
    """
    hours = time_s / SECONDS_PER_HOUR
    life_h, lost = observed_life(trust, plated_h=plated_h, stop_h=stop_h)
    # What a lost reference reads is not what drains its lithium.
    rows = (hours >= plated_h) & (hours <= plated_h + life_h)
    usable = charge_mAh * efficiency
    taken = drained_mAh(
        time_s[rows], tuple(part[rows] for part in potentials_V), resistance_ohm=resistance_ohm
    )
    drained = float(taken[-1]) if rows.sum() > 1 and potentials_V else _NONE
    seen_h = float(np.ptp(hours[rows])) if rows.any() else 0.0
    drain_mA = drained / seen_h if seen_h > 0 else _NONE
    known_area = area_cm2 > 0
    return Deposit(
        time_h=plated_h,
        charge_mAh=charge_mAh,
        area_cm2=area_cm2,
        charge_per_area_mAh_cm2=charge_mAh / area_cm2 if known_area else _NONE,
        thickness_um=lithium_thickness_um(charge_mAh, area_cm2=area_cm2) if known_area else _NONE,
        usable_mAh=usable,
        drained_mAh=drained,
        left_share=max(1.0 - drained / usable, 0.0) if usable > 0 and drained >= 0 else _NONE,
        expected_life_h=usable / drain_mA if drain_mA > 0 else _NONE,
        observed_life_h=life_h,
        lost=int(lost),
        implied_drain_nA=usable / life_h * 1e6 if lost and life_h > 0 else _NONE,
    )
