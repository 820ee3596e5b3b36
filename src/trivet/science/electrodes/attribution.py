"""What took the capacity: lost lithium, lost material of each electrode, grown resistance.

The joint fit of `registration` says how far the curves of a check-up are shifted and stretched
against those of the first one. Each change alone is put on the first curves, and the charge that
then passes between the campaign's limits is compared with what passed at first: so much capacity
would be lost if only this had happened. Terms need not add up to the loss, since losses act
together; the remainder says by how much.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trivet.science.electrodes.registration import Curve, CycleCurves, Registration, capacity_mAh

Floats = NDArray[np.float64]

TERMS = ("inventory", "positive", "negative", "resistance")
"""What capacity is attributed to, in order; the rest is `remainder`."""
EDGE_SHARE = 0.01
"""Share of a curve at either end over which its slope is taken, to go on beyond it."""
GRID = 2001
"""Points at which the voltage is looked at; the end is found between two of them."""
REACH = 0.3
"""How far beyond the curves of the first check-up an end may lie, of its capacity [1]."""


@dataclass(frozen=True)
class Change:
    """What happened to a cell since its first check-up.

    Attributes
    ----------
    inventory_mAh : float
        Lithium lost beside that in lost material [mAh].
    positive_active, negative_active : float
        Active share left of each electrode [1].
    resistance_mV : float
        Polarisation grown by both electrodes together, at the rate of the curves [mV].
    """

    inventory_mAh: float = 0.0
    positive_active: float = 1.0
    negative_active: float = 1.0
    resistance_mV: float = 0.0


@dataclass(frozen=True)
class Attribution:
    """Capacity lost since the first check-up, shared out.

    Attributes
    ----------
    lost_mAh : float
        Loss that was seen [mAh].
    terms_mAh, errors_mAh : dict of str to float
        Loss by each of `TERMS` alone, with its standard error [mAh]; NaN where not estimable.
    remainder_mAh : float
        The loss less all terms that could be estimated [mAh]: what acts together, and what could
        not be estimated.
    change : Change
        The changes that the terms were computed from, NaN where not estimable.
    change_errors : dict of str to float
        Their standard errors, by the names of `Change`.
    inventory_at_most_mAh : float
        Lithium lost if all lost material had been full at the end that holds its lithium [mAh].
    missing : tuple of str
        Terms that could not be estimated.
    """

    lost_mAh: float
    terms_mAh: Mapping[str, float]
    errors_mAh: Mapping[str, float]
    remainder_mAh: float
    change: Change
    change_errors: Mapping[str, float]
    inventory_at_most_mAh: float
    missing: tuple[str, ...]


def attribute(
    base: CycleCurves, registration: Registration, *, lost_mAh: float, held: bool
) -> Attribution:
    """Share out the capacity that a check-up has lost.

    Parameters
    ----------
    base : CycleCurves
        The first check-up.
    registration : Registration
        The later one registered on it.
    lost_mAh : float
        Capacity of the first less that of the later [mAh].
    held : bool
        Whether charges end with a hold at constant voltage: resistance then costs nothing there.

    References
    ----------
    Counterfactuals from shifted and stretched half-cell curves are common practice in electrode
    diagnostics; that terms are not additive, and why, in Dubarry, Truchot & Liaw (2012), J. Power
    Sources 219, 204 (from memory).
    """
    change, errors = changes(registration)
    single = {
        "inventory": replace(Change(), inventory_mAh=change.inventory_mAh),
        "positive": replace(Change(), positive_active=change.positive_active),
        "negative": replace(Change(), negative_active=change.negative_active),
        "resistance": replace(Change(), resistance_mV=change.resistance_mV),
    }
    names = ("inventory_mAh", "positive_active", "negative_active", "resistance_mV")
    terms, term_errors = {}, {}
    for (term, alone), name in zip(single.items(), names, strict=True):
        terms[term] = lost_by(base, alone, held=held)
        term_errors[term] = _error(base, alone, name, errors[name], held=held)
    known = [value for value in terms.values() if np.isfinite(value)]
    content = capacity_mAh(base)
    material = (1.0 - change.positive_active) + (1.0 - change.negative_active)
    return Attribution(
        lost_mAh=lost_mAh,
        terms_mAh=terms,
        errors_mAh=term_errors,
        remainder_mAh=lost_mAh - sum(known),
        change=change,
        change_errors=errors,
        inventory_at_most_mAh=change.inventory_mAh + max(material, 0.0) * content,
        missing=tuple(term for term, value in terms.items() if not np.isfinite(value)),
    )


def changes(registration: Registration) -> tuple[Change, dict[str, float]]:
    """What a registration says of lithium, material and resistance, with standard errors.

    The shift of the positive less that of the negative is the lithium lost; it is the mean of
    charge and discharge, or of the one that could be estimated.
    """
    shifts = [
        {f"positive_shift_{way}_mAh": 1.0, f"negative_shift_{way}_mAh": -1.0}
        for way in ("charge", "discharge")
    ]
    usable = [pair for pair in shifts if all(np.isfinite(registration.values[n]) for n in pair)]
    inventory = inventory_error = float("nan")
    if usable:
        weights = {name: sign / len(usable) for pair in usable for name, sign in pair.items()}
        inventory, inventory_error = registration.combined(weights)
    grown, grown_error = registration.combined(
        {"positive_polarisation_mV": 1.0, "negative_polarisation_mV": 1.0}
    )
    change = Change(
        inventory_mAh=inventory,
        positive_active=registration.values["positive_active"],
        negative_active=registration.values["negative_active"],
        resistance_mV=grown,
    )
    return change, {
        "inventory_mAh": inventory_error,
        "positive_active": registration.errors["positive_active"],
        "negative_active": registration.errors["negative_active"],
        "resistance_mV": grown_error,
    }


def lost_by(base: CycleCurves, change: Change, *, held: bool) -> float:
    """Capacity that a change alone would cost [mAh]; NaN where it is not known.

    Parameters
    ----------
    base : CycleCurves
        The first check-up.
    change : Change
        What is put on its curves.
    held : bool
        As for `attribute`.
    """
    return left_mAh(base, Change(), held=held) - left_mAh(base, change, held=held)


def left_mAh(base: CycleCurves, change: Change, *, held: bool) -> float:
    """Discharge capacity of the first curves after a change, between the same limits [mAh].

    The discharge ends at the voltage where the first one did. Where it begins the charge has ended:
    at the voltage where the first charge did, on the curves of the charge, which are steep there
    where those of the discharge may lie on a plateau already; or after a hold at that voltage,
    which resistance does not shorten, where the first discharge began. So no limit need be known.
    Beyond their ends curves go on along the slope of their last hundredth.
    """
    if not all(np.isfinite(value) for value in vars(change).values()):
        return float("nan")
    capacity = capacity_mAh(base)
    charge = np.linspace(-REACH * capacity, (1.0 + REACH) * capacity, GRID)
    down = base.positive_discharge, base.negative_discharge
    up = down if held else (base.positive_charge, base.negative_charge)
    grown_V = change.resistance_mV / 1000.0
    first = _crossing(
        charge, _changed(up, charge, change), _voltage(up, 0.0) - (0.0 if held else grown_V)
    )
    last = _crossing(charge, _changed(down, charge, change), _voltage(down, capacity) + grown_V)
    return last - first


def _voltage(curves: tuple[Curve, Curve], charge: float) -> float:
    """Voltage of a positive against a negative at a charge [V]."""
    positive, negative = curves
    return float(_at(positive, charge) - _at(negative, charge))


def _changed(curves: tuple[Curve, Curve], charge: Floats, change: Change) -> Floats:
    """Voltage of a positive against a negative after a change, but for its resistance [V]."""
    positive, negative = curves
    moved = (charge - change.inventory_mAh) / change.positive_active
    return _at(positive, moved) - _at(negative, charge / change.negative_active)


def _at(curve: Curve, charge: Floats | float) -> Floats:
    """Potential of a curve, along the slope of its ends beyond them [V]."""
    order = np.argsort(curve.charge_mAh, kind="stable")
    x, y = curve.charge_mAh[order], curve.potential_V[order]
    inside = np.interp(charge, x, y)
    edge = EDGE_SHARE * (x[-1] - x[0])
    low = (np.interp(x[0] + edge, x, y) - y[0]) / edge
    high = (y[-1] - np.interp(x[-1] - edge, x, y)) / edge
    below, above = np.minimum(charge - x[0], 0.0), np.maximum(charge - x[-1], 0.0)
    return np.asarray(inside + low * below + high * above)


def _crossing(charge: Floats, voltage: Floats, level_V: float) -> float:
    """Charge at which a falling voltage first goes below a level [mAh]; NaN where it never does.

    A plateau that is level to the noise is crossed at its first row below.
    """
    below = voltage < level_V
    if below.all() or not below.any():
        return float("nan")
    # the last change from above to below, seen from the end that is surely below
    at = int(np.flatnonzero(~below)[-1])
    if at == voltage.size - 1:
        return float("nan")
    fall = voltage[at] - voltage[at + 1]
    return float(charge[at] + (voltage[at] - level_V) / fall * (charge[at + 1] - charge[at]))


def _error(base: CycleCurves, alone: Change, name: str, error: float, *, held: bool) -> float:
    """Standard error of a term: the loss at one error to either side, halved."""
    if not np.isfinite(error):
        return float("nan")
    value = getattr(alone, name)
    ends = [
        lost_by(base, replace(alone, **{name: value + side * error}), held=held)
        for side in (-1.0, 1.0)
    ]
    return abs(ends[1] - ends[0]) / 2.0
