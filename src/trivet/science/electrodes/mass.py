"""Mass and area of an electrode with their uncertainties, and what is counted per gram or area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from trivet.science.cycling.integrals import Floats

Number = TypeVar("Number", float, Floats)


@dataclass(frozen=True)
class Measured:
    """A value with its standard uncertainty, in one unit.

    Attributes
    ----------
    value : float
        NaN where not known.
    uncertainty : float
        NaN where not known.
    """

    value: float
    uncertainty: float


def coating_mass_mg(*, disc: Measured, foil: Measured) -> Measured:
    """Mass of a coating as the mass of the disc less that of its foil.

    Parameters
    ----------
    disc, foil : Measured
        Masses of the coated disc and of a bare one [mg].

    Returns
    -------
    Measured
        Mass [mg]; the two uncertainties are independent and add in squares.
    """
    return Measured(disc.value - foil.value, float(np.hypot(disc.uncertainty, foil.uncertainty)))


def active_mass_mg(coating: Measured, *, active_fraction: float) -> Measured:
    """Mass of the active material of a coating.

    Parameters
    ----------
    coating : Measured
        Mass of the coating [mg].
    active_fraction : float
        Share of active material, taken as exact [1].

    Returns
    -------
    Measured
        Mass [mg].
    """
    return Measured(coating.value * active_fraction, coating.uncertainty * active_fraction)


def disc_area_cm2(diameter: Measured) -> Measured:
    """Area of a punched disc.

    Parameters
    ----------
    diameter : Measured
        Diameter [mm].

    Returns
    -------
    Measured
        Area [cm2]; its relative uncertainty is twice that of the diameter.
    """
    area = np.pi / 4.0 * (diameter.value / 10.0) ** 2
    relative = 2.0 * diameter.uncertainty / diameter.value
    return Measured(float(area), float(area * relative))


def per_unit(quantity: Number, divisor: Measured) -> tuple[Number, Number]:
    """Quantity per mass or area, and the uncertainty that the divisor gives it.

    Parameters
    ----------
    quantity : float or ndarray
        What is counted, in its unit.
    divisor : Measured
        Mass or area, in its unit.

    Returns
    -------
    value, uncertainty : float or ndarray
        Quotient and its standard uncertainty from the divisor alone; NaN where not known.

    References
    ----------
    Guide to the expression of uncertainty in measurement, equation 12.
    """
    value = quantity / divisor.value
    return value, abs(value) * (divisor.uncertainty / divisor.value)


def capacity_ratio(
    *, negative_mAh_cm2: float, positive_mAh_cm2: float, area_ratio: float = 1.0
) -> float:
    """Capacity of the negative over that of the positive.

    Parameters
    ----------
    negative_mAh_cm2, positive_mAh_cm2 : float
        Areal capacities [mAh/cm2].
    area_ratio : float
        Area of the negative over that of the positive for whole discs; 1 for facing areas [1].

    Returns
    -------
    float
        Ratio [1].
    """
    return negative_mAh_cm2 / positive_mAh_cm2 * area_ratio
