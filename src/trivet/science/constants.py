"""Constants of nature and of lithium, and what a charge is in moles, mass and thickness."""

from __future__ import annotations

from typing import Final

SECONDS_PER_HOUR: Final = 3600.0
HOURS_PER_DAY: Final = 24.0

FARADAY_C_mol: Final = 96485.33212331001
"""Faraday constant [C/mol]: elementary charge times Avogadro constant, exact since 2019."""

GAS_CONSTANT_J_mol_K: Final = 8.31446261815324
"""Molar gas constant [J/(mol K)], exact since 2019."""

LITHIUM_g_mol: Final = 6.94
"""Conventional atomic weight of lithium [g/mol], IUPAC."""

LITHIUM_g_cm3: Final = 0.534
"""Density of lithium at room temperature [g/cm3]."""

COULOMB_PER_mAh: Final = 3.6


def charge_in_micromoles(charge_mAh: float) -> float:
    """Electrons that carry a charge.

    Parameters
    ----------
    charge_mAh : float
        Charge [mAh].

    Returns
    -------
    float
        Amount of electrons [umol].

    References
    ----------
    Faraday's law, n = Q / F.
    """
    return charge_mAh * COULOMB_PER_mAh / FARADAY_C_mol * 1e6


def lithium_mass_mg(charge_mAh: float) -> float:
    """Lithium that a charge plates at one electron an atom.

    Parameters
    ----------
    charge_mAh : float
        Charge [mAh].

    Returns
    -------
    float
        Mass [mg].

    References
    ----------
    Faraday's law, m = Q M / F.
    """
    return charge_in_micromoles(charge_mAh) * LITHIUM_g_mol * 1e-3


def lithium_thickness_um(charge_mAh: float, *, area_cm2: float) -> float:
    """Thickness of dense lithium that a charge plates on an area.

    Parameters
    ----------
    charge_mAh : float
        Charge [mAh].
    area_cm2 : float
        Area that is plated, above zero [cm2].

    Returns
    -------
    float
        Thickness [um]; a real deposit is porous and thicker.

    Raises
    ------
    ValueError
        The area is not above zero.

    References
    ----------
    Faraday's law and the density, d = Q M / (F rho A).
    """
    if not area_cm2 > 0:
        raise ValueError(f"the area must be above zero, not {area_cm2} cm2")
    volume_cm3 = lithium_mass_mg(charge_mAh) * 1e-3 / LITHIUM_g_cm3
    return volume_cm3 / area_cm2 * 1e4
