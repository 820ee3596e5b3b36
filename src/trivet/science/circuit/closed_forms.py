"""Impedance of circuit elements in closed form, to make spectra with: `series`, `parallel`.

Fits take elements and their slopes from `trivet.science.circuit.elements`.

Convention: Z = Z' + jZ'', a capacitive arc has Z'' < 0. With w = 2 pi f, the constant phase
element is Z = 1/(Q (jw)^n), Q in S s^n; another definition in use, 1/(Q jw)^n, has another Q.
Every function takes frequencies of any shape and gives complex impedances of the same shape.

References
----------
Definitions as in the handbooks, e.g. M. E. Orazem, B. Tribollet, Electrochemical Impedance
Spectroscopy, 2nd ed., Wiley 2017 (from memory, pages not checked).
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import ArrayLike

from trivet.science.circuit.model import Complex, laplace


def series(*impedances_ohm: Complex) -> Complex:
    """Impedance of elements one after the other: the sum [ohm]."""
    return reduce(np.add, impedances_ohm)


def parallel(*impedances_ohm: Complex) -> Complex:
    """Impedance of elements side by side: one over the sum of admittances [ohm]."""
    return np.asarray(1 / reduce(np.add, [1 / one for one in impedances_ohm]), dtype=np.complex128)


def resistor(frequency_Hz: ArrayLike, *, resistance_ohm: float) -> Complex:
    """Impedance R of a resistor [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    resistance_ohm : float
        R [ohm].
    """
    return np.full(np.shape(laplace(frequency_Hz)), resistance_ohm, dtype=np.complex128)


def capacitor(frequency_Hz: ArrayLike, *, capacitance_F: float) -> Complex:
    """Impedance 1/(jwC) of a capacitor [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    capacitance_F : float
        C [F].
    """
    return 1 / (laplace(frequency_Hz) * capacitance_F)


def inductor(frequency_Hz: ArrayLike, *, inductance_H: float) -> Complex:
    """Impedance jwL of an inductor [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    inductance_H : float
        L [H].
    """
    return laplace(frequency_Hz) * inductance_H


def constant_phase(frequency_Hz: ArrayLike, *, admittance_S_s_n: float, exponent: float) -> Complex:
    """Impedance 1/(Q (jw)^n) of a constant phase element [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    admittance_S_s_n : float
        Q [S s^n].
    exponent : float
        n; 1 is a capacitor [1].
    """
    return 1 / (admittance_S_s_n * laplace(frequency_Hz) ** exponent)


def zarc(
    frequency_Hz: ArrayLike, *, resistance_ohm: float, time_constant_s: float, exponent: float
) -> Complex:
    """Impedance R/(1 + (jw tau)^n) of a depressed arc [ohm].

    It equals a resistor beside a constant phase element of Q = tau^n/R.

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    resistance_ohm : float
        Width R of the arc [ohm].
    time_constant_s : float
        tau; the arc peaks at f = 1/(2 pi tau) [s].
    exponent : float
        n; 1 is a half circle [1].
    """
    return resistance_ohm / (1 + (laplace(frequency_Hz) * time_constant_s) ** exponent)


def warburg(frequency_Hz: ArrayLike, *, coefficient_ohm_per_root_s: float) -> Complex:
    """Impedance sigma (1 - j)/sqrt(w) of semi-infinite diffusion [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    coefficient_ohm_per_root_s : float
        sigma [ohm s^-1/2].
    """
    angular = laplace(frequency_Hz).imag
    return coefficient_ohm_per_root_s * (1 - 1j) / np.sqrt(angular)


def warburg_open(
    frequency_Hz: ArrayLike, *, resistance_ohm: float, time_constant_s: float
) -> Complex:
    """Impedance R coth(s)/s, s = sqrt(jw tau), of diffusion against a closed wall [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    resistance_ohm : float
        R; the real part tends to R/3 at low frequency [ohm].
    time_constant_s : float
        tau, length squared over diffusivity [s].
    """
    root = np.sqrt(laplace(frequency_Hz) * time_constant_s)
    return np.asarray(resistance_ohm / (np.tanh(root) * root), dtype=np.complex128)


def warburg_short(
    frequency_Hz: ArrayLike,
    *,
    resistance_ohm: float,
    time_constant_s: float,
    exponent: float = 0.5,
) -> Complex:
    """Impedance R tanh(s)/s, s = (jw tau)^p, of diffusion to a reservoir [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    resistance_ohm : float
        R, reached at low frequency [ohm].
    time_constant_s : float
        tau, length squared over diffusivity [s].
    exponent : float
        p; 0.5 is plain diffusion [1].
    """
    root = (laplace(frequency_Hz) * time_constant_s) ** exponent
    return np.asarray(resistance_ohm * np.tanh(root) / root, dtype=np.complex128)


def gerischer(frequency_Hz: ArrayLike, *, resistance_ohm: float, time_constant_s: float) -> Complex:
    """Impedance R/sqrt(1 + jw tau) of diffusion with a reaction on the way [ohm].

    Parameters
    ----------
    frequency_Hz : array_like
        Frequencies [Hz].
    resistance_ohm : float
        R, reached at low frequency [ohm].
    time_constant_s : float
        tau of the reaction [s].
    """
    root = np.sqrt(1 + laplace(frequency_Hz) * time_constant_s)
    return np.asarray(resistance_ohm / root, dtype=np.complex128)


def porous_line(surface_ohm: Complex, *, ionic_resistance_ohm: float) -> Complex:
    """Impedance sqrt(Rion Zs) coth(sqrt(Rion/Zs)) of a porous electrode, one rail [ohm].

    Parameters
    ----------
    surface_ohm : numpy.ndarray
        Impedance Zs of the whole inner surface, at the frequencies wanted [ohm].
    ionic_resistance_ohm : float
        Rion, resistance of the electrolyte in the pores [ohm].

    References
    ----------
    Transmission line as in N. Ogihara et al., J. Electrochem. Soc. 159 (2012) A1034.
    """
    surface = np.asarray(surface_ohm, dtype=np.complex128)
    return np.asarray(
        np.sqrt(ionic_resistance_ohm * surface) / np.tanh(np.sqrt(ionic_resistance_ohm / surface)),
        dtype=complex,
    )
