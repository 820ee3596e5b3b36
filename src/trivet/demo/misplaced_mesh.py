"""What a mesh off the middle of the cell reads.

The negative is wider than the positive, so its rim faces no positive. Where the mesh lies over
that rim, the electrolyte is joined to the middle of the cell by the separator, sideways, and to
the negative by its interface: a line of resistance along and interface across. Far along the line
the electrolyte takes the potential of the negative, the sooner the smaller the interface, so at
high frequency first. That part of the mesh reads its end. Left out: the same effect on potentials
under direct current, and what the mesh itself blocks.

References
----------
The line is that of a fin: the potential at its end is that at its root over cosh(length/decay),
decay squared = conductivity x thickness x interface impedance (from memory; own derivation). The
effect itself: M. Ender, A. Weber, E. Ivers-Tiffee, J. Electrochem. Soc. 159 (2012) A128.
"""

from __future__ import annotations

import math

import numpy as np

MESH_RADIUS_MM = 2.0
POSITIVE_RADIUS_MM = 6.0
NEGATIVE_RADIUS_MM = 6.5
"""As in the build sheet: discs of 4, 12 and 13 mm."""
SEPARATORS_CM = 0.052
CONDUCTIVITY_S_PER_CM = 0.00625
"""Two glass fibre separators of 260 um; 10 mS/cm over 1.6 of their paths (typical, from memory)."""


def share_beyond_rim(offset_mm: float) -> float:
    """Share of the area of the mesh that lies outside the positive [1].

    Parameters
    ----------
    offset_mm : float
        Distance of the middle of the mesh from the middle of the cell [mm].

    References
    ----------
    Area common to two circles (plane geometry).
    """
    small, large = MESH_RADIUS_MM, POSITIVE_RADIUS_MM
    if offset_mm <= large - small:
        return 0.0
    if offset_mm >= large + small:
        return 1.0
    first = (offset_mm**2 + small**2 - large**2) / (2.0 * offset_mm)
    second = offset_mm - first
    lens = small**2 * math.acos(first / small) - first * math.sqrt(small**2 - first**2)
    lens += large**2 * math.acos(second / large) - second * math.sqrt(large**2 - second**2)
    return 1.0 - lens / (math.pi * small**2)


def misread_ohm(
    negative_ohm: np.ndarray, *, interface_ohm: np.ndarray, offset_mm: float
) -> np.ndarray:
    """What the positive seems to have more, and the negative less, than it has.

    Parameters
    ----------
    negative_ohm : ndarray of complex, shape (n_points,)
        Impedance of the negative against the middle of the cell [ohm].
    interface_ohm : ndarray of complex, shape (n_points,)
        Its interface, without electrolyte, contact and lead [ohm].
    offset_mm : float
        Distance of the middle of the mesh from the middle of the cell [mm].

    Returns
    -------
    ndarray of complex, shape (n_points,)
        Impedance [ohm]; their sum, the cell, is untouched.
    """
    area_cm2 = math.pi * (POSITIVE_RADIUS_MM / 10.0) ** 2
    length_cm = (NEGATIVE_RADIUS_MM - POSITIVE_RADIUS_MM) / 10.0
    decay_squared = CONDUCTIVITY_S_PER_CM * SEPARATORS_CM * interface_ohm * area_cm2
    taken = 1.0 - 1.0 / np.cosh(length_cm / np.sqrt(decay_squared))
    return np.asarray(share_beyond_rim(offset_mm) * negative_ohm * taken)
